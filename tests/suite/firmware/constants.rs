//! `constants` and `blend` through the program, on captures of simulated units: every format reads back to the same block,
//! whatever does not belong together is refused with both sides named.

use super::support::captures::{taken, write, write_unit};
use crate::support::program::program;
use pedalproof::constants::formats::Format;
use pedalproof::profile;
use pedalproof::twin::blend;
use serde_json::Value;
use simulator::scenario;
use std::path::Path;

struct Ran {
    code: Option<i32>,
    out: String,
    words: String,
}

fn run(dir: &Path, arguments: &[&str]) -> Ran {
    let ran = program(dir).args(arguments).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    Ran {
        code: ran.status.code(),
        out: text(ran.stdout),
        words: text(ran.stderr),
    }
}

/// Words without their line breaks.
fn flat(words: &str) -> String {
    words.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[track_caller]
fn refused(ran: &Ran, code: i32, sides: &[&str]) {
    let words = flat(&ran.words);
    assert_eq!(ran.code, Some(code), "{words}");
    for side in sides {
        assert!(words.contains(side), "`{side}` is not in: {words}");
    }
    assert_eq!(ran.out, "", "a refusal writes no block");
}

#[test]
fn pedal_and_dial_in_every_format_and_back() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let (pedal, dial) = (
        write_unit(dir, "T1-pedal", 3),
        write_unit(dir, "T1-dial", 3),
    );
    let mut blocks = Vec::new();
    for format in ["c", "ihex", "json"] {
        let write = [
            "constants",
            &pedal,
            &dial,
            "--format",
            format,
            "--out",
            format,
            "--why",
        ];
        let ran = run(dir, &write);
        assert_eq!(ran.code, Some(0), "{}", ran.words);
        let text = std::fs::read_to_string(dir.join(format)).unwrap();
        blocks.push(Format::of(&text).read(&text).unwrap());
        let back = run(dir, &["constants", "--read", format]);
        assert_eq!(back.code, Some(0), "{}", back.words);
        assert!(back.out.contains("input 2"), "{}", back.out);
        let again = run(dir, &write);
        refused(&again, 2, &["is already there and is not overwritten"]);
        let words = flat(&ran.words);
        for said in [
            "why:",
            "margin:",
            "drive wheels off the ground",
            "ISO 16269-6",
            "FAULTS THAT THE LIMITS MISS",
            "WHAT TO DO",
        ] {
            assert!(words.contains(said), "{said}");
        }
    }
    assert!(blocks.iter().all(|block| *block == blocks[0]));
    let json = run(dir, &["constants", &pedal, &dial, "--json"]);
    let told: Value = serde_json::from_str(&json.out).unwrap();
    assert_eq!(told["format"], "constants/1");
    assert_eq!(
        told["block"],
        serde_json::to_value(blocks[0].numbers()).unwrap()
    );
    assert_eq!(
        told["inputs"],
        serde_json::json!(["pedal_a", "pedal_b", "dial"])
    );
    assert!(told["choices"].as_array().unwrap().iter().all(|choice| {
        choice["reason"].as_str().unwrap().len() > 10 && !choice["margin"]["words"].is_null()
    }));
    every_number_has_its_choice(&told);
    // Of the dial the wiring table hides its short to ground, and says so beforehand.
    let hidden = told["hidden"].as_array().unwrap();
    let short = hidden
        .iter()
        .find(|fault| fault["channel"] == "dial" && fault["fault"] == "signal-ground short");
    let change = short.unwrap()["change"].as_str().unwrap();
    assert!(
        change.starts_with("gone with ") && change.contains("at the track's ground end"),
        "{change}"
    );
}

/// Each number of the block, but the board's own, is among the choices with its value.
fn every_number_has_its_choice(told: &Value) {
    let value = |place: &str| {
        let choices = told["choices"].as_array().unwrap();
        let found = choices.iter().find(|choice| choice["place"] == place);
        found.unwrap_or_else(|| panic!("no choice for {place}"))["value"].as_f64()
    };
    let block = &told["block"];
    for place in ["zero_dac", "full_dac", "rise_q15", "fall_q15"] {
        assert_eq!(
            value(&format!("output.{place}")),
            block["output"][place].as_f64()
        );
    }
    assert_eq!(value("persistence"), block["persistence"].as_f64());
    assert_eq!(value("start.samples"), block["start"]["samples"].as_f64());
    for (i, input) in block["inputs"].as_array().unwrap().iter().enumerate() {
        for side in ["low", "high"] {
            assert_eq!(
                value(&format!("inputs[{i}].window.{side}")),
                input["window"][side].as_f64()
            );
        }
        if let Some(factor) = input.get("factor") {
            for part in ["rest_edge", "full_edge", "filter_shift"] {
                assert_eq!(
                    value(&format!("inputs[{i}].factor.{part}")),
                    factor[part].as_f64()
                );
            }
        } else {
            for part in ["offset", "band"] {
                assert_eq!(
                    value(&format!("inputs[{i}].check.{part}")),
                    input["check"][part].as_f64()
                );
            }
        }
    }
}

#[test]
fn what_does_not_belong_together_is_refused_with_both_sides() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let (pedal, dial) = (
        write_unit(dir, "T1-pedal", 3),
        write_unit(dir, "T1-dial", 3),
    );
    let swapped = run(
        dir,
        &[
            "constants",
            &dial,
            &pedal,
            "--profile",
            "pedal-hall-two-track",
            "--profile",
            "dial-rheostat",
        ],
    );
    refused(
        &swapped,
        2,
        &[
            "T1-dial.csv was taken of a dial",
            "is for a pedal",
            "changed over",
        ],
    );
    let other = run(
        dir,
        &[
            "constants",
            &pedal,
            &dial,
            "--tag",
            "T2-pedal",
            "--tag",
            "T1-dial",
        ],
    );
    refused(&other, 2, &["of part T1-pedal", "--tag says T2-pedal"]);
    let board = run(dir, &["constants", &pedal, &dial, "--board-bits", "12"]);
    refused(&board, 2, &["with 10 bits", "the board has 12"]);
    let small = run(dir, &["constants", &pedal, &dial, "--core-inputs", "2"]);
    refused(
        &small,
        2,
        &["3 inputs", "built for 2", "INPUTS=3", "--core-inputs 3"],
    );
    let mut fine = taken(&scenario("T1-dial").unwrap(), 3);
    fine.meta.board.bits = 12;
    write(&fine, &dir.join("fine.csv"));
    let mixed = run(dir, &["constants", &pedal, "fine.csv"]);
    refused(
        &mixed,
        2,
        &[
            "T1-pedal.csv was taken with 10 bits",
            "fine.csv with 12 bits",
        ],
    );
    let lost = run(dir, &["constants", &pedal, "--profile", "dial-rheostat"]);
    refused(&lost, 2, &["taken of a pedal", "is for a dial"]);
    // Without a profile in the capture a pedal held against a dial's profile fails for its levels.
    let mut nameless = taken(&scenario("T1-pedal").unwrap(), 3);
    nameless.meta.unit.profile = None;
    write(&nameless, &dir.join("nameless.csv"));
    refused(
        &run(dir, &["constants", "nameless.csv"]),
        2,
        &["names no profile", "--profile"],
    );
    let wrong = run(
        dir,
        &["constants", "nameless.csv", "--profile", "dial-rheostat"],
    );
    refused(
        &wrong,
        1,
        &[
            "fails, checked as \"rheostat dial with pull-up\"",
            "rest ratio",
        ],
    );
    refused(
        &run(dir, &["constants", &pedal, &dial, "--tag", "T1-pedal"]),
        2,
        &["2 recordings and 1 tags"],
    );
}

#[test]
fn a_damaged_file_is_refused_by_name() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let pedal = write_unit(dir, "T1-pedal", 4);
    let made = run(
        dir,
        &["constants", &pedal, "--format", "ihex", "--out", "b.hex"],
    );
    assert_eq!(made.code, Some(0), "{}", made.words);
    let twelve = run(dir, &["constants", "--read", "b.hex", "--board-bits", "12"]);
    refused(&twelve, 2, &["b.hex", "ADC of 10 bits", "the board has 12"]);
    let one = run(dir, &["constants", "--read", "b.hex", "--core-inputs", "1"]);
    refused(&one, 2, &["2 inputs", "built for 1"]);
    let text = std::fs::read_to_string(dir.join("b.hex")).unwrap();
    let mut bytes: Vec<Vec<u8>> = Vec::new();
    for line in text.lines() {
        if let Ok(ihex::Record::Data { value, .. }) = ihex::Record::from_record_string(line) {
            bytes.push(value);
        }
    }
    bytes[1][3] ^= 1;
    let mut records: Vec<ihex::Record> = (0_u16..)
        .step_by(16)
        .zip(bytes)
        .map(|(offset, value)| ihex::Record::Data { offset, value })
        .collect();
    records.push(ihex::Record::EndOfFile);
    let flipped = ihex::create_object_file_representation(&records).unwrap();
    std::fs::write(dir.join("flipped.hex"), flipped).unwrap();
    refused(
        &run(dir, &["constants", "--read", "flipped.hex"]),
        2,
        &["flipped.hex", "check sum"],
    );
    refused(
        &run(dir, &["blend", "--block", "flipped.hex"]),
        2,
        &["flipped.hex", "check sum"],
    );
    refused(
        &run(dir, &["blend", "--block", "b.hex", "--at", "pedal=1024"]),
        2,
        &["10 bits", "end at 1023"],
    );
    refused(
        &run(dir, &["blend", "--block", "b.hex", "--at", "knob=4"]),
        2,
        &["no input `knob`", "pedal"],
    );
    refused(
        &run(dir, &["blend", "--block", "none.hex"]),
        2,
        &["none.hex"],
    );
}

#[test]
fn a_unit_that_fails_needs_a_reason_that_stays_with_the_block() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let sticky = write_unit(dir, "T2-pedal", 5);
    let ran = run(dir, &["constants", &sticky]);
    refused(&ran, 1, &["T2-pedal.csv fails", "return scatter"]);
    for format in ["c", "json"] {
        let ran = run(
            dir,
            &[
                "constants",
                &sticky,
                "--accept",
                "bench trial, wheels up",
                "--format",
                format,
            ],
        );
        if ran.code == Some(1) {
            // The edges of a pedal that returns so badly may leave no travel at all: then no reason helps.
            assert!(
                flat(&ran.words).contains("the edges would"),
                "{}",
                ran.words
            );
            continue;
        }
        assert_eq!(ran.code, Some(0), "{}", ran.words);
        assert!(
            ran.out.contains("ACCEPTED: bench trial, wheels up"),
            "{}",
            ran.out
        );
        assert!(ran.out.contains("in spite of: T2-pedal.csv fails"));
        Format::of(&ran.out).read(&ran.out).unwrap();
    }
    let ran = run(
        dir,
        &[
            "constants",
            &sticky,
            "--accept",
            "trial",
            "--format",
            "ihex",
        ],
    );
    assert!(
        ran.code == Some(1) || ran.words.contains("Intel HEX has no place for a comment"),
        "{}",
        ran.words
    );
    refused(
        &run(dir, &["constants", &sticky, "--accept", " "]),
        2,
        &["--accept needs a reason"],
    );
}

#[test]
fn a_short_capture_is_undecided_or_not_enough() {
    let dir = tempfile::tempdir().unwrap();
    let mut capture = taken(&scenario("T1-pedal").unwrap(), 6);
    let rest_only = capture.passages[0].range.end;
    capture.passages.truncate(1);
    capture.t_us.truncate(rest_only);
    capture
        .codes
        .iter_mut()
        .for_each(|column| column.truncate(rest_only));
    write(&capture, &dir.path().join("rest.csv"));
    let ran = run(dir.path(), &["constants", "rest.csv"]);
    refused(&ran, 3, &["the full end was not measured", "`full` step"]);
}

#[test]
fn blend_says_what_a_point_gives() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let (pedal, dial) = (
        write_unit(dir, "T1-pedal", 3),
        write_unit(dir, "T1-dial", 3),
    );
    let made = run(dir, &["constants", &pedal, &dial, "--out", "b.h"]);
    assert_eq!(made.code, Some(0), "{}", made.words);
    let text = std::fs::read_to_string(dir.join("b.h")).unwrap();
    let block = Format::of(&text).read(&text).unwrap();
    let asked = [
        "blend",
        "--block",
        "b.h",
        "--at",
        "pedal=512,dial=300",
        "--at",
        "dial=1000",
    ];
    let ran = run(dir, &asked);
    assert_eq!(ran.code, Some(0), "{}", ran.words);
    let dac = blend::at(&block, &[(0, 512), (2, 300)]).unwrap().dac;
    assert!(
        ran.out
            .contains(&format!("at pedal=512, dial=300: DAC code {dac},")),
        "{}",
        ran.out
    );
    // What was asked for comes before the tables.
    assert!(ran.out.starts_with("at pedal=512"), "{}", ran.out);
    assert!(
        ran.out.contains("at dial=1000: a fault: the board stops"),
        "{}",
        ran.out
    );
    assert!(
        ran.out
            .lines()
            .all(|line| line.is_ascii() && line.len() <= 80),
        "{}",
        ran.out
    );
    assert!(ran.out.contains("drive wheels off the"));
    let told = run(dir, &[&asked[..], &["--json"]].concat());
    let told: Value = serde_json::from_str(&told.out).unwrap();
    assert_eq!(told["at"][0]["dac"], u64::from(dac));
    assert_eq!(
        (&told["at"][1]["stops"], &told["at"][1]["dac"]),
        (&Value::Bool(true), &Value::Null)
    );
}

/// A lever's broken ground wire reads near its full end while it stands at rest, inside every window, and is caught at the far end of
/// travel only: by hand, 100 kohm of pull-down under what is left of 20 kohm of track (4 % of it below the wiper) and 1.5 kohm are 0.828 of the reference.
#[test]
fn a_fault_that_drives_the_motor_at_rest_is_refused_unless_accepted() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let lever = write_unit(dir, "T1-lever", 3);
    let ran = run(dir, &["constants", &lever]);
    refused(
        &ran,
        1,
        &[
            "with the control let go",
            "ground wire open (1",
            "nothing on this board notices",
        ],
    );
    let accepted = [
        "constants",
        &lever,
        "--accept",
        "bench only",
        "--format",
        "json",
    ];
    let ran = run(dir, &accepted);
    assert_eq!(ran.code, Some(0), "{}", ran.words);
    assert!(ran.out.contains("ACCEPTED: bench only"), "{}", ran.out);
    let json = run(dir, &[&accepted[..4], &["--json"]].concat());
    let told: Value = serde_json::from_str(&json.out).unwrap();
    let open = told["hidden"].as_array().unwrap().iter();
    let open = open
        .clone()
        .find(|fault| fault["fault"] == "ground wire open");
    let at_rest = open.unwrap()["at_rest_pct"].as_f64().unwrap();
    assert!((90.0..=100.0).contains(&at_rest), "{at_rest}");
}

/// A lever without its pull-down: an open signal wire floats, and no window can ever catch that.
#[test]
fn a_floating_wire_is_among_what_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let lever = write_unit(dir, "T1-lever", 3);
    let text = profile::BUILT_IN
        .iter()
        .find(|(name, _)| *name == "lever-shunting")
        .unwrap()
        .1;
    let mut bare: Value = serde_json::from_str(text).unwrap();
    let wiring = bare["tracks"]["1"]["wiring"].as_object_mut().unwrap();
    assert!(wiring.shift_remove("pull_down_ohm").is_some());
    std::fs::write(dir.join("bare.json"), bare.to_string()).unwrap();
    let ran = run(dir, &["constants", &lever, "--profile", "bare.json"]);
    refused(&ran, 1, &["signal wire open (100 %)"]);
}

/// Two knobs and no pedal: the first one starts the board, so that its broken ground wire is refused as a lever's is.
#[test]
fn of_two_knobs_the_first_must_not_drive_at_rest() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let text = profile::BUILT_IN
        .iter()
        .find(|(name, _)| *name == "lever-shunting")
        .unwrap()
        .1;
    let mut knob: Value = serde_json::from_str(text).unwrap();
    knob["kind"] = "dial".into();
    std::fs::write(dir.join("knob.json"), knob.to_string()).unwrap();
    for (name, seed) in [("A", 3), ("B", 4)] {
        let mut capture = taken(&scenario("T1-lever").unwrap(), seed);
        capture.meta.unit.profile = None;
        write(&capture, &dir.join(format!("{name}.csv")));
    }
    let knobs = ["--profile", "knob.json", "--profile", "knob.json"];
    let two = run(
        dir,
        &[&["constants", "A.csv", "B.csv"], &knobs[..]].concat(),
    );
    refused(&two, 1, &["with the control let go", "ground wire open (1"]);
    // One that only limits brings nothing by itself.
    let pedal = write_unit(dir, "T1-pedal", 3);
    let profiles = [
        "--profile",
        "knob.json",
        "--profile",
        "pedal-hall-two-track",
    ];
    let limits = run(
        dir,
        &[&["constants", "A.csv", &pedal], &profiles[..]].concat(),
    );
    assert_eq!(limits.code, Some(0), "{}", limits.words);
}

/// Crossed tracks, let go, whose signal wires touch: both read the middle, 50 %, and agree. Tracks of half slope do not.
#[test]
fn tracks_that_touch_are_not_forgotten() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let mut crossed = taken(&scenario("T1-pedal").unwrap(), 3);
    crossed.codes[1] = crossed.codes[0]
        .iter()
        .map(|code| measure::units::Code(1024 - code.0))
        .collect();
    write(&crossed, &dir.join("crossed.csv"));
    let ran = run(
        dir,
        &[
            "constants",
            "crossed.csv",
            "--profile",
            "pedal-hall-crossed",
        ],
    );
    refused(&ran, 1, &["signal 1-signal 2 short (5", "let go"]);
    let half = write_unit(dir, "T1-pedal", 3);
    let ran = run(dir, &["constants", &half]);
    assert_eq!(ran.code, Some(0), "{}", ran.words);
}

#[test]
fn what_stays_dangerous_comes_first_and_the_commands_to_prove_it_last() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let (pedal, dial) = (
        write_unit(dir, "T1-pedal", 3),
        write_unit(dir, "T1-dial", 3),
    );
    // The format is that of the name.
    let ran = run(dir, &["constants", &pedal, &dial, "--out", "T1.hex"]);
    let hex = std::fs::read_to_string(dir.join("T1.hex")).unwrap();
    assert!(hex.starts_with(':'), "{hex}");
    let words = flat(&ran.words);
    let dangers = words.matches("DANGEROUS: ").count();
    let first = format!(
        "WHAT TO DO > {dangers} dangerous faults stay unnoticed (listed below): read them before you flash."
    );
    assert!(dangers > 1 && words.contains(&first), "{words}");
    for said in [
        "`pedalproof prove --block T1.hex --port PORT --out T1-board`",
        "`pedalproof prove --block T1.hex --port PORT --faults --out T1-faults`",
        "supply too high below 204 codes (its reference reads lower then)",
    ] {
        assert!(words.contains(said), "{said}: {words}");
    }
    let unwritten = run(dir, &["constants", &pedal, &dial]);
    assert!(
        !unwritten.words.contains("pedalproof prove"),
        "{}",
        unwritten.words
    );
    let other = ["constants", &pedal, "--format", "c", "--out", "T2.hex"];
    refused(
        &run(dir, &other),
        2,
        &["--format c and --out T2.hex do not agree", "T2.h"],
    );
    assert!(!dir.join("T2.hex").exists());
}

#[test]
fn a_file_of_another_kind_is_told_for_what_it_is() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let pedal = write_unit(dir, "T1-pedal", 3);
    let name = pedal.trim_end_matches(".csv");
    let metadata = format!("{pedal}-metadata.json");
    for (arguments, says) in [
        (
            vec!["assess", name],
            format!("There is no {name}. Did you mean {pedal}?"),
        ),
        (
            vec!["assess", &metadata],
            format!("This is the metadata of {pedal}: give that."),
        ),
        (
            vec!["machine", &pedal],
            format!("{pedal} is a recording, not a machine's file (NAME.json)"),
        ),
        (
            vec!["blend", "--block", &pedal],
            format!("{pedal} is no constants file (.hex, .h, .json)"),
        ),
        (
            vec!["prove"],
            "say what to measure: --port PORT, --demo, or a recording".to_owned(),
        ),
        (
            vec!["prove", "--faults"],
            "say what to measure: --port PORT, --demo, or a recording".to_owned(),
        ),
        (
            vec!["prove", &pedal],
            "say what the board was flashed with: --block T1.hex".to_owned(),
        ),
    ] {
        refused(&run(dir, &arguments), 2, &[&says]);
    }
}
