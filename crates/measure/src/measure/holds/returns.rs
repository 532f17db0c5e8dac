//! Returns: where the control ends up after it was away from rest, time after time.

use crate::figure::{Evidence, Figure, Law, Shrink};
use crate::measure::holds::hold::{self, Hold};
use crate::measure::holds::releases::{self, EndLevels, Release};
use crate::measure::recording::Recording;
use crate::measure::statistics::interval::{Budget, coverage_factor, sd_interval};
use crate::measure::statistics::moments::{real, sd, variance};
use crate::measure::statistics::quantise;
use crate::units::{Code, Step};
use std::ops::Range;

/// Fewest returns that make a scatter.
const FEWEST_RETURNS: usize = 3;

/// A hold at the rest end.
#[derive(Debug, Clone, PartialEq)]
pub struct RestHold {
    /// What it says.
    pub hold: Hold,
    /// Whether it is the settled tail of a release rather than a passage of its own.
    pub tail: bool,
    /// Whether the control had been away from rest between the hold before and this one: three samples beyond half
    /// the travel. A tail that its release passage begins with counts when it is all there is in that passage.
    pub returned: bool,
}

impl RestHold {
    /// A rest passage; whether it came after a return is not known yet.
    fn passage(hold: Hold) -> Self {
        Self {
            hold,
            tail: false,
            returned: false,
        }
    }
}

/// Every hold of one channel.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Holds {
    /// At the rest end: rest passages and settled tails, in order of time.
    pub rest: Vec<RestHold>,
    /// At the full end.
    pub full: Vec<Hold>,
    /// Presses held in release passages before the control was let go.
    pub pressed: Vec<Hold>,
    /// The returns seen in release passages.
    pub returns: Vec<Release>,
    /// The levels that releases were found by, when there was a span to find them in.
    pub ends: Option<EndLevels>,
}

impl Holds {
    /// Rest holds for the level: all of them.
    #[must_use]
    pub fn rest(&self) -> Vec<&Hold> {
        self.rest.iter().map(|rest| &rest.hold).collect()
    }

    /// Full holds.
    #[must_use]
    pub fn full(&self) -> Vec<&Hold> {
        self.full.iter().collect()
    }

    /// Other visits of the full end: presses held in release passages.
    #[must_use]
    pub fn pressed(&self) -> Vec<&Hold> {
        self.pressed.iter().collect()
    }

    /// Rest holds for noise: the rest passages, or the tails where there are none. A tail may still creep, which is
    /// no noise.
    #[must_use]
    pub fn quiet_rest(&self) -> Vec<&Hold> {
        let of = |tail| {
            let matching = self.rest.iter().filter(move |rest| rest.tail == tail);
            matching.map(|rest| &rest.hold).collect::<Vec<_>>()
        };
        let passages = of(false);
        if passages.is_empty() {
            of(true)
        } else {
            passages
        }
    }

    /// The holds that returns ended in. A first rest hold before any movement is not one of them: nobody knows how
    /// the control came to be there.
    #[must_use]
    pub fn returned(&self) -> Vec<&Hold> {
        let matching = self.rest.iter().filter(|rest| rest.returned);
        matching.map(|rest| &rest.hold).collect()
    }
}

/// Finds and measures every hold of one channel.
pub fn collect(recording: &Recording<'_>, codes: &[Code]) -> Holds {
    let (t_us, scale) = (recording.t_us, recording.board.scale);
    let ends = releases::ends(recording, codes);
    let of_step = |step, seen_from: Option<EndLevels>, least| -> Vec<Hold> {
        hold::passages_of(recording.passages, step)
            .filter_map(|range| still(recording, codes, range, seen_from, least))
            .collect()
    };
    // What slips at rest sticks, and is seen in its noise; a press that comes in two goes is the hand's.
    let rest = of_step(Step::Rest, ends, OTHER_END);
    let full = of_step(Step::Full, ends.map(EndLevels::swapped), PRESSED_HOME);
    let (mut returns, mut pressed) = (Vec::new(), Vec::new());
    let mut ordered: Vec<RestHold> = rest.into_iter().map(RestHold::passage).collect();
    for range in hold::passages_of(recording.passages, Step::Release) {
        let found = ends.map_or_else(Vec::new, |ends| releases::find(t_us, codes, range, ends));
        for seen in &found {
            let hold = hold::measure(t_us, codes, seen.tail.clone(), scale);
            ordered.extend(hold.map(|hold| RestHold {
                hold,
                tail: true,
                returned: seen.pressed || found.len() == 1,
            }));
        }
        let presses = found.iter().filter_map(|seen| seen.press.clone());
        pressed.extend(presses.filter_map(|press| hold::measure(t_us, codes, press, scale)));
        returns.extend(found);
    }
    ordered.sort_by_key(|rest| rest.hold.range.start);
    let mut before = 0;
    for rest in &mut ordered {
        let between = before..rest.hold.range.start;
        before = rest.hold.range.end;
        rest.returned |= ends.is_some_and(|ends| ends.departed(t_us, codes, between));
    }
    Holds {
        rest: ordered,
        full,
        pressed,
        returns,
        ends,
    }
}

/// Share of the travel from an end beyond which a passage contains a movement from the other end.
const OTHER_END: f64 = 0.5;
/// The same beyond which the full end was not yet reached. Our own choice: what gives way under a foot gives less.
const PRESSED_HOME: f64 = 0.05;

/// A passage as a hold: all its samples, unless the control was further than a share of the travel from its end for a while. Then the
/// passage was recorded by time and contains the movement, and only its settled part is a hold. One that never settled is none, if it came
/// from the other end.
fn still(
    recording: &Recording<'_>,
    codes: &[Code],
    passage: &Range<usize>,
    seen_from: Option<EndLevels>,
    share: f64,
) -> Option<Hold> {
    let (t_us, scale) = (recording.t_us, recording.board.scale);
    let whole = || hold::measure(t_us, codes, passage.clone(), scale);
    let Some(ends) = seen_from.filter(|ends| ends.beyond(share, t_us, codes, passage.clone()))
    else {
        return whole();
    };
    let settled = releases::settled(t_us, codes, passage.clone(), ends)
        .and_then(|part| hold::measure(t_us, codes, part, scale))
        .map(|hold| Hold {
            trimmed: true,
            ..hold
        });
    if ends.departed(t_us, codes, passage.clone()) {
        settled
    } else {
        settled.or_else(whole)
    }
}

/// `return_scatter`: standard deviation of the means of the holds that returns ended in. `None` below three.
///
/// What noise is left in the means is in it. Interval: chi-square with `m - 1` degrees of freedom; where noise does
/// not dither the rounding, what rounding could hide is added.
pub fn scatter(returned: &[&Hold]) -> Option<Figure> {
    if returned.len() < FEWEST_RETURNS {
        return None;
    }
    let means: Vec<f64> = returned.iter().map(|hold| hold.mean).collect();
    let (value, dof) = (sd(&means), real(means.len()) - 1.0);
    let coarse =
        quantise::mean_error_bound(quantise::least_input_sd(hold::lowest_noise(returned))) > 0.1;
    let ((low, high), words) = if coarse {
        (
            quantise::noise_interval(value, dof),
            "; rounding not dithered, what it could hide is in the interval",
        )
    } else {
        (sd_interval(value, dof), "")
    };
    Some(Figure {
        value,
        u: Some(value / (2.0 * dof).sqrt()),
        low: Some(low),
        high: Some(high),
        n: returned.len() as u64,
        method: format!(
            "sd of the means of {} returns, chi-square{words}",
            returned.len()
        ),
        shrink: Some(Shrink::by(
            Law::Spread,
            Evidence::Returns,
            dof + 1.0,
            hidden_u(value, coarse),
        )),
    })
}

/// What rounding could hide of a scatter, however many returns there were, as a standard uncertainty.
fn hidden_u(value: f64, coarse: bool) -> f64 {
    let (low, high) = quantise::noise_interval(value, 1e9);
    if coarse {
        (high - low) / (2.0 * coverage_factor(f64::INFINITY))
    } else {
        0.0
    }
}

/// Samples of the shorter hold.
fn shortest(holds: &[&Hold]) -> Option<f64> {
    holds.iter().map(|hold| real(hold.n())).reduce(f64::min)
}

/// `return_range`: largest minus smallest mean of the same holds. `None` below three.
///
/// The measurand is the range of the returns in this capture; its uncertainty is that of the two means, and the
/// interval allows for the noise that makes the range of means look wide. How far the
/// next return may go is for `return_scatter` to say.
pub fn range(returned: &[&Hold]) -> Option<Figure> {
    if returned.len() < FEWEST_RETURNS {
        return None;
    }
    let by_mean = |a: &&&Hold, b: &&&Hold| a.mean.total_cmp(&b.mean);
    let (lowest, highest) = (
        returned.iter().min_by(by_mean)?,
        returned.iter().max_by(by_mean)?,
    );
    let ends = [*lowest, *highest];
    let budget = Budget {
        scatter: ends
            .iter()
            .filter_map(|hold| Some((hold.u_mean?, hold.u_dof)))
            .collect(),
        bounds: ends.iter().map(|hold| hold.rounding_bound()).collect(),
    };
    let value = highest.mean - lowest.mean;
    let half = budget.expanded();
    // The range of noisy means is wider than that of what lies under them: by the scatter with over that without noise.
    let noise: f64 = returned
        .iter()
        .filter_map(|hold| hold.u_mean)
        .map(|u| u * u)
        .sum();
    let means: Vec<f64> = returned.iter().map(|hold| hold.mean).collect();
    let share = noise / real(returned.len()) / variance(&means);
    let centre = value * (1.0 - share).max(0.0).sqrt();
    let centre = if centre.is_finite() { centre } else { value };
    Some(Figure {
        value,
        u: Some(budget.standard()),
        low: Some((centre - half).max(0.0)),
        high: Some(value.max(centre + half)),
        n: returned.len() as u64,
        method: format!(
            "largest minus smallest mean of {} returns, of this recording",
            returned.len()
        ),
        shrink: shortest(&ends).map(|n| Shrink::mean(Evidence::Samples, n, budget.floor_u())),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand() {
        let holds = [
            Hold::example(163.0, 2.0),
            Hold::example(164.0, 2.0),
            Hold::example(165.0, 2.0),
        ];
        let refs: Vec<&Hold> = holds.iter().collect();
        let figure = scatter(&refs).unwrap();
        assert!((figure.value - 1.0).abs() < 1e-12);
        // chi-square, 2 degrees: 0.0506 and 7.378 (tables): 0.5207 and 6.285
        assert!((figure.low.unwrap() - 0.5207).abs() < 1e-4);
        assert!((figure.high.unwrap() - 6.285).abs() < 1e-3);
        let figure = range(&refs).unwrap();
        assert!((figure.value - 2.0).abs() < 1e-12);
        assert!((figure.u.unwrap() - 2.0 * (2.0_f64 / 1000.0).sqrt()).abs() < 1e-9);
    }

    #[test]
    fn two_are_too_few_and_equal_ones_may_hide_something() {
        let holds = [
            Hold::example(163.0, 0.0),
            Hold::example(163.0, 0.0),
            Hold::example(163.0, 0.0),
        ];
        let refs: Vec<&Hold> = holds.iter().collect();
        assert!(scatter(&refs[..2]).is_none() && range(&refs[..2]).is_none());
        let figure = scatter(&refs).unwrap();
        assert!(figure.value.abs() < 1e-12 && figure.high.unwrap() >= 0.5);
        assert!(range(&refs).unwrap().high.unwrap() >= 0.5);
    }
}
