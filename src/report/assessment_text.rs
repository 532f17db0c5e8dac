//! An assessment as text for a person at the bench: verdict, what decided it, then every figure. 80 columns.

use crate::figure::Figures;
use crate::figure::numbers::{DASH, fixed, limit, reading};
use crate::judge::{Finding, Outcome, Verdict};
use crate::record::{Assessment, CaptureFacts, ChannelPart};
use std::fmt::Write as _;

/// The whole text. Ends with a line end.
#[must_use]
pub fn assessment_text(assessment: &Assessment) -> String {
    let mut out = headline(assessment);
    out.push_str(&capture_line(&assessment.capture));
    findings(&mut out, &assessment.findings);
    for (name, part) in &assessment.channels {
        heading(&mut out, name, &part.figures);
        zones(&mut out, part);
    }
    for (name, part) in &assessment.pairs {
        heading(&mut out, &format!("{name} (two tracks)"), &part.figures);
    }
    out.push_str("\nu is the standard uncertainty; the interval covers 95 %; % is of span.\n");
    out
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
    line.push('\n');
    line
}

fn findings(out: &mut String, findings: &[Finding]) {
    if findings.is_empty() {
        return;
    }
    out.push_str("\nWhat decided it\n");
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
        let _ = writeln!(
            out,
            "  {:<12} {} {}: allowed {allowed} {}",
            finding.outcome,
            finding.channel,
            finding.figure,
            unit(finding.figure.unit())
        );
        if finding.outcome != Outcome::Pass {
            let _ = writeln!(out, "               {}", finding.reason);
        }
        if let Some(advice) = &finding.advice {
            let _ = writeln!(out, "               -> {advice}");
        }
    }
}

fn heading(out: &mut String, name: &str, figures: &Figures) {
    let _ = writeln!(
        out,
        "\n{name}\n  {:<22} {:>11}  {:<9} {:<9} 95 % interval",
        "figure", "value", "u", "unit"
    );
    for (name, figure) in figures.iter() {
        let Some(figure) = figure else {
            let steps: Vec<_> = name.steps().iter().map(|step| step.word()).collect();
            let _ = writeln!(
                out,
                "  {:<22} {DASH:>11}   not measured: needs {}",
                name.word(),
                steps.join(" or ")
            );
            continue;
        };
        let told = reading(figure);
        let _ = writeln!(
            out,
            "  {:<22} {:>11}  {:<9} {:<9} {}",
            name.word(),
            told.value,
            told.u,
            unit(name.unit()),
            told.interval
        );
    }
}

/// The unit for people: a plain number has none.
fn unit(word: &str) -> &str {
    if word == "1" { "" } else { word }
}

fn zones(out: &mut String, part: &ChannelPart) {
    for zone in &part.worn_zones {
        let _ = writeln!(
            out,
            "  worn from {} to {} % of travel: {} times the noise, seen in {} of {} strokes",
            fixed(zone.from_pct, 1),
            fixed(zone.to_pct, 1),
            fixed(zone.noise_ratio, 1),
            zone.strokes_seen,
            zone.strokes
        );
    }
    for dropout in part.dropouts.iter().take(10) {
        let at = dropout.travel_pct.map_or_else(String::new, |travel| {
            format!(" at {} % of travel", fixed(travel, 1))
        });
        let _ = writeln!(
            out,
            "  dropped out at {} s for {} ms, {} % deep towards {}{at}",
            fixed(dropout.t_s, 3),
            fixed(dropout.duration_ms, 1),
            fixed(dropout.depth_pct, 1),
            match dropout.towards {
                crate::measure::Towards::Ground => "ground",
                crate::measure::Towards::Supply => "supply",
            }
        );
    }
    if part.dropouts.len() > 10 {
        let _ = writeln!(
            out,
            "  ... and {} more dropouts: see --json",
            part.dropouts.len() - 10
        );
    }
}
