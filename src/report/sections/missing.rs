//! What was not measured, and what would supply it.

use crate::report::document::{Align, Cell, Part, Section, Table};
use crate::report::explain::missing;
use crate::report::sheet::Sheet;
use measure::figure::{FigureName, Figures};
use measure::judge::Outcome;

pub(super) fn section<'a>(sheet: &'a Sheet<'_>) -> Section<'a> {
    let rows = rows(sheet);
    let part = if rows.is_empty() {
        Part::Words("Nothing: every figure was measured.".to_owned())
    } else {
        Part::Table(Table {
            caption: "A capture that cannot support a figure gives none.".to_owned(),
            columns: vec![
                ("figure", Align::Words),
                ("channel", Align::Words),
                ("what would supply it", Align::Words),
            ],
            rows,
        })
    };
    Section {
        id: "not-measured",
        title: "What was not measured",
        parts: vec![part],
    }
}

/// One row for each figure, its channels together where the same would supply it.
fn rows(sheet: &Sheet<'_>) -> Vec<Vec<Cell>> {
    let assessment = sheet.assessment;
    let channels = assessment
        .channels
        .iter()
        .map(|(name, part)| (name, &part.figures));
    let pairs = assessment
        .pairs
        .iter()
        .map(|(name, part)| (name, &part.figures));
    let mut found: Vec<(FigureName, String, String)> = Vec::new();
    let mut add = |name: FigureName, channel: &str, words: String| {
        let same = found.iter_mut().find(|(n, _, w)| *n == name && *w == words);
        match same {
            Some((_, channels, _)) => *channels = format!("{channels}, {channel}"),
            None => found.push((name, channel.to_owned(), words)),
        }
    };
    for (channel, figures) in channels.chain(pairs) {
        for name in absent(sheet, channel, figures) {
            let advice = assessment
                .finding(channel, name)
                .and_then(|f| f.advice.clone());
            add(
                name,
                channel,
                advice.unwrap_or_else(|| missing(name, sheet.steps)),
            );
        }
    }
    let elsewhere = assessment.findings.iter().filter(|finding| {
        finding.outcome == Outcome::NotMeasured && assessment.figures(&finding.channel).is_none()
    });
    for finding in elsewhere {
        let advice = finding.advice.clone();
        add(
            finding.figure,
            &finding.channel,
            advice.unwrap_or_else(|| finding.reason.clone()),
        );
    }
    let row = |(name, channels, words): (FigureName, String, String)| {
        vec![
            Cell::Name(name.word().to_owned()),
            Cell::Text(channels),
            Cell::Text(words),
        ]
    };
    found.into_iter().map(row).collect()
}

/// Figures without a value; those of rheostats only where a limit asks for them.
fn absent(sheet: &Sheet<'_>, channel: &str, figures: &Figures) -> Vec<FigureName> {
    let absent = figures.iter().filter(|(_, figure)| figure.is_none());
    absent
        .map(|(name, _)| name)
        .filter(|name| !name.of_rheostats() || sheet.assessment.finding(channel, *name).is_some())
        .collect()
}
