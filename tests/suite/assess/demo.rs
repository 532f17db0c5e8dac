//! `demo` without a screen: the whole card on every simulated unit, and the right verdict for the right reason.
#![cfg(unix)]

use crate::support::program::pedalproof;
use serde_json::Value;

fn demo(unit: &str) -> (Option<i32>, Value, String) {
    let dir = tempfile::tempdir().unwrap();
    let ran = pedalproof(
        dir.path(),
        &format!("demo {unit} --json --speed 6 --seed 11"),
    );
    let words = String::from_utf8_lossy(&ran.stderr).into_owned();
    let json =
        serde_json::from_slice(&ran.stdout).unwrap_or_else(|e| panic!("{unit}: {e}: {words}"));
    (ran.status.code(), json, words)
}

fn failed(json: &Value) -> Vec<&str> {
    let findings = json["findings"].as_array().unwrap();
    findings
        .iter()
        .filter(|f| f["outcome"] == "fail")
        .map(|f| f["figure"].as_str().unwrap())
        .collect()
}

fn value(json: &Value, channel: &str, figure: &str) -> f64 {
    json["channels"][channel]["figures"][figure]["value"]
        .as_f64()
        .unwrap()
}

#[test]
fn a_good_pedal_passes_and_reads_what_its_sheet_would_say() {
    let (code, json, words) = demo("T1-pedal");
    assert_eq!(
        (code, &json["verdict"]),
        (Some(0), &Value::from("pass")),
        "{words}"
    );
    // Common practice, no source: 0.8 V released and 4.2 V pressed on 5 V and 10 bits are 163.84 and 860.16 codes;
    // track 2 at half of that.
    for (channel, rest, full) in [("pedal_a", 163.84, 860.16), ("pedal_b", 81.92, 430.08)] {
        assert!(
            (value(&json, channel, "rest_code") - rest).abs() < 1.5,
            "{channel} rest"
        );
        assert!(
            (value(&json, channel, "full_code") - full).abs() < 0.5,
            "{channel} full"
        );
    }
    for counted in ["worn_zones_count", "dropouts_count"] {
        assert!(value(&json, "pedal_a", counted).abs() < 0.5, "{counted}");
    }
    let gain = json["pairs"]["pedal_a/pedal_b"]["figures"]["track_gain"]["value"]
        .as_f64()
        .unwrap();
    assert!((gain - 0.5).abs() < 0.01, "gain {gain}");
    assert_eq!(json["capture"]["missing"], 0);
    assert!(words.contains("5/5 shake"), "progress is told: {words}");
}

#[test]
fn a_sticky_pedal_fails_for_its_return() {
    let (code, json, _) = demo("T2-pedal");
    assert_eq!(code, Some(1));
    assert_eq!(failed(&json), ["return_scatter"]);
}

#[test]
fn a_loose_dial_fails_for_its_dropouts() {
    let (code, json, _) = demo("T4-dial");
    assert_eq!(code, Some(1));
    assert_eq!(failed(&json), ["dropouts_count"]);
    let dropouts = json["channels"]["dial"]["dropouts"].as_array().unwrap();
    // A lifted wiper of a rheostat with a pull-up reads the supply.
    assert!(dropouts.iter().all(|d| d["towards"] == "supply"));
}

#[test]
fn a_worn_lever_fails_for_its_wear() {
    let (code, json, _) = demo("T3-lever");
    assert_eq!(code, Some(1));
    assert!(
        failed(&json).contains(&"worn_zones_count"),
        "{:?}",
        failed(&json)
    );
}

#[test]
fn good_dials_and_levers_pass() {
    for unit in ["T1-dial", "T1-lever"] {
        let (code, json, words) = demo(unit);
        assert_eq!(code, Some(0), "{unit}: {words} {}", json["findings"]);
    }
}

#[test]
fn an_unknown_unit_is_told_with_the_known_ones() {
    let dir = tempfile::tempdir().unwrap();
    let ran = pedalproof(dir.path(), "demo T9");
    assert_eq!(ran.status.code(), Some(2));
    let words = String::from_utf8_lossy(&ran.stderr).into_owned();
    assert!(
        words.contains("'T9'") && words.contains("T1-pedal"),
        "{words}"
    );
}
