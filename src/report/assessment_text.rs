//! An assessment as text for a person at the bench: verdict, what decided it, then every figure. 80 columns.

use super::figures_text::{table, unit};
use super::page::Page;
use super::travel_text;
use super::zones_text::zones;
use crate::record::{Assessment, CaptureFacts};
use measure::figure::numbers::{fixed, limit};
use measure::judge::{Finding, Outcome, Verdict};
use std::fmt::Write as _;

/// The whole text. Ends with a line end.
#[must_use]
pub fn assessment_text(assessment: &Assessment) -> String {
    let mut page = Page::default();
    page.paragraph(&headline(assessment));
    page.hang("", "  ", &capture_line(&assessment.capture));
    findings(&mut page, &assessment.findings);
    let own = |channel: &str| -> Vec<&Finding> {
        let all = assessment.findings.iter();
        all.filter(|finding| finding.channel == channel).collect()
    };
    for (name, part) in &assessment.channels {
        page.gap();
        page.line(name);
        table(&mut page, &part.figures, &own(name));
        travel_text::noise(&mut page, part);
        for told in zones(assessment, name, part) {
            page.hang("  ", "    ", &told);
        }
        travel_text::deviation(&mut page, part.curve.as_ref());
    }
    for (name, part) in &assessment.pairs {
        page.gap();
        page.line(&format!("{name} (two tracks)"));
        table(&mut page, &part.figures, &own(name));
    }
    page.gap();
    page.words(
        "The column 95 % says how far the 95 % interval reaches from the value; % is of span; x fails, ? is open. \
         A figure explained: --explain FIGURE.",
    );
    page.text()
}

fn headline(assessment: &Assessment) -> String {
    format!(
        "{}\n{}\n",
        verdict_words(assessment),
        unit_words(assessment)
    )
}

/// The verdict in words: `PASS: fit it`.
pub(super) fn verdict_words(assessment: &Assessment) -> String {
    match (assessment.verdict, assessment.unit.profile.as_deref()) {
        (Some(Verdict::Pass), _) => "PASS: fit it".to_owned(),
        (Some(Verdict::Fail), _) => "FAIL: do not fit it".to_owned(),
        (Some(Verdict::Undecided), _) => "UNDECIDED: measure more".to_owned(),
        (None, Some(profile)) => {
            format!("NO VERDICT: the profile \"{profile}\" sets no limit")
        }
        (None, None) => "NO VERDICT: figures only, no profile was given".to_owned(),
    }
}

/// Which unit, and what it was held against.
pub(super) fn unit_words(assessment: &Assessment) -> String {
    let tag = assessment.unit.tag.as_deref();
    let unit = tag.map_or_else(|| "untagged unit".to_owned(), |tag| format!("unit {tag}"));
    match (assessment.verdict, assessment.unit.profile.as_deref()) {
        (Some(_), Some(profile)) => format!("{unit}, held against \"{profile}\""),
        _ => unit,
    }
}

fn capture_line(capture: &CaptureFacts) -> String {
    let file = capture.file.as_deref().unwrap_or("not yet in a file");
    let mut line = format!(
        "{file}: {} samples in {} s",
        capture.samples,
        fixed(capture.duration_s, 1)
    );
    if capture.missing > 0 {
        let _ = write!(line, ", {} missing", capture.missing);
    }
    for (cause, n) in &capture.rejected {
        let _ = write!(line, ", {n} lines rejected: {cause}");
    }
    line
}

fn findings(page: &mut Page, findings: &[Finding]) {
    if findings.is_empty() {
        return;
    }
    page.gap();
    page.line("What decided it");
    let order = [
        Outcome::Fail,
        Outcome::Undecided,
        Outcome::NotMeasured,
        Outcome::Pass,
    ];
    for finding in order
        .iter()
        .flat_map(|outcome| findings.iter().filter(move |f| f.outcome == *outcome))
    {
        let allowed = limit(finding.min, finding.max);
        page.line(&format!(
            "  {:<12} {} {}: allowed {allowed} {}",
            finding.outcome,
            finding.channel,
            finding.figure,
            unit(finding.figure)
        ));
        let indent = " ".repeat(15);
        if finding.outcome != Outcome::Pass {
            page.hang(&indent, &indent, &finding.reason);
        }
        if let Some(advice) = &finding.advice {
            page.hang(&format!("{indent}-> "), &format!("{indent}   "), advice);
        }
    }
}
