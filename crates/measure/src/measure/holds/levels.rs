//! Levels: `rest_code`, `full_code`, their ratios and the span.

use crate::figure::numbers::plain;
use crate::figure::{Evidence, Figure, Law, Shrink};
use crate::measure::holds::hold::{self, Hold, Rail};
use crate::measure::recording::BoardFacts;
use crate::measure::statistics::interval::Budget;
use crate::measure::statistics::moments::{mean, real, sd};
use crate::measure::statistics::quantise;
use crate::units::Scale;
use crate::units::maths;

/// A level of the control with what is known of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Level {
    /// Mean over holds of each hold's mean, in codes.
    pub value: f64,
    /// Its uncertainty; `None` when there is one hold of fewer than three samples.
    pub budget: Option<Budget>,
    /// Ends of the interval where the budget does not give them: it was still moving.
    pub open: Option<(f64, f64)>,
    /// Number of holds.
    pub holds: usize,
    /// How its uncertainty shrinks, in codes.
    pub shrink: Option<Shrink>,
    /// How it was computed.
    pub method: String,
}

/// What is allowed between two visits of an end whose scatter was not seen, as a share of span: half width of a rectangle.
/// Common practice, no source; more than good springs and end stops show.
const ALLOWANCE: f64 = 0.01;

/// Codes a second, as a share of span, above which a hold at the full end has not settled. A creep of 2 % of span with a time
/// constant of 1 s is below it after 2.3 s, with 0.2 % still to go. Own choice.
const SETTLED_RATE: f64 = 0.002;

/// What a level's holds have beside them.
#[derive(Debug, Clone, Copy)]
pub struct Visits<'a> {
    /// What its evidence is counted in.
    pub evidence: Evidence,
    /// Other visits of the same end, whose scatter tells how the holds scatter.
    pub others: &'a [&'a Hold],
    /// The span of the part in codes, as far as it is known.
    pub span: Option<f64>,
}

/// The level at which a part stands, time after time. `None` when there are no holds.
///
/// A part does not go to the same place each time, and one hold, however long, says nothing of that: with one hold and no
/// other visits [`ALLOWANCE`] stands for the scatter (JCGM 100, 4.3.7); with three visits or more their scatter stands for it,
/// with its degrees of freedom. Holds at the full end that still move do not count where others stand still.
pub fn of_part(holds: &[&Hold], board: &BoardFacts, visits: Visits<'_>) -> Option<Level> {
    let span = visits.span.unwrap_or(f64::from(board.scale.codes())).abs();
    let moves = |hold: &Hold| hold.moves(SETTLED_RATE * span);
    let presses = visits.evidence == Evidence::Presses;
    let (moving, still): (Vec<&Hold>, Vec<&Hold>) = holds
        .iter()
        .partition(|hold| presses && moves(hold).is_some());
    if still.is_empty() && !moving.is_empty() {
        return Some(unsettled(&moving, board, visits.evidence));
    }
    let others: Vec<f64> = visits
        .others
        .iter()
        .filter(|hold| !(presses && moves(hold).is_some()))
        .map(|hold| hold.mean)
        .collect();
    let mut level = level(&still, board)?;
    if level.holds == 1 {
        let words = if others.len() >= FEWEST_OTHERS {
            level.scattering_as(&[&others[..], &[level.value]].concat(), visits.evidence)
        } else {
            level.allowing(ALLOWANCE * span, visits.evidence)
        };
        level.method += &*words;
    } else if let Some(shrink) = level.shrink.as_mut() {
        shrink.evidence = visits.evidence;
    }
    if !moving.is_empty() {
        level.method += &*format!("; {} more had not settled yet", moving.len());
    }
    if !presses {
        let moved = still.iter().filter_map(|hold| moves(hold));
        level.wandering(&moved.collect::<Vec<_>>());
    }
    Some(level)
}

/// The level of holds that all still move: known to be where they came to, or beyond.
fn unsettled(holds: &[&Hold], board: &BoardFacts, evidence: Evidence) -> Level {
    let upward = holds.iter().map(|hold| hold.slope).sum::<f64>() > 0.0;
    let came_to = |hold: &&Hold| hold.mean + hold.slope * hold.lasted_s / 2.0;
    let ends = holds.iter().map(came_to);
    let bound = if upward {
        (
            ends.fold(f64::INFINITY, f64::min),
            board.scale.max_code().as_f64(),
        )
    } else {
        (0.0, ends.fold(f64::NEG_INFINITY, f64::max))
    };
    let means: Vec<f64> = holds.iter().map(|hold| hold.mean).collect();
    let value = mean(&means);
    // The way that it still went while it was held, as what is not known of where it ends.
    let moved = holds.iter().map(|hold| (hold.slope * hold.lasted_s).abs());
    let bounds = vec![moved.fold(0.0, f64::max)];
    Level {
        value,
        budget: Some(Budget {
            scatter: Vec::new(),
            bounds,
        }),
        open: Some((bound.0.min(value), bound.1.max(value))),
        holds: holds.len(),
        shrink: Some(Shrink::by(Law::Moving, evidence, real(holds.len()), 0.0)),
        method: format!(
            "mean of {} holds that had not settled yet: where it ends lies beyond",
            holds.len()
        ),
    }
}

/// The level of some holds. `None` when there are none.
///
/// With one hold the measurand is that hold's own mean, and its uncertainty is that within the hold: the noise over the
/// effective number of independent samples. With two or more the measurand is where the control goes on average,
/// and the scatter between holds, which contains that within them, stands alone with its `m - 1` degrees of
/// freedom: pooling the two would cover too little when the scatter happens to look small. Rounding is added
/// where the noise does not dither it, the board's stated non-linearity always (JCGM 100, 4.2.3, 4.3.7, G.4).
pub fn level(holds: &[&Hold], board: &BoardFacts) -> Option<Level> {
    if holds.is_empty() {
        return None;
    }
    let means: Vec<f64> = holds.iter().map(|hold| hold.mean).collect();
    let samples: usize = holds.iter().map(|hold| hold.n()).sum();
    let m = holds.len();
    let (scatter, between, words) = if m == 1 {
        let hold = holds[0];
        let words = hold
            .effective_n()
            .map_or_else(String::new, |n| format!(", {n:.0} of them independent"));
        let part = hold.u_mean.map(|u| (u, hold.u_dof));
        (
            part,
            0.0,
            format!("mean of one hold of {samples} samples{words}"),
        )
    } else {
        let between = sd(&means);
        let part = Some((between / real(m).sqrt(), real(m) - 1.0));
        let words = format!(
            "mean of the means of {m} holds ({samples} samples), scatter between holds {between:.2}"
        );
        // Of two holds the scatter is too badly known to count as dither.
        (part, if m > 2 { between } else { 0.0 }, words)
    };
    let mut words = vec![words];
    let bounds = bounds(holds, between, board, &mut words);
    let budget = scatter.map(|part| Budget {
        scatter: vec![part],
        bounds,
    });
    Some(Level {
        value: mean(&means),
        shrink: budget.as_ref().map(|budget| match holds {
            [_] => Shrink::by(
                Law::Mean {
                    dof: budget.scatter[0].1,
                },
                Evidence::Seconds,
                real(samples) / board.rate_hz,
                budget.floor_u(),
            ),
            _ => Shrink::pieces(Evidence::Holds, m, budget.floor_u()),
        }),
        budget,
        open: None,
        holds: m,
        method: words.concat(),
    })
}

/// What no scatter tells: rounding and the board's non-linearity; each with a word, and words of what else the holds are.
fn bounds(holds: &[&Hold], between: f64, board: &BoardFacts, words: &mut Vec<String>) -> Vec<f64> {
    let rounding = rounding_bound(holds, between);
    let mut bounds = Vec::new();
    if rounding > 0.01 {
        bounds.push(rounding);
        words.push(format!(
            "; rounding +/-{rounding:.2} (noise too small to dither it)"
        ));
    }
    if let Some(inl) = board.inl_code.filter(|inl| *inl > 0.0) {
        bounds.push(inl);
        words.push(format!("; board non-linearity +/-{}", plain(inl)));
    } else if !board.inl_stated {
        words.push(
            "; the board's non-linearity is not stated and not in it (--inl-codes states it)"
                .to_owned(),
        );
    }
    let trimmed = holds.iter().filter(|hold| hold.trimmed).count();
    if trimmed > 0 {
        words.push(format!(
            "; {trimmed} contained a movement and were cut to their still part"
        ));
    }
    words.push(saturation_words(holds));
    bounds
}

/// Rounding left in the mean of the holds, dithered by the least noise of any of them and the scatter between them.
fn rounding_bound(holds: &[&Hold], between: f64) -> f64 {
    quantise::mean_error_bound(maths::hypot(
        quantise::least_input_sd(hold::lowest_noise(holds)),
        between,
    ))
}

/// What to say of holds that sit at an end of the scale; empty when none does.
pub fn saturation_words(holds: &[&Hold]) -> String {
    let at = |rail| {
        holds
            .iter()
            .filter(|hold| hold.saturated == Some(rail))
            .count()
    };
    let (low, high) = (at(Rail::Low), at(Rail::High));
    match (low, high) {
        (0, 0) => String::new(),
        (low, 0) => format!(
            "; saturated: {low} of {} holds at code 0, the signal may lie below",
            holds.len()
        ),
        (0, high) => format!(
            "; saturated: {high} of {} holds at the largest code, the signal may lie above",
            holds.len()
        ),
        _ => "; saturated at both ends of the scale".to_owned(),
    }
}

/// Fewest other visits whose scatter stands for that of a hold: with it they make three.
const FEWEST_OTHERS: usize = 2;

impl Level {
    /// Takes the scatter of these visits, itself among them, for that of its one hold. Gives words for it.
    fn scattering_as(&mut self, visits: &[f64], evidence: Evidence) -> String {
        let (n, between) = (visits.len(), sd(visits));
        let bounds = self.budget.take().map(|budget| budget.bounds);
        let budget = Budget {
            scatter: vec![(between, real(n) - 1.0)],
            bounds: bounds.unwrap_or_default(),
        };
        let law = Law::Mean { dof: real(n) - 1.0 };
        self.shrink = Some(Shrink::by(law, evidence, 1.0, budget.floor_u()));
        self.budget = Some(budget);
        format!("; scatter of {n} visits of this end {between:.2}")
    }

    /// Allows so many codes between one visit and the next, for want of anything that tells. Gives words for it.
    fn allowing(&mut self, bound: f64, evidence: Evidence) -> String {
        if let Some(budget) = self.budget.as_mut() {
            let floor_u = budget.floor_u();
            budget.bounds.push(bound);
            self.shrink = Some(Shrink::by(Law::First, evidence, 1.0, floor_u));
        }
        format!("; one hold: +/-{bound:.1} allowed between one and the next")
    }

    /// Allows for holds that moved by so many codes while they lasted: the level is somewhere on their way.
    fn wandering(&mut self, moved: &[f64]) {
        let most = moved
            .iter()
            .fold(0.0_f64, |most, codes| most.max(codes.abs()));
        let Some(budget) = self.budget.as_mut().filter(|_| most > 0.0) else {
            return;
        };
        budget.bounds.push(most / 2.0);
        let floor_u = budget.floor_u();
        self.shrink = self.shrink.map(|shrink| Shrink { floor_u, ..shrink });
        self.method += &*format!(
            "; {} moved by up to {most:.1} codes while they were held",
            moved.len()
        );
    }

    /// What of its uncertainty stays, in codes.
    fn floor_u(&self) -> f64 {
        self.shrink.map_or(0.0, |shrink| shrink.floor_u)
    }

    /// The level in codes. The interval stays on the scale: the measurand is what the board reads.
    pub fn code(&self, scale: Scale) -> Figure {
        self.figure(1.0, scale.max_code().as_f64())
    }

    /// The level as a fraction of the reference: code / 2^bits.
    pub fn ratio(&self, scale: Scale) -> Figure {
        let codes = f64::from(scale.codes());
        self.figure(codes.recip(), scale.max_code().as_f64() / codes)
    }

    fn figure(&self, factor: f64, top: f64) -> Figure {
        let value = self.value * factor;
        let budget = self.budget.as_ref().map(|budget| budget.scaled(factor));
        let half = budget.as_ref().map_or(top, Budget::expanded);
        Figure {
            value,
            u: budget.map(|budget| budget.standard()),
            low: Some(
                self.open
                    .map_or(value - half, |open| open.0 * factor)
                    .max(0.0),
            ),
            high: Some(
                self.open
                    .map_or(value + half, |open| open.1 * factor)
                    .min(top),
            ),
            n: self.holds as u64,
            method: self.method.clone(),
            shrink: self.shrink.map(|shrink| Shrink {
                floor_u: shrink.floor_u * factor,
                ..shrink
            }),
        }
    }
}

/// `span_code`: full minus rest, signed. `None` when either's uncertainty is not known.
pub fn span(rest: &Level, full: &Level) -> Option<Figure> {
    let budget = rest.budget.as_ref()?.plus(full.budget.as_ref()?);
    let method = format!(
        "full minus rest; {} full and {} rest holds, Welch-Satterthwaite",
        full.holds, rest.holds
    );
    Some(Figure {
        shrink: span_shrink(rest, full, maths::hypot(rest.floor_u(), full.floor_u())),
        ..budget.figure(full.value - rest.value, rest.holds + full.holds, method)
    })
}

/// As the end whose scatter is larger, the other taken to grow with it: a span is measured again at both.
fn span_shrink(rest: &Level, full: &Level, floor_u: f64) -> Option<Shrink> {
    let own = |level: &Level| {
        let budget = level.budget.as_ref();
        budget.map_or(0.0, |b| {
            (b.standard().powi(2) - level.floor_u().powi(2)).max(0.0)
        })
    };
    let shrink = if own(full) > own(rest) {
        full.shrink
    } else {
        rest.shrink
    };
    shrink.map(|shrink| Shrink { floor_u, ..shrink })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn board(inl_code: Option<f64>) -> BoardFacts {
        BoardFacts {
            inl_code,
            ..BoardFacts::new(Scale::new(10, 5000.0).unwrap(), 1000.0)
        }
    }

    #[test]
    fn one_hold_by_hand() {
        let hold = Hold::example(164.0, 2.0);
        let level = level(&[&hold], &board(None)).unwrap();
        let figure = level.code(board(None).scale);
        // 2 / sqrt(1000) = 0.0632; t(30, 97.5 %) = 2.0423: +/- 0.1292
        assert!((figure.u.unwrap() - 0.063_246).abs() < 1e-6);
        assert!((figure.high.unwrap() - 164.129_2).abs() < 1e-4);
        // Common practice, no source: 164 of 1024 is 0.8 V of 5 V.
        let ratio = level.ratio(board(None).scale);
        assert!((ratio.value - 0.160_156_25).abs() < 1e-12);
        assert!((ratio.u.unwrap() - 0.063_246 / 1024.0).abs() < 1e-9);
    }

    #[test]
    fn three_holds_by_hand() {
        let holds = [
            Hold::example(163.0, 2.0),
            Hold::example(164.0, 2.0),
            Hold::example(165.0, 2.0),
        ];
        let refs: Vec<&Hold> = holds.iter().collect();
        let figure = level(&refs, &board(None)).unwrap().code(board(None).scale);
        // sd 1, over sqrt 3 = 0.5774; t(2, 97.5 %) = 4.3027: +/- 2.4841
        assert!((figure.value - 164.0).abs() < 1e-12);
        assert!((figure.u.unwrap() - 0.577_350).abs() < 1e-6);
        assert!((figure.low.unwrap() - 161.515_9).abs() < 1e-4);
    }

    #[test]
    fn constant_codes_keep_half_a_code_and_the_stated_non_linearity() {
        let still = Hold::example(164.0, 0.0);
        let figure = level(&[&still], &board(None))
            .unwrap()
            .code(board(None).scale);
        assert!((figure.u.unwrap() - quantise::ROUNDING_RMS).abs() < 1e-12);
        assert!((figure.high.unwrap() - 164.475).abs() < 1e-9);
        let figure = level(&[&still], &board(Some(1.0)))
            .unwrap()
            .code(board(None).scale);
        // sqrt(1/12 + 1/3) = 0.6455
        assert!((figure.u.unwrap() - 0.645_497).abs() < 1e-6);
        assert!(figure.method.contains("non-linearity"));
    }

    #[test]
    fn a_rest_that_creeps_is_somewhere_on_its_way() {
        // Three holds of a second that each rise by 54 of 980 codes: rest is known to 27 codes, as a rectangle.
        let creeping = Hold {
            slope: 54.0,
            ..Hold::example(41.0, 0.5)
        };
        let still = Hold::example(41.0, 0.5);
        let of = |hold: &Hold| {
            let visits = Visits {
                evidence: Evidence::Holds,
                others: &[],
                span: Some(980.0),
            };
            let level = of_part(&[hold, hold, hold], &board(None), visits).unwrap();
            level.code(board(None).scale)
        };
        let figure = of(&creeping);
        assert!(
            (figure.u.unwrap() - 27.0 / 3.0_f64.sqrt()).abs() < 0.1,
            "{figure:?}"
        );
        assert!(
            figure.method.contains("3 moved by up to 53.9 codes"),
            "{}",
            figure.method
        );
        assert!(of(&still).u.unwrap() < 0.3 && !of(&still).method.contains("moved"));
    }

    #[test]
    fn span_is_signed() {
        let (rest, full) = (Hold::example(900.0, 1.0), Hold::example(100.0, 1.0));
        let (rest, full) = (
            level(&[&rest], &board(None)).unwrap(),
            level(&[&full], &board(None)).unwrap(),
        );
        let figure = span(&rest, &full).unwrap();
        assert!((figure.value + 800.0).abs() < 1e-12);
        // root two of one: 1/sqrt(1000) x sqrt 2
        assert!((figure.u.unwrap() - 0.044_721).abs() < 1e-6);
    }

    #[test]
    fn none_and_too_little_and_saturated() {
        assert!(level(&[], &board(None)).is_none());
        let mut two = Hold::example(164.0, 0.0);
        (two.range, two.noise, two.u_mean) = (0..2, None, None);
        let level_of_two = level(&[&two], &board(None)).unwrap();
        assert!(span(&level_of_two, &level_of_two).is_none());
        let figure = level_of_two.code(board(None).scale);
        assert_eq!(
            (figure.u, figure.low, figure.high),
            (None, Some(0.0), Some(1023.0))
        );
        let mut at_zero = Hold::example(0.0, 0.0);
        at_zero.saturated = Some(Rail::Low);
        let figure = level(&[&at_zero], &board(None))
            .unwrap()
            .code(board(None).scale);
        assert!(figure.low.unwrap().abs() < 1e-12 && figure.method.contains("saturated"));
    }
}
