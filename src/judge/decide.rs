//! The decision rule of JCGM 106, guarded both ways, in words with numbers.

use super::advice::advise;
use super::board::BoardShare;
use super::risk::probability_outside;
use super::{Finding, Limit, Outcome, Verdict};
use crate::figure::numbers::{fixed, plain, reading};
use crate::figure::{Figure, FigureName};

/// Holds one figure of one channel against its limit.
///
/// `pass` when the whole 95 % interval lies inside the limit, `fail` when it lies wholly outside, otherwise
/// `undecided` (JCGM 106:2012, guarded acceptance and guarded rejection). An interval that touches the limit
/// from inside passes.
#[must_use]
pub fn decide(channel: &str, name: FigureName, limit: Limit, figure: Option<&Figure>) -> Finding {
    decide_on(channel, name, limit, figure, None)
}

/// The same, with the board's part in the figure's noise where it is known: a reason then names the board.
#[must_use]
pub fn decide_on(
    channel: &str,
    name: FigureName,
    limit: Limit,
    figure: Option<&Figure>,
    share: Option<BoardShare>,
) -> Finding {
    let (outcome, mut reason, mut advice) = match figure {
        None => not_measured(name),
        Some(figure) => measured(name, limit, figure),
    };
    if matches!(outcome, Outcome::Fail | Outcome::Undecided)
        && let Some(share) = share.filter(|share| share.dominates())
    {
        reason += &*format!("; {}", share.words());
        advice.get_or_insert_with(|| BoardShare::ADVICE.to_owned());
    }
    Finding {
        channel: channel.to_owned(),
        figure: name,
        min: limit.min(),
        max: limit.max(),
        outcome,
        reason,
        advice,
    }
}

fn not_measured(name: FigureName) -> (Outcome, String, Option<String>) {
    let steps: Vec<&str> = name.steps().iter().map(|step| step.word()).collect();
    let advice = format!("record a step that shows it: {}", steps.join(", "));
    (
        Outcome::NotMeasured,
        "the capture has no evidence for it".to_owned(),
        Some(advice),
    )
}

fn measured(name: FigureName, limit: Limit, figure: &Figure) -> (Outcome, String, Option<String>) {
    let told = told(name, figure);
    match side(limit, figure) {
        Side::Below(min) => (
            Outcome::Fail,
            format!("{told}: all of it is below {}", plain(min)),
            None,
        ),
        Side::Above(max) => (
            Outcome::Fail,
            format!("{told}: all of it is above {}", plain(max)),
            None,
        ),
        Side::Inside => {
            let risk = probability_outside(limit, figure).map_or_else(String::new, |risk| {
                format!("; risk of being outside {} %", percent(risk))
            });
            (
                Outcome::Pass,
                format!("{told}: all of it is inside{risk}"),
                None,
            )
        }
        Side::Across => {
            let chance = probability_outside(limit, figure).map_or_else(String::new, |risk| {
                format!("; the chance that it is outside is {} %", percent(risk))
            });
            (
                Outcome::Undecided,
                format!(
                    "{told}: the limit lies in it{chance}{}",
                    super::board::floor_words(figure)
                ),
                Some(advise(limit, figure).words(name)),
            )
        }
    }
}

/// The value and its interval, with the unit.
fn told(name: FigureName, figure: &Figure) -> String {
    let reading = reading(figure);
    let unit = if name.unit() == "1" {
        String::new()
    } else {
        format!(" {}", name.unit())
    };
    match figure.u {
        None => format!("{}{unit}", reading.value),
        Some(_) => format!(
            "{}{unit}, between {} and {}",
            reading.value, reading.low, reading.high
        ),
    }
}

/// A probability in percent: two digits, never 0 when it is not.
fn percent(p: f64) -> String {
    let percent = p * 100.0;
    if percent < 0.001 {
        "less than 0.001".to_owned()
    } else {
        fixed(percent, if percent < 0.1 { 3 } else { 1 })
    }
}

enum Side {
    Below(f64),
    Above(f64),
    Inside,
    Across,
}

fn side(limit: Limit, figure: &Figure) -> Side {
    let low = figure.low.unwrap_or(f64::NEG_INFINITY);
    let high = figure.high.unwrap_or(f64::INFINITY);
    if let Some(min) = limit.min().filter(|min| high < *min) {
        return Side::Below(min);
    }
    if let Some(max) = limit.max().filter(|max| low > *max) {
        return Side::Above(max);
    }
    let inside =
        limit.min().is_none_or(|min| low >= min) && limit.max().is_none_or(|max| high <= max);
    if inside { Side::Inside } else { Side::Across }
}

/// What comes of an interval, however it was made, against a limit.
#[must_use]
pub fn outcome(limit: Limit, figure: &Figure) -> Outcome {
    match side(limit, figure) {
        Side::Below(_) | Side::Above(_) => Outcome::Fail,
        Side::Inside => Outcome::Pass,
        Side::Across => Outcome::Undecided,
    }
}

/// The verdict over all findings: any `fail` fails, else any open finding leaves it `undecided`.
///
/// No findings at all is `None`: nothing was asked.
#[must_use]
pub fn verdict(findings: &[Finding]) -> Option<Verdict> {
    if findings.is_empty() {
        return None;
    }
    let any = |outcome| findings.iter().any(|finding| finding.outcome == outcome);
    Some(if any(Outcome::Fail) {
        Verdict::Fail
    } else if any(Outcome::Undecided) || any(Outcome::NotMeasured) {
        Verdict::Undecided
    } else {
        Verdict::Pass
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Hand-worked: value 1.0, interval 0.9 .. 1.1, against limits on either side, touching, and across.
    #[test]
    fn the_whole_interval_decides() {
        let figure = Figure::symmetric(1.0, 0.05, 2.0, 10, "");
        let outcome = |min, max| {
            decide(
                "a",
                FigureName::NoiseRestRms,
                Limit::new(min, max).unwrap(),
                Some(&figure),
            )
            .outcome
        };
        assert_eq!(outcome(None, Some(2.0)), Outcome::Pass);
        assert_eq!(
            outcome(None, Some(1.1)),
            Outcome::Pass,
            "touching from inside"
        );
        assert_eq!(outcome(None, Some(1.05)), Outcome::Undecided);
        assert_eq!(
            outcome(None, Some(0.9)),
            Outcome::Undecided,
            "touching from outside"
        );
        assert_eq!(outcome(None, Some(0.89)), Outcome::Fail);
        assert_eq!(outcome(Some(1.11), None), Outcome::Fail);
        assert_eq!(outcome(Some(0.9), Some(1.1)), Outcome::Pass);
        assert_eq!(
            outcome(Some(0.95), Some(1.05)),
            Outcome::Undecided,
            "wider than the limit"
        );
    }

    #[test]
    fn an_open_end_of_the_interval_never_passes_that_side() {
        let figure = Figure {
            value: 1.0,
            u: Some(0.1),
            low: Some(0.9),
            high: None,
            n: 1,
            method: String::new(),
            shrink: None,
        };
        let outcome = |limit| decide("a", FigureName::NoiseRestRms, limit, Some(&figure)).outcome;
        assert_eq!(
            outcome(Limit::new(None, Some(99.0)).unwrap()),
            Outcome::Undecided
        );
        assert_eq!(outcome(Limit::new(Some(0.5), None).unwrap()), Outcome::Pass);
    }

    #[test]
    fn what_was_not_measured_names_the_step() {
        let finding = decide(
            "a",
            FigureName::Hysteresis,
            Limit::new(None, Some(1.0)).unwrap(),
            None,
        );
        assert_eq!(finding.outcome, Outcome::NotMeasured);
        assert!(finding.advice.unwrap().contains("stations"));
    }

    #[test]
    fn reasons_are_sentences_with_numbers() {
        let limit = Limit::new(None, Some(0.0)).unwrap();
        let counted = decide(
            "a",
            FigureName::DropoutsCount,
            limit,
            Some(&Figure::counted(6.0, 8, "")),
        );
        assert_eq!(counted.reason, "6: all of it is above 0");
        let figure = Figure::symmetric(1.304, 0.027, 2.0, 10, "");
        let across = decide(
            "a",
            FigureName::NoiseRestRms,
            Limit::new(None, Some(1.304)).unwrap(),
            Some(&figure),
        );
        assert_eq!(
            across.reason,
            "1.304 code, between 1.250 and 1.358: the limit lies in it; the chance that it is outside is 50.0 %"
        );
    }

    #[test]
    fn the_worst_finding_makes_the_verdict() {
        let finding = |figure: Option<f64>| {
            let figure = figure.map(|value| Figure::symmetric(value, 0.05, 2.0, 10, ""));
            decide(
                "a",
                FigureName::NoiseRestRms,
                Limit::new(None, Some(1.0)).unwrap(),
                figure.as_ref(),
            )
        };
        let (pass, fail, open, none) = (
            finding(Some(0.5)),
            finding(Some(2.0)),
            finding(Some(1.0)),
            finding(None),
        );
        assert_eq!(verdict(&[]), None);
        assert_eq!(verdict(std::slice::from_ref(&pass)), Some(Verdict::Pass));
        assert_eq!(verdict(&[pass.clone(), none]), Some(Verdict::Undecided));
        assert_eq!(
            verdict(&[pass.clone(), open.clone()]),
            Some(Verdict::Undecided)
        );
        assert_eq!(verdict(&[open, fail, pass]), Some(Verdict::Fail));
    }
}
