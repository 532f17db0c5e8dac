//! The record reader: laid out otherwise it is the same record; several together tell a story.

use jiff::Timestamp;
use pedalproof::record::{Record, unit_history};
use pedalproof::report;
use serde_json::Value;

pub fn check(data: &[u8]) {
    let Ok(record) = Record::from_json(data) else {
        return;
    };
    // The program writes records from assessments only; as plain JSON it must stay what it is.
    // Members that it does not know are passed over, and may hold what no JSON text holds.
    let Ok(plain) = serde_json::from_slice::<Value>(data) else {
        return;
    };
    let again = Record::from_json(plain.to_string().as_bytes()).expect("the same record");
    assert_eq!(again, record);
    story(&record);
}

/// The same unit three times: as it was, later with each figure moved, and later still.
fn story(record: &Record) {
    let moved = |by: f64, when: &str| {
        let mut later = record.clone();
        later.taken = Some(when.to_owned());
        later.assessment.capture.sha256 = Some(when.to_owned());
        let channels = later.assessment.channels.values_mut();
        for figure in channels
            .flat_map(|channel| channel.figures.values_mut())
            .flatten()
        {
            let step = figure.u.unwrap_or(1.0) * by;
            figure.value += step;
            for end in [&mut figure.low, &mut figure.high].into_iter().flatten() {
                *end += step;
            }
        }
        later
    };
    let records = vec![
        moved(3.0, "2026-03-01T10:00:00Z"),
        moved(9.0, "2027-03-01T10:00:00Z"),
        record.clone(),
    ];
    let now: Timestamp = "2030-01-01T00:00:00Z".parse().unwrap();
    let history = unit_history("T1", records, now);
    assert!((1..=3).contains(&history.entries.len()));
    for whole in [false, true] {
        let text = report::history(&history, whole, now).text();
        assert!(text.ends_with('\n'));
    }
    assert_eq!(
        serde_json::to_value(report::history_json(&history, now)).expect("plain values")["format"],
        "history/1"
    );
}
