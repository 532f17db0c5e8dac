//! The wiring that the profile states: what should be read, and what becomes of every single fault.

use crate::report::document::{Align, Cell, Part, Section, Table};
use crate::report::sheet::Sheet;
use crate::report::wiring_text::{
    LEGEND, band_words, becomes, change_words, codes, edges_words, expected_words, pair_words,
    valid_words, wired,
};
use crate::wiring::TrackReport;
use crate::wiring::faults::{Direction, FaultRow};
use crate::wiring::reading::Expected;

/// Nothing without a profile.
pub(super) fn section<'a>(sheet: &'a Sheet<'_>) -> Option<Section<'a>> {
    let used = sheet.profile.as_ref()?;
    let parts = match &used.wiring {
        Ok(report) => {
            let mut parts = vec![Part::Words(LEGEND.to_owned())];
            parts.extend(report.tracks.iter().flat_map(track));
            if let Some(pair) = &report.pair {
                parts.push(Part::Heading("Both tracks".to_owned()));
                parts.push(Part::Words(band_words(pair)));
                parts.push(Part::List(pair.faults.iter().map(pair_words).collect()));
            }
            parts
        }
        Err(why) => vec![Part::Words(why.clone())],
    };
    Some(Section {
        id: "wiring",
        title: "Wiring and single faults, as the profile states them",
        parts,
    })
}

fn track(track: &TrackReport) -> Vec<Part<'static>> {
    let windows = &track.windows;
    let mut parts = vec![
        Part::Heading(format!("Track {}: {}", track.track, wired(&track.wiring))),
        Part::Table(expected(&track.expected)),
        Part::List(expected_words(&track.expected).to_vec()),
        Part::Words(valid_words(windows)),
        Part::List(edges_words(windows).to_vec()),
        Part::Table(faults(&track.faults)),
    ];
    let mut advice: Vec<String> = track
        .hidden
        .iter()
        .map(|missed| format!("{}: {}", missed.fault, missed.advice))
        .collect();
    advice.extend(track.recommended.as_ref().map(change_words));
    if !advice.is_empty() {
        parts.push(Part::Words(
            "Missed by the windows, and the cheapest change that helps:".to_owned(),
        ));
        parts.push(Part::List(advice));
    }
    if !track.notes.is_empty() {
        parts.push(Part::List(track.notes.clone()));
    }
    parts
}

fn expected(expected: &Expected) -> Table {
    let rows = expected.rows.iter().map(|row| {
        vec![
            Cell::Text(format!("{:.0} %", row.travel_pct)),
            Cell::Text(row.code.to_string()),
            Cell::Text(format!("{} .. {}", row.code_low, row.code_high)),
            Cell::Text(format!("{:.4}", row.ratio)),
            Cell::Text(format!("{:.4} .. {:.4}", row.ratio_low, row.ratio_high)),
        ]
    });
    Table {
        caption: "Expected reading of a good unit, with its tolerances".to_owned(),
        columns: vec![
            ("travel", Align::Numbers),
            ("code", Align::Numbers),
            ("lowest .. highest", Align::Numbers),
            ("of reference", Align::Numbers),
            ("lowest .. highest", Align::Numbers),
        ],
        rows: rows.collect(),
    }
}

fn faults(faults: &[FaultRow]) -> Table {
    let rows = faults.iter().map(|row| {
        let becomes = becomes(row);
        let errs = match row.direction {
            Some(Direction::Safe) => Cell::Text("safe".to_owned()),
            Some(Direction::Unsafe) if row.missed() => Cell::Alarm("unsafe".to_owned()),
            Some(Direction::Unsafe) => Cell::Text("unsafe".to_owned()),
            None => Cell::Text("-".to_owned()),
        };
        vec![
            Cell::Text(row.fault.to_string()),
            Cell::Text(codes(row)),
            errs,
            if row.missed() {
                Cell::Alarm(becomes)
            } else {
                Cell::Text(becomes)
            },
        ]
    });
    Table {
        caption: "Single faults".to_owned(),
        columns: vec![
            ("fault", Align::Words),
            ("reads code", Align::Numbers),
            ("error", Align::Words),
            ("seen as", Align::Words),
        ],
        rows: rows.collect(),
    }
}
