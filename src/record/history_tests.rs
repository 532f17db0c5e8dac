use super::*;
use crate::record::Step;
use measure::figure::FigureName;
use measure::seasons::Meant;
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

/// Long after every record here.
const NOW: &str = "2031-01-01T00:00:00Z";

fn unit_history(tag: &str, records: Vec<Record>) -> UnitHistory {
    super::unit_history(tag, records, NOW.parse().unwrap())
}

fn by(step: Option<&Step>) -> f64 {
    step.unwrap().change.by
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
    assert!((by(series.last_step.as_ref()) - 1.0).abs() < 1e-9 && series.stands_out());
    assert!((series.trend().unwrap().slope - 1.0).abs() < 1e-9);
    let reach = series.reach.unwrap();
    assert_eq!(reach.meant, Meant::About);
    let at = history.date(reach.time).unwrap();
    assert_eq!(at.strftime("%Y-%m-%d").to_string(), "2028-12-31");
    // What did not change is not marked.
    let rest = history
        .series
        .iter()
        .find(|s| s.figure == FigureName::RestRatio);
    assert!(!rest.unwrap().stands_out());
}

#[test]
fn one_record_two_records_and_none() {
    let history = unit_history("T3-lever", Vec::new());
    assert!(history.series.is_empty() && history.date(1.0).is_none());
    let one = unit_history(
        "T3-lever",
        vec![record("2026-01-01T00:00:00Z", 1.0, 0.1, None, 10)],
    );
    assert_eq!(
        (scatter(&one).last_step.clone(), scatter(&one).trend()),
        (None, None)
    );
    let two = unit_history(
        "T3-lever",
        vec![
            record("2027-01-01T00:00:00Z", 1.05, 0.1, None, 10),
            record("2026-01-01T00:00:00Z", 1.0, 0.1, None, 10),
        ],
    );
    // Sorted by time; within the noise; no trend through two.
    assert!((by(scatter(&two).last_step.as_ref()) - 0.05).abs() < 1e-9);
    assert!(!scatter(&two).stands_out() && scatter(&two).trend().is_none());
}

/// By hand: 4 codes of 12 bits are 1 of 10.
#[test]
fn codes_of_other_bits_are_scaled_and_of_another_reference_left_out() {
    let mut records = vec![
        record("2026-01-01T00:00:00Z", 4.0, 0.4, None, 12),
        record("2027-01-01T00:00:00Z", 1.0, 0.1, None, 10),
    ];
    // The finding gives the limit as it was applied: 16 codes of 12 bits.
    records[0].assessment.findings[0].max = Some(16.0);
    let history = unit_history("T3-lever", records.clone());
    let values: Vec<f64> = scatter(&history)
        .points
        .iter()
        .map(|p| p.figure.value)
        .collect();
    assert_eq!(values, [1.0, 1.0]);
    assert_eq!(
        scatter(&history).last_step.as_ref().unwrap().differs,
        ["bits"]
    );
    records[0].board.vref_mv = 3300.0;
    let history = unit_history("T3-lever", records);
    assert_eq!(
        (scatter(&history).points.len(), scatter(&history).left_out),
        (1, 1)
    );
    assert!(
        matches!(
            history.remarks[..],
            [Remark::OtherReference { records: 1, .. }]
        ),
        "{:?}",
        history.remarks
    );
    let rest = history
        .series
        .iter()
        .find(|s| s.figure == FigureName::RestRatio)
        .unwrap();
    assert_eq!((rest.points.len(), rest.left_out), (1, 1));
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
    // By hand: four edges of 1 % each make 2 %, 1.96 times that 3.9 %.
    assert!(story((38.0, 42.0, 4.0), (36.0, 44.0, 4.0)).grows);
    assert!(!story((38.0, 42.0, 4.0), (37.0, 43.0, 4.0)).grows);
    // Seven strokes by four bins: a logarithm of 0.5/28 + 0.5/28, 1.96 times its root is a factor of 1.45.
    assert!(story((38.0, 42.0, 4.0), (38.0, 42.0, 5.9)).grows);
    assert!(!story((38.0, 42.0, 4.0), (38.0, 42.0, 5.7)).grows);
    assert!(!story((38.0, 42.0, 4.0), (38.0, 43.0, 4.5)).grows);
    let new = story((38.0, 42.0, 4.0), (60.0, 66.0, 4.0));
    assert!(new.before.is_none() && !new.grows);
}

/// Wear does not heal.
#[test]
fn a_zone_that_is_gone_is_told_when_it_was_looked_for() {
    let worn = record(
        "2026-01-01T00:00:00Z",
        1.0,
        0.1,
        Some((38.0, 42.0, 4.0)),
        10,
    );
    let mut quiet = record("2027-01-01T00:00:00Z", 1.0, 0.1, None, 10);
    let history = unit_history("T3-lever", vec![worn.clone(), quiet.clone()]);
    assert!(history.zones.is_empty(), "no strokes at the last record");
    let channel = quiet.assessment.channels.get_mut("lever").unwrap();
    let count = channel.figures["return_scatter"].clone();
    channel.figures.insert("worn_zones_count".to_owned(), count);
    let history = unit_history("T3-lever", vec![worn, quiet]);
    assert!(history.zones[0].now.is_none() && history.course() == Course::Vanished);
}

/// One quantity over years: the values, one a year, with +-0.01.
fn yearly(values: &[f64]) -> UnitHistory {
    let records = values
        .iter()
        .zip(2020..)
        .map(|(value, year)| record(&format!("{year}-05-01T00:00:00Z"), *value, 0.01, None, 10));
    unit_history("T3-lever", records.collect())
}

#[test]
fn a_jump_has_a_day_and_no_date_and_stays_in_the_story() {
    let history = yearly(&[1.0, 1.01, 2.0, 2.01, 1.99]);
    let series = scatter(&history);
    assert_eq!((series.jumped_at, series.reach), (Some(2), None));
    assert_eq!(series.jumps.len(), 1);
    assert!(!series.stands_out() && (series.jumps[0].change.by - 0.99).abs() < 1e-9);
    // A course that moves steadily has no jumps.
    let steady = yearly(&[1.0, 1.5, 2.0, 2.5, 3.0]);
    assert!(scatter(&steady).jumps.is_empty() && scatter(&steady).reach.is_some());
}

/// t^2 / 9 from 1: 4 is reached after 5.2 years.
#[test]
fn what_gets_faster_is_dated_at_the_latest() {
    let history = yearly(&[1.0, 1.11, 1.44, 2.0, 2.78]);
    let reach = scatter(&history).reach.unwrap();
    assert!(
        reach.meant == Meant::AtTheLatest && reach.time > 5.19,
        "{reach:?}"
    );
}

#[test]
fn a_few_hours_give_no_date() {
    let records = (0..5).map(|i| {
        record(
            &format!("2026-05-01T0{i}:00:00Z"),
            1.0 + 0.5 * f64::from(i),
            0.01,
            None,
            10,
        )
    });
    assert_eq!(
        scatter(&unit_history("T3-lever", records.collect())).reach,
        None
    );
}

#[test]
fn clocks_copies_and_spellings_are_told() {
    let good = |taken: &str| record(taken, 1.0, 0.1, None, 10);
    let mut undated = good("1970-01-01T00:00:07Z");
    undated.kept = "2028-02-01T00:00:00Z".parse().unwrap();
    let mut other = good("2027-01-01T00:00:00Z");
    other.assessment.unit.tag = Some("t3-lever ".to_owned());
    let mut copy = good("2026-01-01T00:00:00Z");
    copy.assessment.unit.profile = Some("another".to_owned());
    let records = vec![
        good("2026-01-01T00:00:00Z"),
        copy,
        other,
        undated,
        good("2099-01-01T00:00:00Z"),
    ];
    let history = unit_history("T3-lever", records);
    let days: Vec<String> = history
        .entries
        .iter()
        .map(|e| e.when.strftime("%Y").to_string())
        .collect();
    assert_eq!(days, ["2026", "2027", "2028"]);
    assert_eq!(history.entries.iter().filter(|e| !e.dated).count(), 1);
    let kinds = |test: fn(&Remark) -> bool| history.remarks.iter().filter(|r| test(r)).count();
    assert_eq!(kinds(|r| matches!(r, Remark::Future { .. })), 1);
    assert_eq!(kinds(|r| matches!(r, Remark::Undated { .. })), 1);
    assert_eq!(kinds(|r| matches!(r, Remark::Profiles { .. })), 1);
    assert_eq!(kinds(|r| matches!(r, Remark::Spelled { .. })), 1);
    // Nothing is dated by a clock that was not set.
    assert!(scatter(&history).trend().is_none());
}

#[test]
fn a_profile_with_other_limits_than_before_was_edited() {
    let mut first = record("2026-01-01T00:00:00Z", 1.0, 0.1, None, 10);
    first.assessment.findings[0].max = Some(3.0);
    let history = unit_history(
        "T3-lever",
        vec![first, record("2027-01-01T00:00:00Z", 1.0, 0.1, None, 10)],
    );
    let Some(Remark::Edited { figures, .. }) = history.remarks.first() else {
        panic!("{:?}", history.remarks);
    };
    assert_eq!(figures, &["lever return_scatter"]);
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
