//! The decision rule of JCGM 106, guarded both ways.

use super::{Finding, Limit, Outcome, Verdict};
use crate::figure::{Figure, FigureName};

/// Holds one figure of one channel against its limit.
///
/// `pass` when the whole 95 % interval lies inside the limit, `fail` when it lies wholly outside, otherwise
/// `undecided` (JCGM 106:2012, guarded acceptance and guarded rejection). An interval that touches the limit
/// from inside passes.
#[must_use]
pub fn decide(channel: &str, name: FigureName, limit: Limit, figure: Option<&Figure>) -> Finding {
    let (outcome, reason, advice) = match figure {
        None => not_measured(name),
        Some(figure) => measured(name, limit, figure),
    };
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
    (
        Outcome::NotMeasured,
        "the capture has no evidence for it".to_owned(),
        Some(format!("record a step of: {}", steps.join(", "))),
    )
}

fn measured(name: FigureName, limit: Limit, figure: &Figure) -> (Outcome, String, Option<String>) {
    let (low, high) = (
        figure.low.unwrap_or(figure.value),
        figure.high.unwrap_or(figure.value),
    );
    let unit = name.unit();
    let inside =
        limit.min().is_none_or(|min| low >= min) && limit.max().is_none_or(|max| high <= max);
    let below = limit.min().is_some_and(|min| high < min);
    let above = limit.max().is_some_and(|max| low > max);
    let interval = format!("{low:.4} to {high:.4} {unit}");
    if below || above {
        let side = if below {
            "below the least allowed"
        } else {
            "above the most allowed"
        };
        let bound = if below { limit.min() } else { limit.max() }.unwrap_or(f64::NAN);
        return (
            Outcome::Fail,
            format!("{interval} lies {side}, {bound} {unit}"),
            None,
        );
    }
    if inside {
        return (
            Outcome::Pass,
            format!("{interval} lies inside the limit"),
            None,
        );
    }
    (
        Outcome::Undecided,
        format!("{interval} straddles the limit"),
        Some("record more, so that the interval shrinks".to_owned()),
    )
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
