//! Levels: `rest_code`, `full_code`, their ratios and the span.

use crate::figure::{Evidence, Figure, Law, Shrink};
use crate::measure::holds::hold::{self, Hold, Rail};
use crate::measure::recording::BoardFacts;
use crate::measure::statistics::interval::Budget;
use crate::measure::statistics::moments::{mean, real, sd};
use crate::measure::statistics::quantise;
use crate::units::Scale;

/// A level of the control with what is known of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Level {
    /// Mean over holds of each hold's mean, in codes.
    pub value: f64,
    /// Its uncertainty; `None` when there is one hold of fewer than three samples.
    pub budget: Option<Budget>,
    /// Number of holds.
    pub holds: usize,
    /// How its uncertainty shrinks, in codes.
    pub shrink: Option<Shrink>,
    /// How it was computed.
    pub method: String,
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
    let rounding = rounding_bound(holds, between);
    let mut bounds = Vec::new();
    let mut words = vec![words];
    if rounding > 0.01 {
        bounds.push(rounding);
        words.push(format!(
            "; rounding +/-{rounding:.2} (noise too small to dither it)"
        ));
    }
    if let Some(inl) = board.inl_code.filter(|inl| *inl > 0.0) {
        bounds.push(inl);
        words.push(format!("; board non-linearity +/-{inl}"));
    }
    let trimmed = holds.iter().filter(|hold| hold.trimmed).count();
    if trimmed > 0 {
        words.push(format!(
            "; {trimmed} contained a movement and were cut to their still part"
        ));
    }
    words.push(saturation_words(holds));
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
        holds: m,
        method: words.concat(),
    })
}

/// Rounding left in the mean of the holds, dithered by the least noise of any of them and the scatter between them.
fn rounding_bound(holds: &[&Hold], between: f64) -> f64 {
    quantise::mean_error_bound(quantise::least_input_sd(hold::lowest_noise(holds)).hypot(between))
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

impl Level {
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
            low: Some((value - half).max(0.0)),
            high: Some((value + half).min(top)),
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
        shrink: span_shrink(rest, full, budget.floor_u()),
        ..budget.figure(full.value - rest.value, rest.holds + full.holds, method)
    })
}

/// As the end whose scatter is larger, the other taken to grow with it: a span is measured again at both.
fn span_shrink(rest: &Level, full: &Level, floor_u: f64) -> Option<Shrink> {
    let scatter = |level: &Level| level.budget.as_ref().map_or(0.0, |b| b.scatter[0].0);
    let shrink = if scatter(full) > scatter(rest) {
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
