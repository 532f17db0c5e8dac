//! Figures held against limits, the worst first.

use crate::record::Assessment;
use crate::report::document::{Block, FindingRow, Gauge};
use measure::figure::FigureName;
use measure::figure::numbers::{DASH, limit, reading};
use measure::judge::{Finding, Outcome, Verdict};

pub(in crate::report) fn findings(assessment: &Assessment) -> Block<'static> {
    let findings = assessment.findings.iter();
    FindingRow::block(findings.map(|finding| row(assessment, finding)).collect())
}

/// The findings that made the verdict a fail, or left it undecided.
pub fn decisive(assessment: &Assessment) -> Vec<&Finding> {
    let decides = |outcome| match assessment.verdict {
        Some(Verdict::Fail) => outcome == Outcome::Fail,
        Some(Verdict::Undecided) => matches!(outcome, Outcome::Undecided | Outcome::NotMeasured),
        Some(Verdict::Pass) | None => false,
    };
    let findings = assessment.findings.iter();
    findings
        .filter(|finding| decides(finding.outcome))
        .collect()
}

/// The most that a figure may be, for the band of a picture.
pub(in crate::report) fn upper_limit(
    assessment: &Assessment,
    channel: &str,
    figure: FigureName,
) -> Option<f64> {
    assessment.finding(channel, figure)?.max
}

fn row(assessment: &Assessment, finding: &Finding) -> FindingRow {
    let figures = assessment.figures(&finding.channel);
    let figure = figures.and_then(|figures| figures.get(finding.figure));
    let reading = figure.map(reading);
    let unit = finding.figure.unit();
    FindingRow {
        outcome: finding.outcome,
        channel: finding.channel.clone(),
        label: finding.figure.facts().label.to_owned(),
        value: reading
            .as_ref()
            .map_or_else(|| DASH.to_owned(), |reading| unit.behind(&reading.value)),
        interval: reading
            .filter(|_| figure.is_some_and(|figure| figure.u.is_some()))
            .map(|reading| reading.interval),
        allowed: unit.behind(&limit(finding.min, finding.max)),
        gauge: Gauge {
            min: finding.min,
            max: finding.max,
            value: figure.map(|figure| figure.value),
            low: figure.and_then(|figure| figure.low),
            high: figure.and_then(|figure| figure.high),
        },
        reason: (finding.outcome != Outcome::Pass).then(|| finding.reason.clone()),
        advice: finding.advice.clone(),
    }
}
