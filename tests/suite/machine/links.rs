//! The links: bare, one step after the other, ready; then everything that makes one fail or go stale.

use super::support::{IN_TIME, TOO_LATE, add, examples, page, page_on};
use crate::support::program::{changed, example, pedalproof, stderr};
use pedalproof::bench::{flashed_recording, trolley_block, write_capture};
use pedalproof::constants::{Block, Task, formats};
use pedalproof::proof::Fault;
use std::path::Path;

/// A bare T1 in a folder that has the files of the ready one.
fn bare(dir: &Path) {
    std::fs::remove_file(dir.join("T1.json")).unwrap();
    let ran = pedalproof(
        dir,
        &[
            "machine",
            "new",
            "T1.json",
            "--name",
            "trolley T1",
            "--control",
            "pedal=pedal-hall-two-track",
            "--control",
            "dial=dial-rheostat",
        ],
    );
    assert!(ran.status.success(), "{}", stderr(&ran));
}

/// Measured with the machine's own streamer a pedal has the board's output beside it, and is a recording of the pedal all the same.
#[test]
fn a_part_measured_with_the_output_beside_it_is_no_proof() {
    let dir = examples();
    let dir = dir.path();
    bare(dir);
    let column = r#"{"name": "output", "titles": "output", "datatype": "nonNegativeInteger"}"#;
    changed(
        dir,
        "T1-pedal",
        "wide",
        |text| {
            text.replace("T1-pedal.csv", "wide.csv")
                .replacen("      }\n    ]", &format!("      }},\n{column}\n    ]"), 1)
                .replace(
                    "\"channels\": {",
                    "\"channels\": { \"output\": {\"role\": \"output\"},",
                )
        },
        |text| {
            let rows = text.lines().zip(0..).map(|(line, n)| match n {
                0 => format!("{line},output\n"),
                _ => format!("{line},655\n"),
            });
            rows.collect()
        },
    );
    let (code, message) = add(dir, "T1.json", &["wide.csv"]);
    assert_eq!(code, 0, "{message}");
    assert!(
        message.contains("wide.csv, a recording of pedal"),
        "{message}"
    );
    assert_eq!(page(dir, "T1.json").state("control pedal"), "done");
}

/// What the program writes fits the schema that it gives, and what it refuses does not.
#[test]
fn the_schema_is_that_of_what_is_written() {
    let dir = examples();
    let schema = pedalproof(dir.path(), "machine schema");
    let schema = serde_json::from_slice(&schema.stdout).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let text = std::fs::read_to_string(dir.path().join("T1.json")).unwrap();
    let machine: serde_json::Value = serde_json::from_str(&text).unwrap();
    let faults: Vec<String> = validator
        .iter_errors(&machine)
        .map(|e| e.to_string())
        .collect();
    assert!(faults.is_empty(), "{faults:?}");
    for (member, value) in [
        ("format", serde_json::json!("machine/2")),
        ("controls", serde_json::json!([])),
        ("check_every_months", serde_json::json!(0)),
        ("another", serde_json::json!(1)),
    ] {
        let mut wrong = machine.clone();
        wrong[member] = value;
        assert!(!validator.is_valid(&wrong), "{member}");
    }
}

#[test]
fn from_bare_to_ready_and_until_the_next_check() {
    let dir = examples();
    let dir = dir.path();
    bare(dir);
    let now = page(dir, "T1.json");
    assert_eq!(now.code, 3, "{}", now.words);
    assert_eq!(
        now.states(),
        "missing missing done done missing missing missing missing"
    );
    assert!(
        now.next().contains("pedalproof record --port"),
        "{}",
        now.next()
    );

    let (code, message) = add(dir, "T1.json", &["T1-dial.csv", "T1-pedal.csv"]);
    assert_eq!(code, 0, "{message}");
    assert!(
        message.contains("T1-pedal.csv, a recording of pedal"),
        "{message}"
    );
    assert!(
        message.contains("T1-dial.csv, a recording of dial"),
        "{message}"
    );
    let now = page(dir, "T1.json");
    assert_eq!(
        now.states(),
        "done done done done missing missing missing done"
    );
    // The next thing is one line that can be typed as it stands.
    let next = now.next();
    let command = next.split_once("pedalproof ").unwrap().1;
    let command = command.split(" && ").next().unwrap();
    std::fs::remove_file(dir.join("T1.block.json")).unwrap();
    let ran = pedalproof(dir, &command.split_whitespace().collect::<Vec<_>>());
    assert!(ran.status.success(), "{command}: {}", stderr(&ran));

    let (code, message) = add(dir, "T1.json", &["T1-faults.csv", "T1.block.json"]);
    assert_eq!(code, 0, "{message}");
    let now = page(dir, "T1.json");
    assert_eq!((now.code, now.state("constants")), (3, "done".to_owned()));
    assert_eq!(
        now.state("fault proof"),
        "done",
        "{}",
        now.why("fault proof")
    );
    assert!(
        now.next()
            .contains("pedalproof prove --block T1.block.json"),
        "{}",
        now.next()
    );

    assert_eq!(now.state("output proof"), "missing");
    add(dir, "T1.json", &["T1-output.csv"]);
    let ready = page(dir, "T1.json");
    assert_eq!(ready.code, 0, "{}", ready.json);
    assert_eq!(ready.json["ready"], true);
    assert!(ready.next().contains("Apr 2027"), "{}", ready.next());
    let faults = ready.why("fault proof");
    assert!(
        faults.ends_with("cannot notice: when A2's signal wire touches ground"),
        "{faults}"
    );

    let later = page_on(dir, "T1.json", TOO_LATE);
    assert_eq!(
        (later.code, later.state("check due")),
        (3, "stale".to_owned())
    );
    assert!(later.next().contains("record"), "{}", later.next());
}

#[test]
fn the_worn_lever_and_its_unsafe_wiring_fail() {
    let dir = examples();
    let now = page(dir.path(), "T3.json");
    assert_eq!(now.code, 1, "{}", now.words);
    assert_eq!(now.state("control lever"), "failed");
    assert!(
        now.why("control lever").contains("worn"),
        "{}",
        now.why("control lever")
    );
    // By hand (diagnose::dangers): 848 of 1023 at rest, where full is 885.
    assert_eq!(now.state("wiring lever"), "failed");
    assert!(now.why("wiring lever").contains("ground wire breaks"));
    assert_eq!(now.json["ready"], false);
    let ran = pedalproof(dir.path(), &["machine", "T3.json", "--on", IN_TIME]);
    let message = String::from_utf8(ran.stdout).unwrap();
    let first = "trolley T3: NOT READY: something failed\nNEXT  see what is wrong";
    assert!(message.starts_with(first), "{message}");
    assert!(message.contains("drive wheels off the ground"), "{message}");
}

/// Of two knobs the first starts the machine: what drives with it let go is no less unsafe than with a lever.
#[test]
fn of_two_knobs_the_first_one_must_not_drive_at_rest() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let text = pedalproof::profile::BUILT_IN
        .iter()
        .find(|(name, _)| *name == "lever-shunting")
        .unwrap()
        .1;
    let knob = text.replacen("\"lever\"", "\"dial\"", 1);
    std::fs::write(dir.join("knob.json"), knob).unwrap();
    let controls = ["--control", "one=knob.json", "--control", "two=knob.json"];
    let new = ["machine", "new", "M.json", "--name", "two knobs"];
    let ran = pedalproof(dir, &[&new[..], &controls].concat());
    assert!(ran.status.success(), "{}", stderr(&ran));
    let now = page(dir, "M.json");
    assert_eq!(now.state("wiring one"), "failed", "{}", now.json);
    assert_eq!(now.state("wiring two"), "done", "{}", now.json);
}

/// The controls need not come in the order that the examples have: a dial on the first pin, the pedal's tracks behind it.
#[test]
fn a_machine_with_the_dial_first_can_be_ready() {
    let dir = examples();
    let dir = dir.path();
    let controls = [
        "--control",
        "dial=dial-rheostat",
        "--control",
        "pedal=pedal-hall-two-track",
    ];
    let new = ["machine", "new", "X.json", "--name", "X"];
    let made = [
        "constants",
        "T1-dial.csv",
        "T1-pedal.csv",
        "--format",
        "json",
        "--out",
        "X.block.json",
    ];
    for arguments in [[&new[..], &controls].concat(), made.to_vec()] {
        let ran = pedalproof(dir, &arguments);
        assert!(ran.status.success(), "{}", stderr(&ran));
    }
    let text = std::fs::read_to_string(dir.join("X.block.json")).unwrap();
    let block = formats::from_json(&text).unwrap();
    for (faults, file) in [(&[][..], "X-output.csv"), (&Fault::ALL[..], "X-faults.csv")] {
        let (capture, marks) = flashed_recording(&block, faults, 1).unwrap();
        write_capture(&capture, &dir.join(file)).unwrap();
        if !faults.is_empty() {
            std::fs::write(dir.join(format!("{file}.proof.json")), marks.to_json()).unwrap();
        }
    }
    let files = [
        "T1-dial.csv",
        "T1-pedal.csv",
        "X.block.json",
        "X-output.csv",
        "X-faults.csv",
    ];
    let (code, message) = add(dir, "X.json", &files);
    assert_eq!(code, 0, "{message}");
    let now = page(dir, "X.json");
    assert_eq!(
        now.state("fault proof"),
        "done",
        "{}",
        now.why("fault proof")
    );
    assert_eq!(now.code, 0, "{}", now.json);

    // By command with the profiles of both; with the pedal's alone, which says nothing of the dial's wires.
    let prove = |profiles: &[&str]| {
        let usual = ["prove", "X-faults.csv", "--block", "X.block.json", "--json"];
        let ran = pedalproof(dir, &[&usual[..], profiles].concat());
        let said: serde_json::Value = serde_json::from_slice(&ran.stdout).unwrap();
        assert_eq!(said["verdict"], "pass", "{}", said["headline"]);
        let told = said["rounds"].as_array().unwrap().iter();
        let told = told.filter(|round| !round["foretold"].is_null());
        let wires = told.map(|round| format!("{}.{}", round["input"], round["fault"]));
        wires.collect::<Vec<_>>().join(" ")
    };
    let pedal = ["--profile", "pedal-hall-two-track"];
    let both = [&["--profile", "dial-rheostat"][..], &pedal].concat();
    assert_eq!(prove(&both), "0.\"ground\"");
    assert_eq!(prove(&pedal), "");
}

/// The recording with its last sample gone: the same part, another file.
fn measured_again(dir: &Path, name: &str, as_name: &str, started: &str) {
    let table = std::fs::read_to_string(dir.join(format!("{name}.csv"))).unwrap();
    let cut = table.trim_end().rfind('\n').unwrap();
    std::fs::write(dir.join(format!("{as_name}.csv")), &table[..=cut]).unwrap();
    let meta = format!("{name}.csv-metadata.json");
    let meta = std::fs::read_to_string(dir.join(meta)).unwrap();
    let began = "2026-04-11T09:30:00Z";
    assert!(meta.contains(began));
    let meta = meta.replace(began, started);
    std::fs::write(dir.join(format!("{as_name}.csv-metadata.json")), meta).unwrap();
}

#[test]
fn what_was_measured_again_makes_what_rests_on_it_stale() {
    let dir = examples();
    let dir = dir.path();
    measured_again(dir, "T1-pedal", "T1-pedal-2", "2026-05-01T09:00:00Z");
    add(dir, "T1.json", &["T1-pedal-2.csv"]);
    let now = page(dir, "T1.json");
    assert_eq!(now.code, 3, "{}", now.json);
    assert_eq!(now.part("control pedal", "evidence"), "T1-pedal-2.csv");
    assert_eq!(now.states(), "done done done done stale stale stale done");
    assert!(now.why("constants").contains("pedal was measured again"));
    assert!(
        now.next().contains("T1-pedal-2.csv T1-dial.csv"),
        "{}",
        now.next()
    );
}

#[test]
fn a_file_that_changed_or_went_is_seen() {
    let dir = examples();
    let dir = dir.path();
    let cut = std::fs::read_to_string(dir.join("T1-dial.csv")).unwrap();
    let at = cut.trim_end().rfind('\n').unwrap();
    std::fs::write(dir.join("T1-dial.csv"), &cut[..=at]).unwrap();
    std::fs::remove_file(dir.join("T1-output.csv")).unwrap();
    let block = std::fs::read_to_string(dir.join("T1.block.json")).unwrap();
    std::fs::write(dir.join("T1.block.json"), block + "\n").unwrap();
    let now = page(dir, "T1.json");
    assert_eq!(now.code, 3, "{}", now.json);
    assert_eq!(now.states(), "done stale done done stale stale stale done");
    for link in ["control dial", "constants"] {
        assert!(
            now.why(link).contains("no longer the file"),
            "{}",
            now.why(link)
        );
    }
    assert!(now.why("output proof").contains("T1-output.csv"));
}

/// The machine's constants in every format that the program writes.
#[test]
fn constants_are_known_in_every_format() {
    let dir = examples();
    let dir = dir.path();
    for (format, file) in [("c", "T1.h"), ("ihex", "T1.hex")] {
        let captures = ["constants", "T1-pedal.csv", "T1-dial.csv"];
        let more = ["--format", format, "--out", file];
        let ran = pedalproof(dir, &[&captures[..], &more].concat());
        assert!(ran.status.success(), "{}", stderr(&ran));
    }
    let ran = pedalproof(dir, "constants T1-pedal.csv T1-dial.csv --json");
    std::fs::write(dir.join("T1-all.json"), &ran.stdout).unwrap();
    for file in ["T1.h", "T1.hex", "T1-all.json"] {
        let (code, message) = add(dir, "T1.json", &[file]);
        assert_eq!(code, 0, "{message}");
        assert!(
            message.contains(&format!("{file}, a constants file")),
            "{message}"
        );
    }
    let now = page(dir, "T1.json");
    assert_eq!(now.part("constants", "evidence"), "T1-all.json");
    // The same numbers: what was proved stays proved.
    assert_eq!(now.code, 0, "{}", now.json);
}

/// Writes the constants with an earlier rest edge, whole and with the same comment; gives the edge as it was.
fn edited(from: &Path, to: &Path) -> u16 {
    let text = std::fs::read_to_string(from).unwrap();
    let json: serde_json::Value = serde_json::from_str(&text).unwrap();
    let comment = json["comment"].as_array().unwrap().iter();
    let comment: Vec<&str> = comment.map(|line| line.as_str().unwrap()).collect();
    let mut fields = formats::from_json(&text).unwrap().numbers().clone();
    let Task::Factor(factor) = &mut fields.inputs[0].task else {
        panic!("the first input commands");
    };
    let edge = factor.rest_edge;
    factor.rest_edge -= 20;
    let block = Block::new(fields).unwrap();
    std::fs::write(to, formats::to_json(&block, &comment.join("\n"))).unwrap();
    edge
}

#[test]
fn constants_of_other_recordings_or_with_another_number_fail() {
    let dir = examples();
    let dir = dir.path();
    let captures = ["constants", "T1-pedal.csv", "--format", "json", "--out"];
    let ran = pedalproof(dir, &[&captures[..], &["half.json"]].concat());
    assert!(ran.status.success(), "{}", stderr(&ran));
    add(dir, "T1.json", &["half.json"]);
    let now = page(dir, "T1.json");
    assert_eq!((now.code, now.state("constants")), (1, "failed".to_owned()));

    let edge = edited(&dir.join("T1.block.json"), &dir.join("edited.json"));
    add(dir, "T1.json", &["edited.json"]);
    let now = page(dir, "T1.json");
    assert_eq!((now.code, now.state("constants")), (1, "failed".to_owned()));
    let why = now.why("constants");
    assert!(
        why.contains(&format!("rest_edge is {} and would be {edge}", edge - 20)),
        "{why}"
    );
    // What was proved is of the constants before.
    assert_eq!(
        now.state("output proof"),
        "stale",
        "{}",
        now.why("output proof")
    );
}

/// `dir/board.csv` and its marks: the trolley's block of the demo, which is not the machine's.
fn proof_json(dir: &Path) -> String {
    let block = trolley_block().unwrap();
    std::fs::write(dir.join("other.json"), formats::to_json(&block, "")).unwrap();
    let (capture, _) = flashed_recording(&block, &[], 1).unwrap();
    write_capture(&capture, &dir.join("board.csv")).unwrap();
    let ran = pedalproof(dir, "prove --json --block other.json board.csv");
    String::from_utf8(ran.stdout).unwrap()
}

#[test]
fn a_proof_of_another_block_is_seen_by_its_check_sum() {
    let dir = examples();
    let dir = dir.path();
    std::fs::write(dir.join("proof.json"), proof_json(dir)).unwrap();
    let (code, message) = add(dir, "T1.json", &["proof.json"]);
    assert_eq!(code, 0, "{message}");
    assert!(message.contains("proof.json, a proof"), "{message}");
    let now = page(dir, "T1.json");
    assert_eq!(
        (now.code, now.state("output proof")),
        (1, "failed".to_owned())
    );
    let why = now.why("output proof");
    assert!(why.contains("check sum"), "{why}");
    assert_eq!(now.state("fault proof"), "done");
}

#[test]
fn a_proof_that_left_a_fault_out_is_not_enough() {
    let dir = examples();
    let dir = dir.path();
    // As `prove` notes it when a step is left out: asked for, then skipped.
    let marks = dir.join("T1-faults.csv.proof.json");
    let text = std::fs::read_to_string(&marks).unwrap();
    let mut marked: serde_json::Value = serde_json::from_str(&text).unwrap();
    let list = marked["marks"].as_array_mut().unwrap();
    let last = list
        .iter()
        .rposition(|mark| mark["what"] == "asked")
        .unwrap();
    let fault = list[last]["fault"].as_str().unwrap().to_owned();
    list.truncate(last);
    std::fs::write(&marks, marked.to_string()).unwrap();
    let now = page(dir, "T1.json");
    assert_eq!(
        (now.code, now.state("fault proof")),
        (3, "missing".to_owned())
    );
    let why = now.why("fault proof");
    assert!(
        why.contains("stays off after a short loss of power") && why.contains("not shown"),
        "{fault}: {why}"
    );
    assert!(now.next().contains("--faults"), "{}", now.next());
}

#[test]
fn which_control_a_recording_is_of_is_seen_or_asked_for() {
    let dir = examples();
    let dir = dir.path();
    bare(dir);
    let (code, message) = add(dir, "T1.json", &["T1-pedal.csv", "--control", "dail"]);
    assert_eq!(code, 2);
    assert!(
        message.contains("no control `dail`") && message.contains("pedal, dial"),
        "{message}"
    );
    let (code, message) = add(dir, "T1.json", &["T3-lever-2022.csv"]);
    assert_eq!(code, 2);
    assert!(message.contains("--control NAME"), "{message}");
    let (code, _) = add(dir, "T1.json", &["T1.block.json", "--control", "pedal"]);
    assert_eq!(code, 2);
    // Changed over: it is taken as told, and the page says what is wrong.
    add(dir, "T1.json", &["T1-dial.csv", "--control", "pedal"]);
    let now = page(dir, "T1.json");
    assert_eq!(
        (now.code, now.state("control pedal")),
        (1, "failed".to_owned())
    );
    assert!(
        now.why("control pedal").contains("recorded as a dial"),
        "{}",
        now.why("control pedal")
    );
    let outside = example("T1-pedal");
    let (code, message) = add(dir, "T1.json", &[outside.to_str().unwrap()]);
    assert_eq!(code, 2);
    assert!(message.contains("copy it there first"), "{message}");
}
