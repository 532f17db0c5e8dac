//! Every figure that was measured, channel by channel.

use crate::report::document::{Align, Cell, Part, Section, Table};
use crate::report::figures_text::unit;
use crate::report::sheet::Sheet;
use crate::report::zones_text::zones;
use measure::figure::Figures;
use measure::figure::numbers::{DASH, limit, reading};

pub(super) fn section<'a>(sheet: &'a Sheet<'_>) -> Section<'a> {
    let mut parts = vec![Part::Words(
        "Each value with its 95 % interval (JCGM 100, the GUM), rounded to two digits of the uncertainty; % is of span.".to_owned(),
    )];
    for (channel, part) in &sheet.assessment.channels {
        parts.push(Part::Table(table(sheet, channel, &part.figures)));
        let told = zones(sheet.assessment, channel, part);
        if !told.is_empty() {
            parts.push(Part::List(told));
        }
    }
    for (pair, part) in &sheet.assessment.pairs {
        parts.push(Part::Table(table(sheet, pair, &part.figures)));
    }
    Section {
        id: "figures",
        title: "All that was measured",
        parts,
    }
}

fn table(sheet: &Sheet<'_>, channel: &str, figures: &Figures) -> Table {
    let present = figures.iter().filter_map(|(name, f)| Some((name, f?)));
    let rows = present.map(|(name, figure)| {
        let told = reading(figure);
        let finding = sheet.assessment.finding(channel, name);
        let interval = if figure.u.is_some() {
            told.interval
        } else {
            "counted".to_owned()
        };
        vec![
            Cell::Name(name.word().to_owned()),
            Cell::Text(told.value),
            Cell::Text(interval),
            Cell::Text(unit(name).to_owned()),
            Cell::Text(finding.map_or_else(|| DASH.to_owned(), |f| limit(f.min, f.max))),
            finding.map_or_else(|| Cell::Text(DASH.to_owned()), |f| Cell::Outcome(f.outcome)),
        ]
    });
    Table {
        caption: channel.to_owned(),
        columns: vec![
            ("figure", Align::Words),
            ("value", Align::Numbers),
            ("95 % interval", Align::Numbers),
            ("unit", Align::Words),
            ("allowed", Align::Numbers),
            ("outcome", Align::Words),
        ],
        rows: rows.collect(),
    }
}
