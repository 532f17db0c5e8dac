//! The verdict with what decided it, and every figure that was held against a limit.

use super::source::{BenchReport, KeptOtherwise};
use crate::record::Assessment;
use crate::report::assessment::findings::{decisive, findings};
use crate::report::assessment::overview::{headline, unit};
use crate::report::assessment::zones::{dropped, worn};
use crate::report::document::{Banner, Block, Section};
use measure::figure::FigureName;
use measure::judge::{Outcome, Verdict};

/// Most dropouts with a sentence of their own beside the verdict.
const FEW_DROPOUTS: usize = 3;

pub(super) fn banner(report: &BenchReport<'_>) -> Banner {
    let assessment = report.assessment;
    let mut banner = Banner {
        verdict: assessment.verdict,
        headline: headline(assessment),
        unit: unit(assessment),
        why: why(assessment),
    };
    if let Some(kept) = &report.kept {
        contradict(&mut banner, kept);
    }
    banner
}

/// Says first that the kept record of the same recording has another verdict; what passes only here has no colour of a pass.
fn contradict(banner: &mut Banner, kept: &KeptOtherwise) {
    let first = |headline: &str| headline.split(": ").next().unwrap_or_default().to_owned();
    let said = match first(&kept.headline) {
        none if none.is_empty() => kept.verdict.to_string(),
        said => said,
    };
    let here = first(&banner.headline);
    let reason = banner.headline.get(here.len()..).unwrap_or_default();
    let day = kept.kept.strftime("%Y-%m-%d");
    banner.headline =
        format!("{here}, but the kept record of this recording says {said} ({day}){reason}");
    if banner.verdict == Some(Verdict::Pass) {
        banner.verdict = Some(Verdict::Undecided);
    }
    banner.why.push(
        "The record was assessed by other limits, with another --inl-codes or by another version: state the same here, or assess it again with \
         --keep."
            .to_owned(),
    );
}

fn why(assessment: &Assessment) -> Vec<String> {
    match assessment.verdict {
        Some(Verdict::Pass) => vec![format!(
            "All {} checks passed, each with the whole 95 % interval of its result.",
            assessment.findings.len()
        )],
        Some(Verdict::Fail | Verdict::Undecided) => reasons(assessment),
        None => vec!["Nothing to judge by: no kind of control was named.".to_owned()],
    }
}

/// The reasons of findings; where wear or dropouts decided, also where they are.
fn reasons(assessment: &Assessment) -> Vec<String> {
    let mut reasons = Vec::new();
    for finding in decisive(assessment) {
        let reason = &finding.reason;
        let label = finding.figure.facts().label;
        reasons.push(format!("{} {label}: {reason}", finding.channel));
        let part = assessment
            .channels
            .iter()
            .find(|(name, _)| *name == finding.channel);
        let Some((name, part)) = part else { continue };
        reasons.extend(match finding.figure {
            FigureName::WornZonesCount => worn(assessment, name, part),
            FigureName::DropoutsCount => dropped(part, FEW_DROPOUTS),
            _ => Vec::new(),
        });
    }
    reasons
}

pub(super) fn findings_section(report: &BenchReport<'_>) -> Option<Section<'static>> {
    let all = &report.assessment.findings;
    let passed = all.iter().filter(|f| f.outcome == Outcome::Pass).count();
    let rule = format!(
        "{passed} of {} checks passed. A check passes when the whole 95 % interval lies inside its limit, fails when it lies \
         outside; anything else stays undecided.",
        all.len()
    );
    let blocks = vec![Block::Paragraph(rule), findings(report.assessment)];
    let section = Section::new("Results and their limits", blocks).at("findings");
    (!all.is_empty()).then_some(section)
}
