//! Which recording counts: the one made last, whatever was said of it when, and in whatever order it was added.

use super::support::{add, cut, dated, evidence, examples, is, page, rows};
use crate::support::program::{pedalproof, stderr};
use serde_json::Value;
use std::path::Path;

const OUTPUT: usize = 5;
const ENABLE: usize = 6;

/// What T1's file begins with: pedal, dial, constants; then its proofs.
const UNPROVED: usize = 3;

/// One of T1's proofs once more, begun at another time.
fn proof(dir: &Path, name: &str, as_name: &str, began: &str) {
    let read = |name: &str| std::fs::read_to_string(dir.join(name)).unwrap();
    let mut meta: Value =
        serde_json::from_str(&read(&format!("{name}.csv-metadata.json"))).unwrap();
    meta["url"] = format!("{as_name}.csv").into();
    let was = &mut meta["pedalproof"]["started"];
    assert!(was.as_str().unwrap().starts_with("2026-04-11T12:"));
    *was = began.into();
    let beside = format!("{as_name}.csv-metadata.json");
    std::fs::write(dir.join(beside), meta.to_string()).unwrap();
    std::fs::copy(
        dir.join(format!("{name}.csv")),
        dir.join(format!("{as_name}.csv")),
    )
    .unwrap();
    let marks = dir.join(format!("{name}.csv.proof.json"));
    if marks.exists() {
        std::fs::copy(marks, dir.join(format!("{as_name}.csv.proof.json"))).unwrap();
    }
}

/// The output is three tenths too high; while faults are made, the enable line stays on.
fn spoiled(dir: &Path, output: &str, faults: &str) {
    rows(dir, output, |_, row| {
        let is: u32 = row[OUTPUT].parse().unwrap();
        row[OUTPUT] = (is * 13 / 10).min(1023).to_string();
    });
    rows(dir, faults, |_, row| "900".clone_into(&mut row[ENABLE]));
}

fn added(dir: &Path, files: &[&str]) -> String {
    let (code, message) = add(dir, "T1.json", files);
    assert_eq!(code, 0, "{message}");
    message
}

/// The program's own names in the order that a shell gives them: `-2` before the first one.
#[test]
fn a_newer_proof_that_fails_is_not_hidden_by_an_older_one_added_after_it() {
    let dir = examples();
    let dir = dir.path();
    proof(dir, "T1-output", "T1-output-2", "2026-05-20T12:00:00Z");
    proof(dir, "T1-faults", "T1-faults-2", "2026-05-20T12:30:00Z");
    spoiled(dir, "T1-output-2.csv", "T1-faults-2.csv");
    evidence(dir, |all| all.truncate(UNPROVED));
    let files = [
        "T1-faults-2.csv",
        "T1-faults.csv",
        "T1-output-2.csv",
        "T1-output.csv",
    ];
    added(dir, &files);
    let now = page(dir, "T1.json");
    assert_eq!(now.code, 1, "{}", now.json);
    is(&now, "output proof", "failed", "output at full command");
    is(&now, "fault proof", "failed", "enable");
    assert_eq!(now.part("output proof", "evidence"), "T1-output-2.csv");
    assert_eq!(now.part("fault proof", "evidence"), "T1-faults-2.csv");
}

#[test]
fn a_proof_that_was_added_later_and_is_dated_earlier_must_not_say_otherwise() {
    let dir = examples();
    let dir = dir.path();
    proof(dir, "T1-output", "T1-output-2", "2026-04-11T11:40:00Z");
    let table = dir.join("T1-output-2.csv");
    let text = std::fs::read_to_string(&table).unwrap();
    std::fs::write(&table, cut(&text)).unwrap();
    added(dir, &["T1-output-2.csv"]);
    let now = page(dir, "T1.json");
    assert_eq!((now.code, now.states()), (0, ["done"; 8].join(" ")));
    assert_eq!(now.part("output proof", "evidence"), "T1-output.csv");

    proof(dir, "T1-output", "T1-output-3", "2026-04-11T11:50:00Z");
    proof(dir, "T1-faults", "T1-faults-2", "2026-04-11T11:55:00Z");
    spoiled(dir, "T1-output-3.csv", "T1-faults-2.csv");
    added(dir, &["T1-output-3.csv", "T1-faults-2.csv"]);
    let now = page(dir, "T1.json");
    is(
        &now,
        "output proof",
        "missing",
        "T1-output-3.csv was added later and is dated earlier (11 Apr 2026), and it fails",
    );
    is(
        &now,
        "fault proof",
        "missing",
        "T1-faults-2.csv was added later and is dated earlier",
    );
    assert_eq!(now.code, 3, "{}", now.json);
}

/// What `prove --json` says of a recording, in a file.
fn said(dir: &Path, block: &str, recording: &str, file: &str) {
    let ran = pedalproof(dir, &format!("prove --json --block {block} {recording}"));
    assert!(ran.status.success(), "{}", stderr(&ran));
    std::fs::write(dir.join(file), &ran.stdout).unwrap();
}

fn constants(dir: &Path, arguments: &str) {
    let ran = pedalproof(
        dir,
        &format!("constants {arguments} --format json --out T1-2.block.json"),
    );
    assert!(ran.status.success(), "{}", stderr(&ran));
}

#[test]
fn what_was_said_of_an_old_recording_does_not_make_it_one_of_newer_constants() {
    let dir = examples();
    let dir = dir.path();
    said(dir, "T1.block.json", "T1-output.csv", "out.json");
    evidence(dir, |all| {
        all.retain(|one| one["file"] != "T1-output.csv");
    });
    added(dir, &["out.json"]);
    let now = page(dir, "T1.json");
    assert_eq!((now.code, now.states()), (0, ["done"; 8].join(" ")));
    assert_eq!(now.part("output proof", "evidence"), "out.json");

    // Constants that differ in what these recordings do not show.
    constants(dir, "T1-pedal.csv T1-dial.csv --reference-mv 1080");
    added(dir, &["T1-2.block.json"]);
    said(dir, "T1-2.block.json", "T1-output.csv", "out-2.json");
    said(dir, "T1-2.block.json", "T1-faults.csv", "faults-2.json");
    added(dir, &["out-2.json", "faults-2.json"]);
    let now = page(dir, "T1.json");
    assert_eq!((now.code, now.state("constants")), (3, "done".to_owned()));
    for link in ["output proof", "fault proof"] {
        is(&now, link, "stale", "was there before these constants were");
    }
}

/// When something was said of a recording is not when it was made.
#[test]
fn what_was_said_later_of_a_recording_is_no_newer_than_it() {
    let dir = examples();
    let dir = dir.path();
    dated(dir, "T1-pedal", "T1-pedal-2", "2026-05-01", cut);
    constants(dir, "T1-pedal-2.csv T1-dial.csv");
    evidence(dir, Vec::clear);
    added(dir, &["T1-pedal-2.csv", "T1-dial.csv", "T1-2.block.json"]);
    said(dir, "T1-2.block.json", "T1-output.csv", "out.json");
    added(dir, &["out.json"]);
    let now = page(dir, "T1.json");
    is(&now, "constants", "done", "check sum");
    is(
        &now,
        "output proof",
        "stale",
        "out.json was recorded on 11 Apr 2026, before pedal was measured for these constants",
    );

    // As one that says nothing of its date.
    let text = std::fs::read_to_string(dir.join("out.json")).unwrap();
    let mut old: Value = serde_json::from_str(&text).unwrap();
    let began = old["capture"].as_object_mut().unwrap().remove("started");
    assert_eq!(began, Some("2026-04-11T12:00:00Z".into()));
    std::fs::write(dir.join("old.json"), old.to_string()).unwrap();
    evidence(dir, |all| all.truncate(UNPROVED));
    added(dir, &["old.json"]);
    let now = page(dir, "T1.json");
    is(
        &now,
        "output proof",
        "missing",
        "old.json does not say when its recording was made",
    );
    let next = now.part("output proof", "next");
    assert!(next.starts_with("add the recording itself"), "{next}");
}

/// So many codes more on either track.
fn raised(table: &str, by: [u32; 2]) -> String {
    let rows = table.lines().zip(0..).map(|(line, n)| {
        let row: Vec<&str> = line.split(',').collect();
        let code = |at: usize| row[at].parse::<u32>().unwrap() + by[at - 2];
        match n {
            0 => format!("{line}\n"),
            _ => format!("{},{},{},{}\n", row[0], row[1], code(2), code(3)),
        }
    });
    rows.collect()
}

/// A clock that went back: measured later, dated earlier, both pass.
#[test]
fn a_pedal_that_reads_otherwise_is_not_hidden_by_its_date() {
    let dir = examples();
    let dir = dir.path();
    dated(dir, "T1-pedal", "T1-pedal-2", "2026-01-11", |table| {
        raised(table, [6, 3])
    });
    let message = added(dir, &["T1-pedal-2.csv"]);
    let now = page(dir, "T1.json");
    // 169.717 and 163.717 of 1024, as `assess` gives the recording it was made from.
    for words in [
        "T1-pedal-2.csv was added later and is dated earlier (11 Jan 2026)",
        "pedal_a reads 0.16574 of the reference at rest; in T1-pedal.csv (11 Apr 2026) 0.15988",
        "which clock was wrong?",
    ] {
        is(&now, "control pedal", "missing", words);
    }
    let next = now.part("control pedal", "next");
    assert!(next.starts_with("measure pedal again"), "{next}");
    assert_eq!(now.code, 3, "{}", now.json);
    let asks = "T1-pedal-2.csv is dated 11 Jan 2026, before T1-pedal.csv, which is there and counts (11 Apr 2026)";
    assert!(message.contains(asks), "{message}");
}

/// An honest folder of several seasons.
#[test]
fn earlier_seasons_of_the_same_part_change_nothing() {
    let dir = examples();
    let dir = dir.path();
    dated(dir, "T1-pedal", "T1-pedal-2", "2025-04-11", cut);
    added(dir, &["T1-pedal-2.csv"]);
    let now = page(dir, "T1.json");
    is(&now, "control pedal", "done", "T1-pedal, 11 Apr 2026");
    assert_eq!(now.code, 0, "{}", now.json);

    // Another part: added in the order of their dates nothing is asked.
    dated(dir, "T1-pedal", "T1-pedal-3", "2024-04-11", |table| {
        raised(table, [6, 3])
    });
    evidence(dir, Vec::clear);
    let message = added(dir, &["T1-pedal-3.csv", "T1-pedal-2.csv", "T1-pedal.csv"]);
    assert!(!message.contains("clock"), "{message}");
    let now = page(dir, "T1.json");
    is(&now, "control pedal", "done", "T1-pedal, 11 Apr 2026");
}
