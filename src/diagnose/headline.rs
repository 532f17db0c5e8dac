//! The one line that comes first: what to do, and the reason.

use super::types::{Cause, CauseWord, Confidence, Diagnosis, Field};
use measure::figure::Steps;
use measure::judge::{Finding, Outcome, Verdict};

/// What to do and why. `profile` is the name of what it was checked as.
pub(super) fn headline(
    verdict: Option<Verdict>,
    findings: &[Finding],
    causes: &[Cause],
    profile: Option<&str>,
) -> String {
    if let Some(deciding) = deciding(causes) {
        let first = match deciding.cause.field() {
            Field::Part if verdict == Some(Verdict::Fail) => "DO NOT FIT",
            Field::Part => "NOT SURE YET",
            Field::Wiring => "CHECK THE WIRING FIRST",
            Field::Room => "CHECK THE ROOM FIRST",
            Field::Board => "CHECK THE BOARD FIRST",
            Field::Travel => "CHECK THE TRAVEL FIRST",
            Field::Profile => "CHECK THE PROFILE FIRST",
        };
        return format!("{first}: {}", deciding.clause);
    }
    match verdict {
        Some(Verdict::Pass) => format!("FIT IT: all {} checks passed", findings.len()),
        Some(Verdict::Fail) => "DO NOT FIT: it is out of limits".to_owned(),
        Some(Verdict::Undecided) => format!("MEASURE MORE: {}", missing(findings)),
        None => match profile {
            Some(profile) => format!("MEASURED ONLY: the profile \"{profile}\" sets no limit"),
            None => "MEASURED ONLY: no profile to check it by".to_owned(),
        },
    }
}

impl Diagnosis {
    /// Whether the part itself is to be replaced, and not a wire, the room or what it was checked as looked after.
    pub fn blames_the_part(&self, verdict: Option<Verdict>) -> bool {
        verdict == Some(Verdict::Fail)
            && deciding(&self.causes).is_none_or(|cause| cause.cause.field() == Field::Part)
    }
}

/// The cause that the line is about: the first; a bad part that is beyond doubt comes before what is wrong around it.
fn deciding(causes: &[Cause]) -> Option<&Cause> {
    let sure = |cause: &&Cause| {
        cause.cause.field() == Field::Part
            && cause.cause != CauseWord::Unknown
            && cause.confidence >= Confidence::Likely
    };
    causes.iter().find(sure).or(causes.first())
}

/// What an undecided part lacks, in a clause.
fn missing(findings: &[Finding]) -> String {
    let first = |outcome| findings.iter().find(|finding| finding.outcome == outcome);
    if let Some(open) = first(Outcome::Undecided) {
        let name = open.figure.facts().label;
        return match &open.advice {
            Some(advice) => format!("{} {name} is not sure yet: {advice}", open.channel),
            None => format!("{} {name} is too close to call", open.channel),
        };
    }
    let Some(unmeasured) = first(Outcome::NotMeasured) else {
        return "something is missing".to_owned();
    };
    let name = unmeasured.figure.facts().label;
    let steps = match unmeasured.figure.facts().steps {
        Steps::Any(steps) => steps.first().copied().into_iter().collect::<Vec<_>>(),
        Steps::All(steps) => steps.to_vec(),
    };
    let steps: Vec<String> = steps.iter().map(ToString::to_string).collect();
    match &steps[..] {
        [] => format!("{} {name} was not measured", unmeasured.channel),
        steps => format!(
            "{} {name} was not measured: do {} as well",
            unmeasured.channel,
            super::words::joined(steps)
        ),
    }
}
