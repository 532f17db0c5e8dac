//! A rheostat read through its divider: the ratio of pull-up to track from known travel, and how straight the element is
//! once the divider is taken out.
//!
//! A track as a variable resistor to ground under a pull-up reads, as a fraction of the supply, `s / (s + q)`: `s` is the
//! resistance to ground and `q` the pull-up, both over the whole track. With travel `t` from 0 to 1, `s = a + b t`, where
//! `b` is the part of the track that the wiper covers (stated) and `a` what is left at rest. `a` and `q` are fitted by least
//! squares (Gauss-Newton), their uncertainty is that of the linearised model at the solution (JCGM 100 5.1, the covariance of
//! least squares), with Student's t. Residuals that follow each other along the travel count for fewer points: the element's
//! own shape is no noise. A bend of the element that looks like the divider's own is taken for it: the ratio is that of a
//! straight element.

use crate::figure::{Evidence, Figure, FigureName, Figures, Shrink};
use crate::measure::recording::{Channel, Recording};
use crate::measure::statistics::bootstrap::SEED;
use crate::measure::statistics::interval::Budget;
use crate::measure::statistics::least_squares::least_squares;
use crate::measure::statistics::moments::{autocorrelation, real};
use crate::measure::travel::bins::{Visits, visits};
use crate::measure::travel::curve::Curve;
use crate::measure::travel::linearity::{LineKind, largest_deviation};
use crate::units::Track;
use nalgebra::{Matrix2, Vector2};

/// Most steps of the fit; it settles in five or six.
const MOST_STEPS: usize = 50;

/// Largest correlation between neighbours that is taken at its word.
const MOST_FOLLOWING: f64 = 0.9;

/// What is known of a rheostat's wiring. Positions are shares of the whole track, 0 at its ground end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DividerModel {
    /// The track that is wired so.
    pub track: Track,
    /// Where the wiper stands at rest.
    pub rest_position: f64,
    /// Where it stands fully operated.
    pub full_position: f64,
    /// Nominal pull-up over track: told beside the fitted one, not used in the fit.
    pub nominal_ratio: f64,
}

/// A fitted divider.
#[derive(Debug, Clone, PartialEq)]
pub struct DividerFit {
    /// Pull-up over the whole track.
    pub ratio: f64,
    /// Resistance to ground at rest over the whole track: end resistor and part of the track that is never left.
    pub at_rest: f64,
    /// Standard uncertainty of the ratio.
    pub u_ratio: f64,
    /// Its degrees of freedom.
    pub dof: f64,
    /// Largest shift of the ratio by errors of the reading within +-1, in the ratio's unit.
    pub shift_by_one: f64,
    /// Correlation between neighbouring residuals that was counted, 0 or more.
    pub following: f64,
}

/// The resistance to ground over the whole track, of a rheostat that reads `reading` (fraction of the supply): the
/// divider's inverse. `None` at and above full scale.
#[must_use]
pub fn resistance_share(reading: f64, ratio: f64) -> Option<f64> {
    (reading < 1.0).then(|| ratio * reading / (1.0 - reading))
}

/// Fits the divider to readings (fractions of the supply) at travels (0 at rest, 1 at full). `moved` is the share of the
/// track from rest to full, signed. `None` with fewer than three points, readings outside 0 ..< 1, unequal lengths,
/// readings that go the other way, or no solution.
pub fn fit(travel: &[f64], reading: &[f64], moved: f64) -> Option<DividerFit> {
    let n = travel.len();
    let good =
        travel.iter().all(|t| t.is_finite()) && reading.iter().all(|r| (0.0..1.0).contains(r));
    if n < 3 || reading.len() != n || !good || moved == 0.0 || !moved.is_finite() {
        return None;
    }
    // The odds r / (1 - r) = (a + b t) / q are straight over the travel: a start without guessing.
    let odds: Vec<f64> = reading.iter().map(|r| r / (1.0 - r)).collect();
    let line = least_squares(travel, &odds)?.line;
    let mut model = Model {
        ratio: moved / line.slope,
        at_rest: line.at(0.0) * moved / line.slope,
        moved,
    };
    if !(model.ratio > 0.0 && model.ratio.is_finite()) {
        return None;
    }
    let mut squares = model.squares(travel, reading);
    for _ in 0..MOST_STEPS {
        let (mut by_rest, mut by_ratio) = Step::at(&model, travel, reading)?.by();
        let small = by_ratio.abs() <= 1e-13 * model.ratio && by_rest.abs() <= 1e-13;
        // Half the step until it helps; at the solution nothing does.
        let mut tried = 0;
        let better = loop {
            let next = Model {
                ratio: model.ratio + by_ratio,
                at_rest: model.at_rest + by_rest,
                moved,
            };
            let left = next.squares(travel, reading);
            if next.ratio > 0.0 && left < squares {
                break Some((next, left));
            }
            tried += 1;
            if small || tried > 30 {
                break None;
            }
            (by_rest, by_ratio) = (by_rest / 2.0, by_ratio / 2.0);
        };
        match better {
            Some((next, left)) => (model, squares) = (next, left),
            None => break,
        }
    }
    model.judged(travel, reading, squares)
}

/// `s / (s + q)` with `s = a + b t`.
#[derive(Debug, Clone, Copy)]
struct Model {
    ratio: f64,
    at_rest: f64,
    moved: f64,
}

impl Model {
    fn reads(&self, travel: f64) -> f64 {
        let s = self.at_rest + self.moved * travel;
        s / (s + self.ratio)
    }

    /// Change of the reading by `at_rest` and by `ratio`.
    fn slopes(&self, travel: f64) -> Vector2<f64> {
        let s = self.at_rest + self.moved * travel;
        let below = (s + self.ratio).powi(2);
        Vector2::new(self.ratio / below, -s / below)
    }

    fn squares(&self, travel: &[f64], reading: &[f64]) -> f64 {
        let pairs = travel.iter().zip(reading);
        let sum: f64 = pairs.map(|(&t, &r)| (r - self.reads(t)).powi(2)).sum();
        if sum.is_finite() { sum } else { f64::INFINITY }
    }

    fn judged(&self, travel: &[f64], reading: &[f64], squares: f64) -> Option<DividerFit> {
        let n = real(travel.len());
        let residuals: Vec<f64> = travel
            .iter()
            .zip(reading)
            .map(|(&t, &r)| r - self.reads(t))
            .collect();
        let lag1 = autocorrelation(&residuals, 1);
        let following = if lag1.is_finite() {
            lag1.clamp(0.0, MOST_FOLLOWING)
        } else {
            0.0
        };
        let fewer = (1.0 - following) / (1.0 + following);
        let covariance = Step::at(self, travel, reading)?.covariance;
        let variance = covariance[(1, 1)];
        // What one reading's error of 1 moves the ratio by, all of them the same way.
        let shift_by_one = travel
            .iter()
            .map(|&t| (covariance * self.slopes(t))[1].abs())
            .sum();
        Some(DividerFit {
            ratio: self.ratio,
            at_rest: self.at_rest,
            u_ratio: (squares / (n - 2.0) * variance / fewer).sqrt(),
            dof: (n * fewer - 2.0).max(1.0),
            shift_by_one,
            following,
        })
    }
}

/// One step of the fit: the unscaled covariance of resistance at rest and ratio, and the Jacobian's product with the
/// residuals.
struct Step {
    covariance: Matrix2<f64>,
    right: Vector2<f64>,
}

impl Step {
    /// `None` where the two cannot be told apart.
    fn at(model: &Model, travel: &[f64], reading: &[f64]) -> Option<Self> {
        let (mut normal, mut right) = (Matrix2::zeros(), Vector2::zeros());
        for (&t, &r) in travel.iter().zip(reading) {
            let slopes = model.slopes(t);
            normal += slopes * slopes.transpose();
            right += slopes * (r - model.reads(t));
        }
        let clear = normal.determinant() > 1e-14 * normal[(0, 0)] * normal[(1, 1)];
        let covariance = normal.try_inverse().filter(|_| clear)?;
        Some(Self { covariance, right })
    }

    fn by(&self) -> (f64, f64) {
        let by = self.covariance * self.right;
        (by[0], by[1])
    }
}

/// Sets `divider_ratio` and `linearity_element` of a rheostat whose travel is known from end to end: the reference must
/// state both ends, for the share of the track that was covered must be known.
pub(crate) fn divider_part(
    recording: &Recording<'_>,
    channel: &Channel<'_>,
    ends: Option<(f64, f64)>,
    model: &DividerModel,
    figures: &mut Figures,
) -> Option<()> {
    let reference = recording.reference?;
    reference.low.zip(reference.high)?;
    let seen = visits(recording, channel, ends)?;
    let curve = Curve::through(&seen)?;
    let halfway = curve.halfway();
    let codes = f64::from(recording.board.scale.codes());
    let travel: Vec<f64> = halfway.travel.iter().map(|pct| pct / 100.0).collect();
    let reading: Vec<f64> = halfway.value.iter().map(|code| code / codes).collect();
    let moved = model.full_position - model.rest_position;
    let fit = fit(&travel, &reading, moved)?;
    let inl = recording.board.inl_code.unwrap_or(0.0).abs() / codes;
    let ratio = ratio_figure(&fit, inl, travel.len(), model);
    figures.set(FigureName::DividerRatio, ratio);
    let element = element(&seen, &fit, moved, codes).and_then(|visits| straightness(&visits));
    figures.set(FigureName::LinearityElement, element);
    Some(())
}

fn ratio_figure(fit: &DividerFit, inl: f64, positions: usize, model: &DividerModel) -> Figure {
    let budget = Budget {
        scatter: vec![(fit.u_ratio, fit.dof)],
        bounds: vec![inl * fit.shift_by_one],
    };
    let following = if fit.following > 0.0 {
        format!(
            ", neighbours correlated by {:.2} and counted as fewer",
            fit.following
        )
    } else {
        String::new()
    };
    let method = format!(
        "pull-up over track by least squares at {positions} positions, {:.4} of the track to ground at rest; nominal {:.4}; \
             linearised at the solution, Student's t{following}",
        fit.at_rest, model.nominal_ratio
    );
    let figure = budget.figure(fit.ratio, positions, method);
    let shrink = Shrink::mean(Evidence::Stations, real(positions), budget.floor_u());
    Figure {
        low: figure.low.map(|low| low.max(0.0)),
        ..figure.shrinking(shrink)
    }
}

/// The visits as positions of the element, in % of travel, recovered through the divider's inverse.
fn element(seen: &Visits, fit: &DividerFit, moved: f64, codes: f64) -> Option<Visits> {
    let mut visits = seen.clone();
    for visit in &mut visits.in_order {
        let reading = visit.code / codes;
        let share = resistance_share(reading, fit.ratio)?;
        // What one code is worth there.
        let per_code = (100.0 * fit.ratio / (1.0 - reading).powi(2) / moved / codes).abs();
        visit.code = 100.0 * (share - fit.at_rest) / moved;
        visit.se = visit.se.map(|se| se * per_code);
        visit.rounding *= per_code;
    }
    Some(visits)
}

fn straightness(visits: &Visits) -> Option<Figure> {
    let curve = Curve::through(visits)?;
    let halfway = curve.halfway();
    let read = LineKind::Independent
        .line(&halfway.travel, &halfway.value)?
        .max_error;
    let found = largest_deviation(LineKind::Independent, &halfway, &curve.draws(&halfway))?;
    Some(Figure {
        value: found.value,
        u: Some(found.u),
        low: Some(found.low.max(0.0)),
        high: Some(found.high),
        n: curve.visits as u64,
        method: format!(
            "largest deviation of {} recovered positions from the minimax line, with the fitted ratio; as read {read:.3} %, \
             noise taken off; interval from seeded draws (seed {SEED})",
            curve.positions()
        ),
        shrink: Some(Shrink::mean(Evidence::Stations, real(curve.visits), 0.0)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, StandardNormal};

    /// 10 kOhm with 150 ohm at its end under 4.7 kOhm: q = 0.47, a = 0.015.
    fn dial(travel: f64) -> f64 {
        let ohm = 150.0 + 10_000.0 * travel;
        ohm / (ohm + 4_700.0)
    }

    fn twenty_one() -> Vec<f64> {
        (0..=20).map(|k| f64::from(k) / 20.0).collect()
    }

    #[test]
    fn an_exact_divider_is_found_exactly() {
        let travel = twenty_one();
        let reading: Vec<f64> = travel.iter().map(|t| dial(*t)).collect();
        let found = fit(&travel, &reading, 1.0).unwrap();
        assert!((found.ratio - 0.47).abs() < 1e-10, "{found:?}");
        assert!((found.at_rest - 0.015).abs() < 1e-10, "{found:?}");
        assert!(found.u_ratio < 1e-10, "{found:?}");
        // The same control worked the other way round, and over half of its track only.
        let back: Vec<f64> = travel.iter().map(|t| dial(1.0 - t)).collect();
        assert!((fit(&travel, &back, -1.0).unwrap().ratio - 0.47).abs() < 1e-10);
        let half: Vec<f64> = travel.iter().map(|t| dial(0.2 + 0.5 * t)).collect();
        let found = fit(&travel, &half, 0.5).unwrap();
        assert!((found.ratio - 0.47).abs() < 1e-9 && (found.at_rest - 0.215).abs() < 1e-9);
    }

    #[test]
    fn the_inverse_gives_the_resistance_back() {
        // By hand: 4.7 kOhm over 4.7 kOhm reads one half.
        assert!((resistance_share(0.5, 0.47).unwrap() - 0.47).abs() < 1e-15);
        assert!((resistance_share(0.0, 0.47).unwrap()).abs() < 1e-15);
        assert!(
            resistance_share(1.0, 0.47).is_none() && resistance_share(f64::NAN, 0.47).is_none()
        );
    }

    #[test]
    fn what_cannot_be_fitted() {
        let travel = [0.0, 0.5, 1.0];
        assert!(fit(&[], &[], 1.0).is_none() && fit(&travel[..2], &[0.1, 0.5], 1.0).is_none());
        assert!(fit(&travel, &[0.1, 0.5], 1.0).is_none(), "unequal lengths");
        assert!(
            fit(&travel, &[0.1, 0.5, 1.0], 1.0).is_none(),
            "at full scale"
        );
        assert!(fit(&travel, &[0.1, f64::NAN, 0.6], 1.0).is_none());
        assert!(
            fit(&travel, &[0.6, 0.5, 0.1], 1.0).is_none(),
            "the other way"
        );
        assert!(fit(&travel, &[0.5; 3], 1.0).is_none(), "constant");
        assert!(
            fit(&travel, &[0.1, 0.4, 0.6], 0.0).is_none(),
            "nothing moved"
        );
        assert!(
            fit(&[0.5; 3], &[0.1, 0.4, 0.6], 1.0).is_none(),
            "one position"
        );
    }

    /// White noise of half a code of ten bits on 21 stations: the interval covers in 92 to 98 % of 1000 draws.
    #[test]
    fn the_interval_covers() {
        let travel = twenty_one();
        let mut random = ChaCha8Rng::seed_from_u64(407);
        let mut covered = 0;
        for _ in 0..1000 {
            let noise = |random: &mut ChaCha8Rng| -> f64 { StandardNormal.sample(random) };
            let reading: Vec<f64> = travel
                .iter()
                .map(|t| (dial(*t) + noise(&mut random) * 0.5 / 1024.0).max(0.0))
                .collect();
            let found = fit(&travel, &reading, 1.0).unwrap();
            let k = crate::measure::statistics::interval::coverage_factor(found.dof);
            covered += u32::from((found.ratio - 0.47).abs() <= k * found.u_ratio);
        }
        assert!((920..=980).contains(&covered), "{covered} of 1000");
    }

    /// Worked by finite differences of the model itself: the uncertainty is the linearised one.
    #[test]
    fn the_uncertainty_is_that_of_the_linearised_model() {
        let travel = twenty_one();
        let exact: Vec<f64> = travel.iter().map(|t| dial(*t)).collect();
        let at = fit(&travel, &exact, 1.0).unwrap();
        let shifted = |k: usize| {
            let mut reading = exact.clone();
            reading[k] += 1e-6;
            (fit(&travel, &reading, 1.0).unwrap().ratio - at.ratio) / 1e-6
        };
        let weights: Vec<f64> = (0..travel.len()).map(shifted).collect();
        let sum: f64 = weights.iter().map(|w| w.abs()).sum();
        assert!((sum / at.shift_by_one - 1.0).abs() < 1e-3, "{sum} {at:?}");
    }
}
