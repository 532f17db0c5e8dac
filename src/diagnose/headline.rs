//! The one line that comes first: what to do, and the reason.

use super::types::{Cause, CauseWord, Confidence, Diagnosis, Field};
use measure::figure::FigureName;
use measure::judge::{Finding, Outcome, Verdict};
use measure::units::Step;

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
    let is_missing = |finding: &&Finding| finding.outcome == Outcome::NotMeasured;
    let (mut names, mut steps) = (Vec::new(), Vec::new());
    for finding in findings.iter().filter(is_missing) {
        let name = finding.figure.facts().label.to_owned();
        if !names.contains(&name) {
            names.push(name);
        }
        steps.extend(lacking(finding.figure, findings));
    }
    steps.sort();
    steps.dedup();
    let steps: Vec<String> = steps.iter().map(ToString::to_string).collect();
    let Some(unmeasured) = findings.iter().find(is_missing) else {
        return "something is missing".to_owned();
    };
    let is = if names.len() == 1 { "is" } else { "are" };
    let names = super::words::joined(&few(names));
    match &steps[..] {
        [] => format!(
            "{names} {is} missing: it takes {}",
            unmeasured.figure.facts().needs
        ),
        steps => format!(
            "record {} as well ({names} {is} missing)",
            super::words::joined(steps)
        ),
    }
}

/// So many results are named that are missing.
const NAMED: usize = 4;

fn few(mut names: Vec<String>) -> Vec<String> {
    if names.len() > NAMED {
        let more = names.len() - (NAMED - 1);
        names.truncate(NAMED - 1);
        names.push(format!("{more} more"));
    }
    names
}

/// The steps that a figure takes, without those that others of the findings came from.
fn lacking(figure: FigureName, findings: &[Finding]) -> Vec<Step> {
    let done = |step: &Step| {
        let mut measured = findings
            .iter()
            .filter(|finding| finding.outcome != Outcome::NotMeasured);
        measured.any(|finding| finding.figure.facts().steps.show(*step))
    };
    figure.facts().steps.lacking(done)
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::figure::Figure;
    use measure::judge::{Limit, decide};

    fn words(missing_of: &[(FigureName, bool)]) -> String {
        let limit = Limit::new(Some(0.0), Some(1.0)).unwrap();
        let figure = Figure::symmetric(0.5, 0.01, 2.0, 100, "");
        let of = |(name, measured): &(FigureName, bool)| {
            decide("a", *name, limit, measured.then_some(&figure))
        };
        missing(&missing_of.iter().map(of).collect::<Vec<_>>())
    }

    /// What each takes stands in the catalogue.
    #[test]
    fn every_missing_step_is_named_once_and_none_that_is_there() {
        use FigureName::{
            DropoutsCount, FullRatio, Hum120Rms, NoiseRestRms, RestRatio, ReturnScatter,
            WornZonesCount,
        };
        assert_eq!(
            words(&[
                (RestRatio, true),
                (ReturnScatter, false),
                (WornZonesCount, false),
                (DropoutsCount, false),
                (ReturnScatter, false),
            ]),
            "record strokes and release as well (return scatter, worn spots and dropouts are missing)"
        );
        assert_eq!(
            words(&[(FullRatio, false)]),
            "record full as well (full ratio is missing)"
        );
        assert_eq!(
            words(&[(NoiseRestRms, true), (Hum120Rms, false)]),
            "hum 120 rms is missing: it takes a hold of 0.5 s at 252 samples a second or more"
        );
        let all = [
            RestRatio,
            FullRatio,
            ReturnScatter,
            WornZonesCount,
            DropoutsCount,
        ];
        assert_eq!(
            words(&all.map(|name| (name, false))),
            "record rest, full, strokes and release as well (rest ratio, full ratio, return scatter and 2 more are missing)"
        );
    }
}
