use super::*;
use serde_json::{Value, json};

/// A record of a lever with one figure, its limit and maybe a worn zone.
fn record(taken: &str, value: f64, half: f64, zone: Option<(f64, f64, f64)>, bits: u32) -> Record {
    let figure = |unit: &str, value: f64| json!({ "value": value, "unit": unit, "u": half / 1.96, "low": value - half, "high": value + half, "n": 5, "method": "made up" });
    let zones: Vec<Value> = zone
        .iter()
        .map(|(from, to, ratio)| json!({ "from_pct": from, "to_pct": to, "noise_ratio": ratio, "strokes_seen": 7, "strokes": 8 }))
        .collect();
    let text = json!({
        "format": "record/1", "kept": "2030-01-01T00:00:00Z", "taken": taken, "program": "test",
        "board": { "name": "b", "bits": bits, "vref_mv": 5000.0, "rate_hz": 1000.0 },
        "assessment": {
            "format": "assessment/1", "verdict": "pass",
            "capture": { "file": "a.csv", "sha256": taken, "samples": 10, "duration_s": 1.0, "rejected": {}, "missing": 0 },
            "unit": { "tag": "T3-lever", "profile": "lever" },
            "channels": { "lever": { "figures": { "return_scatter": figure("code", value), "rest_ratio": figure("1", 0.1), "later_figure": null }, "worn_zones": zones, "dropouts": [] } },
            "pairs": {},
            "findings": [ { "channel": "lever", "figure": "return_scatter", "min": null, "max": 4.0, "outcome": "pass", "reason": "", "advice": null } ],
        },
    });
    Record::from_json(text.to_string().as_bytes()).unwrap()
}

fn scatter(history: &UnitHistory) -> &Series {
    let mut all = history.series.iter();
    all.find(|s| s.figure == FigureName::ReturnScatter).unwrap()
}

#[test]
fn a_figure_that_climbs_has_a_change_a_trend_and_a_date() {
    // One code a year (365.25 days), +-0.1: by hand, 4 is reached three years after the first.
    let days = [
        "2026-01-01T00:00:00Z",
        "2027-01-01T06:00:00Z",
        "2028-01-01T12:00:00Z",
    ];
    let records = days
        .iter()
        .zip([1.0, 2.0, 3.0])
        .map(|(day, value)| record(day, value, 0.01, None, 10))
        .collect();
    let history = unit_history("T3-lever", records);
    let series = scatter(&history);
    assert_eq!(series.points.len(), 3);
    assert_eq!(history.course(), Course::TowardsLimit);
    let change = series.change.unwrap();
    assert!((change.by - 1.0).abs() < 1e-9 && series.stands_out);
    assert!((series.trend.unwrap().slope - 1.0).abs() < 1e-9);
    let at = history.date(series.crossing.unwrap().time).unwrap();
    assert_eq!(at.strftime("%Y-%m-%d").to_string(), "2028-12-31");
    // What did not change is not marked.
    let rest = history
        .series
        .iter()
        .find(|s| s.figure == FigureName::RestRatio);
    assert!(!rest.unwrap().stands_out);
}

#[test]
fn one_record_two_records_and_none() {
    let history = unit_history("T3-lever", Vec::new());
    assert!(history.series.is_empty() && history.date(1.0).is_none());
    let one = unit_history(
        "T3-lever",
        vec![record("2026-01-01T00:00:00Z", 1.0, 0.1, None, 10)],
    );
    assert_eq!((scatter(&one).change, scatter(&one).trend), (None, None));
    let two = unit_history(
        "T3-lever",
        vec![
            record("2027-01-01T00:00:00Z", 1.05, 0.1, None, 10),
            record("2026-01-01T00:00:00Z", 1.0, 0.1, None, 10),
        ],
    );
    // Sorted by time; within the noise; no trend through two.
    assert!((scatter(&two).change.unwrap().by - 0.05).abs() < 1e-9);
    assert!(!scatter(&two).stands_out && scatter(&two).trend.is_none());
}

#[test]
fn codes_of_another_board_are_not_compared_and_ratios_are() {
    let history = unit_history(
        "T3-lever",
        vec![
            record("2026-01-01T00:00:00Z", 1.0, 0.1, None, 12),
            record("2027-01-01T00:00:00Z", 1.0, 0.1, None, 10),
        ],
    );
    assert_eq!(scatter(&history).points.len(), 1);
    let rest = history
        .series
        .iter()
        .find(|s| s.figure == FigureName::RestRatio);
    assert_eq!(rest.unwrap().points.len(), 2);
}

#[test]
fn a_capture_assessed_again_counts_once() {
    let again = |kept: &str, value: f64| Record {
        kept: kept.parse().unwrap(),
        ..record("2026-01-01T00:00:00Z", value, 0.1, None, 10)
    };
    let history = unit_history(
        "T3-lever",
        vec![
            again("2026-03-01T00:00:00Z", 2.0),
            again("2026-02-01T00:00:00Z", 1.0),
        ],
    );
    assert_eq!(history.entries.len(), 1);
    assert!((scatter(&history).points[0].figure.value - 2.0).abs() < 1e-9);
}

#[test]
fn a_zone_that_widens_grows_one_that_stays_does_not_and_one_elsewhere_is_new() {
    let at = |taken: &str, zone| record(taken, 1.0, 0.1, Some(zone), 10);
    let story = |first, last| {
        let records = vec![
            at("2026-01-01T00:00:00Z", first),
            at("2027-01-01T00:00:00Z", last),
        ];
        unit_history("T3-lever", records).zones[0].clone()
    };
    assert!(story((38.0, 42.0, 4.0), (37.0, 43.0, 4.0)).grows);
    assert!(story((38.0, 42.0, 4.0), (38.0, 42.0, 5.0)).grows);
    assert!(!story((38.0, 42.0, 4.0), (38.0, 43.0, 4.5)).grows);
    let new = story((38.0, 42.0, 4.0), (60.0, 66.0, 4.0));
    assert!(new.before.is_none() && !new.grows);
}

/// One word for a list: the gravest of what the records say.
#[test]
fn a_unit_has_a_course() {
    let course = |records| unit_history("T3-lever", records).course();
    let quiet = |day: &str| record(day, 1.0, 0.1, None, 10);
    let (first, second) = ("2026-01-01T00:00:00Z", "2027-01-01T00:00:00Z");
    assert_eq!(course(vec![quiet(first)]), Course::First);
    assert_eq!(course(vec![quiet(first), quiet(second)]), Course::Steady);
    let jumped = record(second, 3.0, 0.1, None, 10);
    assert_eq!(course(vec![quiet(first), jumped]), Course::Changed);
    let worn = record(second, 3.0, 0.1, Some((38.0, 44.0, 5.0)), 10);
    assert_eq!(course(vec![quiet(first), worn.clone()]), Course::Wearing);
    let mut as_before = worn.clone();
    as_before.taken = Some("2026-06-01T00:00:00Z".to_owned());
    as_before.assessment.capture.sha256 = None;
    assert_eq!(course(vec![as_before, worn]), Course::Steady);
}
