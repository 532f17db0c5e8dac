//! Five units through the real binary: the live card on a pseudo-terminal, then `assess` of the capture that it left.
//! A good one passes; a worn, a sticky, a dropping and a turned one fail, each for its own reason.
#![cfg(unix)]

use crate::support::program::program;
use serde_json::Value;
use std::path::Path;

fn pedalproof(dir: &Path, arguments: &[&str]) -> (Option<i32>, Value, String) {
    let ran = program(dir).args(arguments).output().unwrap();
    let words = String::from_utf8_lossy(&ran.stderr).into_owned();
    let json = serde_json::from_slice(&ran.stdout)
        .unwrap_or_else(|e| panic!("{arguments:?}: {e}: {words}"));
    (ran.status.code(), json, words)
}

/// A unit gone through its card and assessed again from its file: exit code, assessment, what the metadata says.
fn taken(unit: &str, seed: &str) -> (Option<i32>, Value, Value) {
    let dir = tempfile::tempdir().unwrap();
    let demo = [
        "demo", unit, "--json", "--speed", "6", "--seed", seed, "--out", unit,
    ];
    let (live_code, live, words) = pedalproof(dir.path(), &demo);
    let csv = format!("{unit}.csv");
    let (code, again, _) = pedalproof(dir.path(), &["assess", &csv, "--json"]);
    assert_eq!(live_code, code, "{unit}: {words}");
    assert_eq!(
        live["findings"], again["findings"],
        "{unit}: the screen and the file say the same"
    );
    let meta = std::fs::read(dir.path().join(format!("{csv}-metadata.json"))).unwrap();
    let meta: Value = serde_json::from_slice(&meta).unwrap();
    println!(
        "{unit}: {} after {:.1} s of bench time, look {} of {}",
        again["verdict"],
        again["capture"]["duration_s"].as_f64().unwrap(),
        meta["pedalproof"]["looks"]["taken"],
        meta["pedalproof"]["looks"]["planned"],
    );
    (code, again, meta)
}

/// The failed figures with their reasons and advice.
fn failed(assessment: &Value) -> Vec<(String, String, String)> {
    let words = |finding: &Value, key: &str| finding[key].as_str().unwrap_or_default().to_owned();
    let findings = assessment["findings"].as_array().unwrap();
    findings
        .iter()
        .filter(|finding| finding["outcome"] == "fail")
        .map(|f| (words(f, "figure"), words(f, "reason"), words(f, "advice")))
        .collect()
}

fn names(failed: &[(String, String, String)]) -> Vec<&str> {
    failed
        .iter()
        .map(|(figure, _, _)| figure.as_str())
        .collect()
}

#[test]
fn a_good_pedal_passes_early_and_says_which_interval_was_judged() {
    let (code, assessment, meta) = taken("T1-pedal", "3");
    assert_eq!(code, Some(0), "{}", assessment["findings"]);
    let seconds = assessment["capture"]["duration_s"].as_f64().unwrap();
    assert!(seconds < 90.0, "{seconds} s of bench time");
    let looks = &meta["pedalproof"]["looks"];
    assert_eq!(looks["planned"], 4);
    let taken = looks["taken"].as_u64().unwrap();
    let message = format!("early check {taken} of 4, ");
    let findings = assessment["findings"].as_array().unwrap();
    // A count has no interval.
    let measured = findings
        .iter()
        .filter(|f| !f["figure"].as_str().unwrap().ends_with("_count"));
    for finding in measured {
        assert!(
            finding["reason"].as_str().unwrap().contains(&message),
            "{finding}"
        );
    }
}

#[test]
fn a_worn_lever_fails_for_its_worn_zones() {
    let (code, assessment, _) = taken("T3-lever", "3");
    assert_eq!(code, Some(1));
    let failed = failed(&assessment);
    assert_eq!(names(&failed), ["worn_zones_count"], "{failed:?}");
    // Worn by construction from 30 to 41 % and from 72 to 76 % of travel.
    let zones = assessment["channels"]["lever"]["worn_zones"]
        .as_array()
        .unwrap();
    let overlaps = |from: f64, to: f64| {
        zones.iter().any(|zone| {
            zone["from_pct"].as_f64().unwrap() < to && from < zone["to_pct"].as_f64().unwrap()
        })
    };
    assert!(overlaps(30.0, 41.0), "{zones:?}");
}

#[test]
fn a_sticky_pedal_fails_for_where_it_returns_to() {
    let (code, assessment, _) = taken("T2-pedal", "3");
    assert_eq!(code, Some(1));
    let failed = failed(&assessment);
    assert_eq!(names(&failed), ["return_scatter"], "{failed:?}");
    assert!(
        failed[0].1.contains("clearly above the limit of 4"),
        "{failed:?}"
    );
}

#[test]
fn a_loose_dial_fails_for_its_dropouts() {
    let (code, assessment, _) = taken("T4-dial", "3");
    assert_eq!(code, Some(1));
    let failed = failed(&assessment);
    assert_eq!(names(&failed), ["dropouts_count"], "{failed:?}");
    assert!(
        failed[0].1.contains("clearly above the limit of 0"),
        "{failed:?}"
    );
}

#[test]
fn a_lever_with_swapped_wires_fails_for_moving_the_wrong_way_round() {
    let (code, assessment, _) = taken("T2-lever", "3");
    assert_eq!(code, Some(1));
    let failed = failed(&assessment);
    assert_eq!(names(&failed), ["rest_ratio", "full_ratio"], "{failed:?}");
    for (figure, reason, advice) in &failed {
        assert!(
            reason.contains("it moves the wrong way round: from rest to full its code falls from"),
            "{figure}: {reason}"
        );
        assert!(advice.contains("swapped"), "{figure}: {advice}");
    }
}
