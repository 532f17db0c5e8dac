//! What must never be called ready: evidence that was edited, mixed up or outdated.

use super::support::{Page, add, cut, dated, evidence, examples, is, page, rows};
use crate::support::program::{changed, pedalproof, stderr};
use serde_json::Value;
use std::path::Path;

/// T1 with another recording of its faults than the one that proved it.
fn with_faults(change: impl Fn(u64, &mut Vec<String>)) -> Page {
    let dir = examples();
    let dir = dir.path();
    rows(dir, "T1-faults.csv", change);
    evidence(dir, |all| all.truncate(4));
    let (code, message) = add(dir, "T1.json", &["T1-faults.csv"]);
    assert_eq!(code, 0, "{message}");
    page(dir, "T1.json")
}

const OUTPUT: usize = 5;
const ENABLE: usize = 6;

/// When the example's faults were made: the reset's second press, and after the power dip with the pedal still held.
const SECOND_PRESS_US: std::ops::Range<u64> = 124_200_000..125_500_000;
const AFTER_THE_DIP_US: std::ops::Range<u64> = 131_400_000..132_400_000;
/// From the first wire on until the last was whole again.
const WIRES_US: std::ops::Range<u64> = 3_000_000..109_302_000;

fn runs(row: &mut [String]) {
    "389".clone_into(&mut row[OUTPUT]);
    "900".clone_into(&mut row[ENABLE]);
}

fn fails(now: &Page, words: &str) {
    let got = (now.code, now.state("fault proof"));
    let why = now.why("fault proof");
    assert_eq!(got, (1, "failed".to_owned()), "{why}");
    assert!(why.contains(words), "{why}");
}

#[test]
fn a_board_that_runs_again_after_a_reset_or_a_dip_is_not_ready() {
    let reset = with_faults(|t, row| {
        if SECOND_PRESS_US.contains(&t) {
            runs(row);
        }
    });
    fails(&reset, "stays off after a reset while it is pressed");
    let dip = with_faults(|t, row| {
        if AFTER_THE_DIP_US.contains(&t) {
            runs(row);
        }
    });
    fails(&dip, "stays off after a short loss of power");
}

#[test]
fn an_enable_line_that_stays_on_or_an_output_too_high_is_not_ready() {
    let enable = with_faults(|t, row| {
        if WIRES_US.contains(&t) {
            "900".clone_into(&mut row[ENABLE]);
        }
    });
    fails(&enable, "the enable line falls when it stops");
    let high = with_faults(|_, row| {
        let is: u32 = row[OUTPUT].parse().unwrap();
        row[OUTPUT] = (is * 8 / 5).min(1023).to_string();
    });
    fails(&high, "contradicts: A0: points of its curve");
}

/// The dial is turned down by hand in three seconds where its wire should have been pulled; the board follows. Its curve as in the
/// constants: code and command in 32768ths.
#[test]
fn a_dial_turned_to_its_end_is_no_broken_wire() {
    const KNOTS: [(f64, f64); 7] = [
        (59.0, 0.0),
        (63.0, 78.0),
        (274.0, 5346.0),
        (422.0, 11245.0),
        (530.0, 17780.0),
        (611.0, 24925.0),
        (674.0, 32768.0),
    ];
    let command = |code: f64| {
        let piece = KNOTS.windows(2).find(|pair| code <= pair[1].0);
        let [(from, low), (to, high)] = piece.map_or([KNOTS[6]; 2], |pair| [pair[0], pair[1]]);
        if code <= from {
            return low / 32768.0;
        }
        (low + (high - low) * (code - from) / (to - from)) / 32768.0
    };
    let asked = 66_590_000..73_551_000;
    let now = with_faults(|t, row| {
        if !asked.contains(&t) {
            return;
        }
        #[allow(clippy::cast_precision_loss)] // microseconds
        let turned = ((t - asked.start) as f64 / 3e6).min(1.0);
        let dial = (562.0 - (562.0 - 31.0) * turned).round();
        let pedal = (580.0 - 191.0) / (833.0 - 191.0);
        let output = (pedal * command(dial) * 1023.0).floor();
        for (at, value) in [
            (2, 580.0),
            (3, 290.0),
            (4, dial),
            (OUTPUT, output),
            (ENABLE, 900.0),
        ] {
            row[at] = value.to_string();
        }
    });
    let why = now.why("fault proof");
    assert_eq!(
        (now.code, now.state("fault proof")),
        (3, "missing".to_owned()),
        "{why}"
    );
    assert!(
        why.contains("not made") && why.contains("stops when its signal wire breaks"),
        "{why}"
    );
}

#[test]
fn proofs_do_not_count_for_constants_made_after_them() {
    let dir = examples();
    let dir = dir.path();
    let captures = "constants T1-pedal.csv T1-dial.csv --format json --out T1-2.block.json";
    let ran = pedalproof(dir, &format!("{captures} --persistence 20"));
    assert!(ran.status.success(), "{}", stderr(&ran));
    for files in [
        ["T1-2.block.json"].as_slice(),
        &["T1-output.csv", "T1-faults.csv"],
    ] {
        let (code, message) = add(dir, "T1.json", files);
        assert_eq!(code, 0, "{message}");
    }
    let now = page(dir, "T1.json");
    assert_eq!((now.code, now.state("constants")), (3, "done".to_owned()));
    for link in ["output proof", "fault proof"] {
        is(
            &now,
            link,
            "stale",
            "this proof is of constants with check sum",
        );
    }
}

/// Constants cannot be made before the recordings that they are made from.
#[test]
fn a_proof_recorded_before_its_controls_does_not_count() {
    let dir = examples();
    let dir = dir.path();
    dated(dir, "T1-pedal", "T1-pedal-2", "2026-05-01", cut);
    let captures = "constants T1-pedal-2.csv T1-dial.csv --format json --out T1-2.block.json";
    let ran = pedalproof(dir, captures);
    assert!(ran.status.success(), "{}", stderr(&ran));
    evidence(dir, Vec::clear);
    let files = [
        "T1-pedal-2.csv",
        "T1-dial.csv",
        "T1-2.block.json",
        "T1-output.csv",
    ];
    let (code, message) = add(dir, "T1.json", &files);
    assert_eq!(code, 0, "{message}");
    let now = page(dir, "T1.json");
    is(&now, "constants", "done", "check sum");
    is(
        &now,
        "output proof",
        "stale",
        "before pedal was measured for these constants (1 May 2026)",
    );
}

/// One track of the pedal that reaches to the end of the scale: nothing is left for a window.
fn near_the_end(dir: &Path) {
    let profile = pedalproof(dir, "profile write pedal-hall-one-track --out p.json");
    assert!(profile.status.success(), "{}", stderr(&profile));
    let text = std::fs::read_to_string(dir.join("p.json")).unwrap();
    let mut profile: Value = serde_json::from_str(&text).unwrap();
    let limits = profile["tracks"]["1"]["limits"].as_object_mut().unwrap();
    for limit in ["rest_ratio", "full_ratio"] {
        assert!(limits.remove(limit).is_some());
    }
    std::fs::write(dir.join("p.json"), profile.to_string()).unwrap();
    changed(
        dir,
        "T1-pedal",
        "A",
        |meta| {
            let mut meta: Value = serde_json::from_str(&meta).unwrap();
            meta["url"] = "A.csv".into();
            meta["tableSchema"]["columns"]
                .as_array_mut()
                .unwrap()
                .truncate(3);
            let own = &mut meta["pedalproof"];
            own["channels"].as_object_mut().unwrap().remove("pedal_b");
            own["unit"] = serde_json::json!({"tag": "A", "profile": "p.json"});
            meta.to_string()
        },
        |table| {
            let rows = table.lines().map(|line| {
                let row: Vec<&str> = line.split(',').collect();
                let code = row[2].parse::<f64>().map_or_else(
                    |_| row[2].to_owned(),
                    |code| ((code - 164.0) * 1.29 + 110.0).round().to_string(),
                );
                format!("{},{},{code}\n", row[0], row[1])
            });
            rows.collect()
        },
    );
}

#[test]
fn what_stood_against_the_constants_is_not_forgotten() {
    let dir = examples();
    let dir = dir.path();
    near_the_end(dir);
    let ran = pedalproof(dir, "machine new M.json --name m --control pedal=p.json");
    assert!(ran.status.success(), "{}", stderr(&ran));
    for (format, file) in [("ihex", "A.hex"), ("json", "A.json")] {
        let ran = pedalproof(
            dir,
            &[
                &[
                    "constants",
                    "A.csv",
                    "--profile",
                    "p.json",
                    "--accept",
                    "a trial in the yard",
                ],
                &["--format", format, "--out", file][..],
            ]
            .concat(),
        );
        assert!(ran.status.success(), "{}", stderr(&ran));
    }
    let (code, message) = add(dir, "M.json", &["A.csv", "A.hex"]);
    assert_eq!(code, 0, "{message}");
    let now = page(dir, "M.json");
    is(&now, "control pedal", "done", "");
    is(
        &now,
        "wiring pedal",
        "failed",
        "unsafe, and the board does not notice: let go, ",
    );
    is(&now, "constants", "failed", "can drive the motor");
    let (code, message) = add(dir, "M.json", &["A.json"]);
    assert_eq!(code, 0, "{message}");
    let now = page(dir, "M.json");
    is(&now, "wiring pedal", "done", "a trial in the yard");
    is(&now, "constants", "done", "a trial in the yard");
}

#[test]
fn what_was_proved_with_laxer_limits_is_refused() {
    let dir = examples();
    let dir = dir.path();
    rows(dir, "T1-output.csv", |_, row| {
        let is: u32 = row[OUTPUT].parse().unwrap();
        row[OUTPUT] = (is * 13 / 10).min(1023).to_string();
    });
    let prove = "prove --block T1.block.json T1-output.csv --within-pct 60 --json";
    std::fs::write(dir.join("out.json"), pedalproof(dir, prove).stdout).unwrap();
    let (code, message) = add(dir, "T1.json", &["out.json"]);
    assert_eq!(code, 2, "{message}");
    assert!(
        message.contains("within 60 %") && message.contains("add T1-output.csv itself"),
        "{message}"
    );
}

#[test]
fn constants_that_were_edited_are_seen_in_every_number() {
    let dir = examples();
    let dir = dir.path();
    let ran = pedalproof(dir, "constants T1-pedal.csv T1-dial.csv --json");
    let mut whole: Value = serde_json::from_slice(&ran.stdout).unwrap();
    whole["block"]["watch"] =
        serde_json::json!({"supply": {"low": 0, "high": 1023}, "read_back": 4095});
    whole["block"]["start"]["samples"] = 1.into();
    whole["block"]["inputs"][1]["check"]["offset"] = 3.into();
    whole["block"]["inputs"][2]["factor"]["filter_shift"] = 0.into();
    std::fs::write(dir.join("edited.json"), whole.to_string()).unwrap();
    add(dir, "T1.json", &["edited.json"]);
    let now = page(dir, "T1.json");
    for place in [
        "watch.supply",
        "watch.read_back",
        "start.samples",
        "check.offset",
        "filter_shift",
    ] {
        is(&now, "constants", "failed", place);
    }
    whole["block"]["persistence"] = 60_000.into();
    std::fs::write(dir.join("late.json"), whole.to_string()).unwrap();
    add(dir, "T1.json", &["late.json"]);
    let now = page(dir, "T1.json");
    is(&now, "constants", "failed", "a fault persistence of 60000");
}

#[test]
fn two_recordings_that_contradict_each_other_are_not_ready() {
    let dir = examples();
    let dir = dir.path();
    // It never comes back all the way: both ends are 60 codes too high.
    dated(dir, "T1-pedal", "T1-pedal-2", "2026-04-10", |table| {
        let rows = table.lines().zip(0..).map(|(line, n)| {
            let row: Vec<&str> = line.split(',').collect();
            match n {
                0 => format!("{line}\n"),
                _ => format!(
                    "{},{},{},{}\n",
                    row[0],
                    row[1],
                    row[2].parse::<u32>().unwrap() + 60,
                    row[3]
                ),
            }
        });
        rows.collect()
    });
    let (code, message) = add(dir, "T1.json", &["T1-pedal-2.csv"]);
    assert_eq!(code, 0, "{message}");
    let now = page(dir, "T1.json");
    assert_eq!(now.code, 3, "{}", now.json);
    is(
        &now,
        "control pedal",
        "missing",
        "T1-pedal-2.csv was added later and is dated earlier",
    );
    assert!(
        now.part("control pedal", "next")
            .contains("measure pedal again")
    );
}

#[test]
fn a_time_that_has_not_come_is_not_believed() {
    let dir = examples();
    let dir = dir.path();
    dated(dir, "T1-pedal", "T1-pedal-2", "2096-04-11", cut);
    let (code, message) = add(dir, "T1.json", &["T1-pedal-2.csv"]);
    assert_eq!(code, 2, "{message}");
    assert!(
        message.contains("11 Apr 2096, which has not come yet"),
        "{message}"
    );
    evidence(dir, |all| all[0]["taken"] = "2096-04-11T09:30:00Z".into());
    let now = page(dir, "T1.json");
    is(&now, "control pedal", "missing", "which has not come yet");
    assert_ne!(now.code, 0);
}

#[test]
fn one_recording_is_of_one_control() {
    let dir = examples();
    let dir = dir.path();
    let (code, message) = add(dir, "T1.json", &["T1-pedal.csv", "--control", "dial"]);
    assert_eq!(code, 2, "{message}");
    assert!(
        message.contains("the recording of pedal already"),
        "{message}"
    );
    let ran = pedalproof(dir, "constants T1-dial.csv T1-dial.csv");
    assert_eq!(ran.status.code(), Some(2), "{}", stderr(&ran));
    assert!(
        stderr(&ran).contains("the same recording"),
        "{}",
        stderr(&ran)
    );
    // In a file that was written before that was refused.
    evidence(dir, |all| {
        let mut twice = all[1].clone();
        twice["control"] = "pedal".into();
        twice["taken"] = "2026-04-11T10:00:00Z".into();
        all.push(twice);
    });
    is(
        &page(dir, "T1.json"),
        "control pedal",
        "failed",
        "the recording of dial, too",
    );
}
