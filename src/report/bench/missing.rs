//! What was not measured, and what would supply it.

use super::source::BenchReport;
use crate::report::assessment::explain::missing;
use crate::report::assessment::figures::by_channel;
use crate::report::document::{Block, Cell, Section, Table, columns};
use measure::figure::{FigureName, Figures, Mark};
use measure::judge::Outcome;

pub(super) fn section(report: &BenchReport<'_>) -> Section<'static> {
    let rows = rows(report);
    let block = if rows.is_empty() {
        Block::paragraph("Nothing: every result was measured.")
    } else {
        Block::Folded(Table {
            caption: format!("Not part of this test: {} results", rows.len()),
            columns: columns(["figure", "channel", "what would supply it"]),
            rows,
            ..Table::default()
        })
    };
    Section::new("What was not measured", vec![block]).at("not-measured")
}

/// One row for each figure, its channels together where the same would supply it.
fn rows(report: &BenchReport<'_>) -> Vec<Vec<Cell>> {
    let assessment = report.assessment;
    let mut found: Vec<(FigureName, String, String)> = Vec::new();
    let mut add = |name: FigureName, channel: &str, supply: String| {
        let same = found
            .iter_mut()
            .find(|(n, _, s)| *n == name && *s == supply);
        match same {
            Some((_, channels, _)) => *channels = format!("{channels}, {channel}"),
            None => found.push((name, channel.to_owned(), supply)),
        }
    };
    for (channel, figures) in by_channel(assessment) {
        for name in absent(report, channel, figures) {
            let finding = assessment.finding(channel, name);
            let advice = finding.and_then(|finding| finding.advice.clone());
            add(
                name,
                channel,
                advice.unwrap_or_else(|| missing(name, report.steps)),
            );
        }
    }
    let elsewhere = assessment.findings.iter().filter(|finding| {
        finding.outcome == Outcome::NotMeasured && assessment.figures(&finding.channel).is_none()
    });
    for finding in elsewhere {
        let advice = finding.advice.as_ref().unwrap_or(&finding.reason);
        add(finding.figure, &finding.channel, advice.clone());
    }
    let row = |(name, channels, supply): (FigureName, String, String)| {
        vec![Cell::Name(name.word()), channels.into(), supply.into()]
    };
    found.into_iter().map(row).collect()
}

/// Figures without a value; those of rheostats only where a limit asks for them.
fn absent(report: &BenchReport<'_>, channel: &str, figures: &Figures) -> Vec<FigureName> {
    let absent = figures.iter().filter(|(_, figure)| figure.is_none());
    absent
        .map(|(name, _)| name)
        .filter(|name| {
            !name.is(Mark::OfRheostats) || report.assessment.finding(channel, *name).is_some()
        })
        .collect()
}
