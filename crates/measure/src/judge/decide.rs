//! The decision rule of JCGM 106, guarded both ways, in words with numbers.

use super::advice::advise;
use super::board::BoardShare;
use super::conformance::{Side, outcome, side};
use super::risk::probability_outside;
use super::sequential::Look;
use super::{Finding, Limit, Outcome, Verdict};
use crate::figure::numbers::{fixed, plain, reading, two_digits};
use crate::figure::{Figure, FigureName, Steps};

/// Holds one figure of one channel against its limit.
///
/// `pass` when the whole 95 % interval lies inside the limit, `fail` when it lies wholly outside, otherwise
/// `undecided` (JCGM 106:2012, guarded acceptance and guarded rejection). An interval that touches the limit
/// from inside passes.
#[must_use]
pub fn decide(channel: &str, name: FigureName, limit: Limit, figure: Option<&Figure>) -> Finding {
    decide_on(channel, name, limit, figure, Conditions::default())
}

/// Under which conditions a figure is held against its limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conditions {
    /// One look of several, whose interval is wider and named in the reason ([`Look::widened`]).
    pub look: Look,
    /// The board's part in the figure's noise, where it is known: a reason then names the board.
    pub share: Option<BoardShare>,
    /// The largest code of the board: no level lies above.
    pub top_code: f64,
    /// How far such boards usually read off a straight line, in the figure's unit, where nobody stated it of this one: a figure
    /// whose verdict that could turn stays undecided.
    pub unstated_inl: Option<f64>,
}

impl Default for Conditions {
    /// The only look, a board of which nothing is known.
    fn default() -> Self {
        Self {
            look: Look::ONLY,
            share: None,
            top_code: f64::INFINITY,
            unstated_inl: None,
        }
    }
}

/// The same under stated conditions.
#[must_use]
pub fn decide_on(
    channel: &str,
    name: FigureName,
    limit: Limit,
    figure: Option<&Figure>,
    conditions: Conditions,
) -> Finding {
    let Conditions {
        look,
        share,
        top_code,
        unstated_inl,
    } = conditions;
    let (outcome, mut reason, mut advice) = match figure {
        None => not_measured(name),
        Some(figure) => {
            let mut judged = look.widened(figure).possible(name);
            if matches!(name, FigureName::RestCode | FigureName::FullCode) {
                judged.high = judged.high.map(|high| high.min(top_code).max(figure.value));
            }
            let decided = measured(name, limit, figure, &judged, look);
            match unstated_inl {
                Some(inl) if decided.0 != outcome(limit, &reaching(&judged, inl, name)) => {
                    not_stated(&describe(name, &judged, look), inl, name)
                }
                _ => decided,
            }
        }
    };
    if matches!(outcome, Outcome::Fail | Outcome::Undecided)
        && let Some(share) = share.filter(|share| share.dominates())
    {
        reason += &*format!("; {}", share.describe());
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

/// An interval that reaches so much further both ways.
fn reaching(figure: &Figure, further: f64, name: FigureName) -> Figure {
    Figure {
        low: figure.low.map(|low| low - further),
        high: figure.high.map(|high| high + further),
        ..figure.clone()
    }
    .possible(name)
}

/// What the board may be off could turn it.
fn not_stated(told: &str, inl: f64, name: FigureName) -> (Outcome, String, Option<String>) {
    let usual = name.unit().behind(&two_digits(inl));
    (
        Outcome::Undecided,
        format!(
            "{told}: too close to the limit as long as nobody says how far this board reads off a straight line (usual for its bits: {usual} either way)"
        ),
        Some(
            "state how far the board reads off a straight line (--inl-codes), or measure that against a meter"
                .to_owned(),
        ),
    )
}

fn not_measured(name: FigureName) -> (Outcome, String, Option<String>) {
    let facts = name.facts();
    let between = match facts.steps {
        Steps::All(_) => " and ",
        Steps::Any(_) => " or ",
    };
    let steps: Vec<&str> = name.steps().iter().map(|step| step.word()).collect();
    let (steps, needs) = (steps.join(between), facts.needs);
    let advice = format!("record {steps}: {needs}{}", facts.words.unseen);
    (
        Outcome::NotMeasured,
        "not measured in this recording".to_owned(),
        Some(advice),
    )
}

fn measured(
    name: FigureName,
    limit: Limit,
    figure: &Figure,
    judged: &Figure,
    look: Look,
) -> (Outcome, String, Option<String>) {
    let told = describe(name, judged, look);
    match side(limit, judged) {
        Side::Below(min) => (
            Outcome::Fail,
            format!("{told}: clearly below the limit of {}", plain(min)),
            None,
        ),
        Side::Above(max) => (
            Outcome::Fail,
            format!("{told}: clearly above the limit of {}", plain(max)),
            None,
        ),
        Side::Inside => {
            let risk = probability_outside(limit, figure).map_or_else(String::new, |risk| {
                format!("; {} % chance of being outside", percent(risk))
            });
            (
                Outcome::Pass,
                format!("{told}: clearly within limits{risk}"),
                None,
            )
        }
        Side::Across => {
            let chance = probability_outside(limit, figure).map_or_else(String::new, |risk| {
                format!(": {} % chance that it is out of limits", percent(risk))
            });
            (
                Outcome::Undecided,
                format!(
                    "{told}: too close to call{chance}{}",
                    super::board::floor_words(figure)
                ),
                Some(advise(limit, judged).describe(name)),
            )
        }
    }
}

/// The value and the interval that is judged, with the unit.
fn describe(name: FigureName, figure: &Figure, look: Look) -> String {
    let reading = reading(figure);
    let value = name.unit().behind(&reading.value);
    match figure.u {
        None => value,
        Some(_) => format!(
            "{value} (certainly between {} and {}{})",
            reading.low,
            reading.high,
            looked(look)
        ),
    }
}

/// Which interval it is, when it is not the usual one.
fn looked(look: Look) -> String {
    if look.planned() == 1 {
        return String::new();
    }
    format!(
        "; early check {} of {}, {} %",
        look.taken(),
        look.planned(),
        fixed(100.0 * look.coverage(), 1)
    )
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
    use crate::figure::{Evidence, Shrink};

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
        for name in FigureName::ALL {
            let advice = decide("a", *name, Limit::new(None, Some(1.0)).unwrap(), None).advice;
            let words = advice.unwrap();
            for step in name.steps() {
                assert!(words.contains(step.word()), "{name}: {words}");
            }
        }
        let span = decide(
            "a",
            FigureName::SpanCode,
            Limit::new(Some(1.0), None).unwrap(),
            None,
        );
        let words = span.advice.unwrap();
        assert!(words.starts_with("record rest and full: "), "{words}");
    }

    /// 1.0 with u 0.1: 95 % reach 0.196 away, the 99.5 % of an early look 0.2807, the 96.5 % of the last 0.2108.
    #[test]
    fn a_look_of_several_is_judged_with_its_own_interval_and_says_so() {
        let figure = Figure::symmetric(1.0, 0.1, 1.959_964, 2000, "").shrinking(Shrink::mean(
            Evidence::Seconds,
            2.0,
            0.0,
        ));
        let at = |look, max| {
            let limit = Limit::new(None, Some(max)).unwrap();
            decide_on(
                "a",
                FigureName::NoiseRestRms,
                limit,
                Some(&figure),
                Conditions {
                    look,
                    ..Conditions::default()
                },
            )
        };
        let (early, last) = (Look::new(1, 4).unwrap(), Look::new(4, 4).unwrap());
        assert_eq!(at(Look::ONLY, 1.20).outcome, Outcome::Pass);
        assert_eq!(at(last, 1.20).outcome, Outcome::Undecided);
        assert_eq!(at(last, 1.22).outcome, Outcome::Pass);
        assert_eq!(at(early, 1.22).outcome, Outcome::Undecided);
        let passed = at(early, 1.29);
        assert_eq!(passed.outcome, Outcome::Pass);
        let words = "1.00 codes (certainly between 0.72 and 1.28; early check 1 of 4, 99.5 %): clearly within limits";
        assert!(passed.reason.starts_with(words), "{}", passed.reason);
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
        assert_eq!(counted.reason, "6: clearly above the limit of 0");
        let figure = Figure::symmetric(1.304, 0.027, 2.0, 10, "");
        let across = decide(
            "a",
            FigureName::NoiseRestRms,
            Limit::new(None, Some(1.304)).unwrap(),
            Some(&figure),
        );
        assert_eq!(
            across.reason,
            "1.304 codes (certainly between 1.250 and 1.358): too close to call: 50.0 % chance that it is out of limits"
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
