//! An assessment as text for a person at the bench: verdict, what decided it, then every figure. 80 columns.

use super::figures_text::{table, unit};
use super::page::Page;
use super::travel_text;
use crate::figure::numbers::{fixed, limit};
use crate::judge::{Finding, Outcome, Verdict};
use crate::measure::Towards;
use crate::record::{Assessment, CaptureFacts, ChannelPart, WornOn};
use std::fmt::Write as _;

/// Most dropouts told one by one.
const MOST_DROPOUTS: usize = 10;

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
        zones(&mut page, assessment, name, part);
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
    let unit = assessment
        .unit
        .tag
        .as_deref()
        .map_or_else(|| "untagged unit".to_owned(), |tag| format!("unit {tag}"));
    match (assessment.verdict, assessment.unit.profile.as_deref()) {
        (Some(verdict), Some(profile)) => {
            let word = match verdict {
                Verdict::Pass => "PASS: fit it",
                Verdict::Fail => "FAIL: do not fit it",
                Verdict::Undecided => "UNDECIDED: measure more",
            };
            format!("{word}\n{unit}, held against \"{profile}\"\n")
        }
        (None, Some(profile)) => {
            format!("NO VERDICT: the profile \"{profile}\" sets no limit\n{unit}\n")
        }
        (_, None) => format!("NO VERDICT: figures only, no profile was given\n{unit}\n"),
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

fn zones(page: &mut Page, assessment: &Assessment, channel: &str, part: &ChannelPart) {
    for zone in &part.worn_zones {
        let where_else = match assessment.worn_on(channel, zone) {
            WornOn::OnlyTrack => String::new(),
            WornOn::Alone(other) => format!("; {other} is quiet there: a fault of this track"),
            WornOn::Both(other) => {
                format!("; {other} is as loud there: look at supply and wiring first")
            }
        };
        page.hang(
            "  ",
            "    ",
            &format!(
                "worn from {} to {} % of travel: {} times the noise, seen in {} of {} strokes{where_else}",
                fixed(zone.from_pct, 1),
                fixed(zone.to_pct, 1),
                fixed(zone.noise_ratio, 1),
                zone.strokes_seen,
                zone.strokes
            ),
        );
    }
    for dropout in part.dropouts.iter().take(MOST_DROPOUTS) {
        let at = dropout.travel_pct.map_or_else(String::new, |travel| {
            format!(" at {} % of travel", fixed(travel, 1))
        });
        page.hang(
            "  ",
            "    ",
            &format!(
                "dropped out at {} s for {} ms, {} % deep towards {}{at}",
                fixed(dropout.t_s, 3),
                fixed(dropout.duration_ms, 1),
                fixed(dropout.depth_pct, 1),
                match dropout.towards {
                    Towards::Ground => "ground",
                    Towards::Supply => "supply",
                }
            ),
        );
    }
    if part.dropouts.len() > MOST_DROPOUTS {
        page.words(&format!(
            "... and {} more dropouts: see --json",
            part.dropouts.len() - MOST_DROPOUTS
        ));
    }
}
