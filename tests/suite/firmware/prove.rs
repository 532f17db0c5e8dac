//! `prove` end to end: a simulated flashed board over a pseudo-terminal, captures that cannot be judged, refusals.
#![cfg(unix)]
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // of known range

use super::support::blocks;
use super::support::proofs::{Take, number, outcome, prove};
use crate::support::program::program;
use pedalproof::bench::{FlashedBoard, Hand, trolley_block};
use pedalproof::constants::formats;
use pedalproof::link::{Overflow, Pace, PtyBoard};
use pedalproof::proof::{Fault, Trial};
use serde_json::Value;

/// Runs the binary on a board on a pseudo-terminal; exit code, stdout as JSON, stderr.
fn on_port(board: FlashedBoard, more: &[&str]) -> (i32, Value, String) {
    let board = PtyBoard::start(board, Pace::Times(8.0), Overflow::Wait).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("block.hex");
    std::fs::write(&file, formats::to_ihex(&trolley_block().unwrap())).unwrap();
    let ran = program(folder.path())
        .args(["prove", "--json", "--baud", "1000000", "--block"])
        .arg(&file)
        .arg("--port")
        .arg(board.path())
        .args(more)
        .output()
        .unwrap();
    let words = String::from_utf8_lossy(&ran.stderr).into_owned();
    let json = serde_json::from_slice(&ran.stdout).unwrap_or(Value::Null);
    (ran.status.code().unwrap(), json, words)
}

fn board(script: Vec<Hand>) -> FlashedBoard {
    FlashedBoard::new(&trolley_block().unwrap(), script, 1000.0, 5).unwrap()
}

#[test]
fn a_good_board_on_a_port_passes() {
    let (code, json, words) = on_port(board(Hand::comparing()), &["--seconds", "27"]);
    assert_eq!(
        (code, json["format"].as_str()),
        (0, Some("proof/1")),
        "{words}"
    );
    assert!(words.contains("drive wheels off the ground"), "{words}");
    assert_eq!(json["capture"]["sha256"].as_str().unwrap().len(), 64);
    assert_eq!(json["block"]["crc"].as_str().unwrap().len(), 4);
    let figure = &json["figures"]["settled_departure"];
    for part in ["value", "unit", "u", "low", "high", "n", "method"] {
        assert!(!figure[part].is_null(), "{part}: {figure}");
    }
}

#[test]
fn a_round_is_led_by_the_signal_alone() {
    let faults = Trial::round(&trolley_block().unwrap(), &[Fault::Open, Fault::Supply]);
    let (code, json, words) = on_port(
        board(Hand::faults(&faults)),
        &[
            "--faults",
            "--yes",
            "--round",
            "open,supply",
            "--profile",
            "pedal-hall-two-track",
        ],
    );
    assert_eq!(code, 0, "{words} {json}");
    let order = [
        "Let everything rest",
        "Keep holding. Unplug PEDAL A, pin A0.",
        "Plug PEDAL A, pin A0, in again",
        "switch the board's power off and on",
        "Keep holding. Connect PEDAL A, pin A0, to the supply.",
        "Keep holding. Unplug DIAL, pin A2.",
        "That was all",
    ];
    let places: Vec<usize> = order
        .iter()
        .map(|part| {
            words
                .find(part)
                .unwrap_or_else(|| panic!("{part}: {words}"))
        })
        .collect();
    assert!(places.is_sorted(), "{words}");
    // stop_within_ms of the profile is the limit.
    let time = json["findings"]
        .as_array()
        .unwrap()
        .iter()
        .find(|finding| finding["figure"] == "time_to_zero")
        .unwrap();
    assert!((number(&time["max"]) - 50.0).abs() < 1e-9, "{time}");
}

#[test]
fn a_board_that_begins_anew_fails_the_round() {
    let (code, json, words) = on_port(
        board(Hand::faults(&[Fault::Ground.on(0)])).without_latch(),
        &["--faults", "--yes", "--round", "ground"],
    );
    assert_eq!(code, 1, "{words} {json}");
    assert_eq!(outcome(&json, "ground", "latched"), "fail");
}

#[test]
fn faults_are_not_begun_without_a_yes() {
    let (code, _, words) = on_port(board(Hand::faults(&[Fault::Open.on(0)])), &["--faults"]);
    assert_eq!(code, 2);
    assert!(
        words.contains("--yes") && words.contains("wheels"),
        "{words}"
    );
}

/// One input, 164 to 860 on DAC 0 to 4095: worked by hand. Rows of (pedal, output) for so many samples, 10 bits.
fn take(parts: &[(u64, u32, u32)]) -> Take {
    let codes = parts
        .iter()
        .flat_map(|(n, pedal, output)| (0..*n).map(|_| vec![*pedal, *output]));
    Take {
        bits: 10,
        columns: ["pedal", "output"].map(str::to_owned).to_vec(),
        rows: (0..).map(|n| n * 1000).zip(codes).collect(),
    }
}

fn one_input() -> pedalproof::constants::Block {
    blocks::block(blocks::draft(vec![blocks::factor(
        0,
        1023,
        164,
        860,
        &[],
        0,
    )]))
}

/// (512 - 164) / 696 = 1/2: 2048 of 4096, code 512. 338: 1/4, 256. 686: 3/4, 768. 860: 1023.
#[test]
fn hand_worked_places_pass_and_one_that_is_off_fails() {
    let right = [
        (200, 512, 512),
        (300, 160, 0),
        (300, 338, 256),
        (300, 512, 512),
        (300, 599, 640),
        (300, 686, 768),
        (300, 860, 1023),
    ];
    let proof = prove(&one_input(), &take(&right), None, &[]);
    assert_eq!(proof.code, 0, "{} {}", proof.json, proof.words);
    let mut wrong = right;
    wrong[5].2 = 788; // 20 codes of 1023: 1.95 %
    let proof = prove(&one_input(), &take(&wrong), None, &[]);
    assert_eq!(
        (
            proof.code,
            outcome(&proof.json, "output", "settled_departure").as_str()
        ),
        (1, "fail"),
        "{}",
        proof.json
    );
    let worst = number(&proof.json["figures"]["settled_departure"]["value"]);
    assert!((worst - 1.95).abs() < 0.15, "{worst}");
    let looser = prove(&one_input(), &take(&wrong), None, &["--within-pct", "3"]);
    assert_eq!(looser.code, 0, "{}", looser.json);
}

#[test]
fn a_peak_while_moving_is_found() {
    let mut is = take(&[
        (300, 512, 512),
        (300, 164, 0),
        (300, 338, 256),
        (300, 512, 512),
        (300, 599, 640),
        (300, 686, 768),
        (300, 860, 1023),
    ]);
    is.rows[700].1[1] = 300;
    let proof = prove(&one_input(), &is, None, &[]);
    assert_eq!(
        (
            proof.code,
            outcome(&proof.json, "output", "moving_departure").as_str()
        ),
        (1, "fail"),
        "{}",
        proof.json
    );
    // Code 300 is 299.5 or more; the block allows at most what pedal code 339 + 0.9 (3 sd of its quantisation) asks: code 340,
    // (340 - 164) / 696 of 1024 = 258.9. 40.6 codes of 1023.75 are 3.96 %.
    let off = number(&proof.json["figures"]["moving_departure"]["value"]);
    assert!((off - 3.96).abs() < 0.2, "{off}");
}

#[test]
fn order_that_is_broken_is_found() {
    let is = take(&[
        (300, 512, 512),
        (300, 164, 0),
        (300, 338, 300),
        (300, 370, 256),
        (300, 599, 640),
        (300, 686, 768),
        (300, 860, 1023),
    ]);
    let proof = prove(&one_input(), &is, None, &[]);
    assert_eq!(
        outcome(&proof.json, "output", "order_breaks"),
        "fail",
        "{}",
        proof.json
    );
}

/// Nothing to judge by is undecided, never a pass.
#[test]
fn what_cannot_be_judged_is_undecided() {
    // Never above zero: it may be stopped.
    let dead = prove(
        &one_input(),
        &take(&[(300, 164, 0), (300, 512, 0), (300, 860, 0)]),
        None,
        &[],
    );
    assert_eq!(dead.code, 3, "{}", dead.json);
    assert!(dead.json["notes"].to_string().contains("never left zero"));
    assert!(dead.json["figures"]["settled_departure"].is_null());
    // One place only.
    let one = prove(&one_input(), &take(&[(900, 512, 512)]), None, &[]);
    assert_eq!(
        (one.code, outcome(&one.json, "output", "covered").as_str()),
        (3, "undecided"),
        "{}",
        one.json
    );
    // Never still.
    let moving = Take {
        rows: (0..1400)
            .map(|n| {
                (
                    n * 1000,
                    vec![164 + (n as u32 % 696), ((n as u32 % 696) * 1023 / 696)],
                )
            })
            .collect(),
        ..take(&[])
    };
    assert_eq!(prove(&one_input(), &moving, None, &[]).code, 3);
    // Running, and then nothing though the pedal is held: that is a fail.
    let lost = prove(
        &one_input(),
        &take(&[(600, 512, 512), (600, 512, 0)]),
        None,
        &[],
    );
    assert_eq!(lost.code, 1, "{}", lost.json);
}

#[test]
fn what_does_not_go_together_is_refused_with_both_sides() {
    let two = prove(&blocks::straight(), &take(&[(30, 164, 0)]), None, &[]);
    assert_eq!(two.code, 2);
    assert!(
        two.words.contains("2 inputs") && two.words.contains("1 signal"),
        "{}",
        two.words
    );
    let single = prove(&one_input(), &take(&[(1, 164, 0)]), None, &[]);
    assert!(
        single.code == 2 && single.words.contains("1 samples"),
        "{}",
        single.words
    );
    let high = prove(
        &one_input(),
        &take(&[(30, 164, 0)]),
        None,
        &["--dac-vref-mv", "6000"],
    );
    assert!(
        high.code == 2 && high.words.contains("5999 mV") && high.words.contains("5000 mV"),
        "{}",
        high.words
    );
    let mut none = take(&[(30, 164, 0)]);
    none.columns[1] = "other".to_owned();
    let none = prove(&one_input(), &none, None, &[]);
    assert!(
        none.code == 2 && none.words.contains("--output"),
        "{}",
        none.words
    );
    let named = prove(
        &one_input(),
        &take(&[(30, 164, 0)]),
        None,
        &["--inputs", "lever"],
    );
    assert!(
        named.code == 2 && named.words.contains("lever") && named.words.contains("pedal"),
        "{}",
        named.words
    );
    let nan = prove(
        &one_input(),
        &take(&[(30, 164, 0)]),
        None,
        &["--within-pct", "NaN"],
    );
    assert_eq!(nan.code, 2);
}

/// Wires were pulled, and the file of marks stayed behind: what that does to the verdict is said.
#[test]
fn a_round_without_its_marks_says_that_they_are_missing() {
    use crate::support::program::{pedalproof, stdout};
    let dir = tempfile::tempdir().unwrap();
    pedalproof(dir.path(), "examples .");
    let told = |file: &str| {
        let text = stdout(&pedalproof(
            dir.path(),
            &format!("prove --block T1.block.json {file}"),
        ));
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(text.contains("constants"), "{text}");
        text.matches("no marks say that a wire was pulled").count()
    };
    assert_eq!([told("T1-output.csv"), told("T1-faults.csv")], [0, 0]);
    std::fs::remove_file(dir.path().join("T1-faults.csv.proof.json")).unwrap();
    assert!(told("T1-faults.csv") >= 1);
}
