//! Damaged machine files and evidence: words with the place, never a panic, nothing overwritten.

use super::support::{IN_TIME, add, examples, page};
use crate::support::program::{pedalproof, stderr};
use std::path::Path;

#[test]
fn a_damaged_machine_is_refused_with_its_place_and_left_alone() {
    let dir = examples();
    let dir = dir.path();
    let whole = std::fs::read_to_string(dir.join("T1.json")).unwrap();
    let half = whole[..whole.len() / 2].to_owned();
    let damaged = [
        (String::new(), "at `"),
        (half, "at `"),
        ("[]".to_owned(), "at `"),
        ("\u{0}\u{1b}[2J".to_owned(), "at `"),
        (whole.replace("machine/1", "machine/9"), "machine/9"),
        (
            whole.replace("T1-pedal.csv", "../T1-pedal.csv"),
            "evidence[0].file",
        ),
        (
            whole.replace("T1-pedal.csv", "/etc/passwd"),
            "evidence[0].file",
        ),
        (
            whole.replace("\"pedal\"", "\"ped\\u001bal\""),
            "controls[0].name",
        ),
        (
            whole.replace("\"check_every_months\": 12", "\"check_every_months\": 1e9"),
            "check_every_months",
        ),
    ];
    for (text, place) in damaged {
        std::fs::write(dir.join("bad.json"), &text).unwrap();
        for arguments in [
            &["machine", "bad.json"][..],
            &["machine", "add", "bad.json", "T1-pedal.csv"],
        ] {
            let ran = pedalproof(dir, arguments);
            let message = stderr(&ran);
            assert_eq!(ran.status.code(), Some(2), "{text}: {message}");
            assert!(
                message.contains("bad.json") && message.contains(place),
                "{place}: {message}"
            );
            assert!(!message.contains('\u{1b}'), "{message:?}");
        }
        assert_eq!(std::fs::read_to_string(dir.join("bad.json")).unwrap(), text);
    }
    let ran = pedalproof(dir, "machine none.json");
    assert_eq!(ran.status.code(), Some(2));
    assert!(stderr(&ran).contains("machine new"), "{}", stderr(&ran));
}

/// The machine has a lever alone, but nothing of the recording says that it is of it.
#[test]
fn a_recording_of_another_kind_is_added_only_when_its_control_is_said() {
    let dir = examples();
    let dir = dir.path();
    let before = std::fs::read_to_string(dir.join("T3.json")).unwrap();
    let (code, words) = add(dir, "T3.json", &["T1-dial.csv"]);
    assert_eq!(code, 2, "{words}");
    assert!(
        words.contains("T1-dial.csv was recorded as rheostat dial with pull-up; this machine has only: lever (lever-shunting). Nothing added.")
            && words.contains("If it is the lever: --control lever"),
        "{words}"
    );
    assert_eq!(
        std::fs::read_to_string(dir.join("T3.json")).unwrap(),
        before
    );
    let (code, words) = add(dir, "T3.json", &["T1-dial.csv", "--control", "lever"]);
    assert_eq!(code, 0, "{words}");
}

#[test]
fn damaged_evidence_is_told_and_what_is_none_is_refused() {
    let dir = examples();
    let dir = dir.path();
    std::fs::write(dir.join("T1-pedal.csv-metadata.json"), "{").unwrap();
    std::fs::write(dir.join("T1.block.json"), "\u{1b}[2J").unwrap();
    std::fs::write(dir.join("T1-faults.csv.proof.json"), "[]").unwrap();
    let now = page(dir, "T1.json");
    assert_eq!(now.code, 3, "{}", now.words);
    assert_eq!(
        now.states(),
        "stale done done done stale stale missing done",
        "{}",
        now.json
    );
    for file in [
        "T1-faults.csv.proof.json",
        "T3.json",
        "photo.jpg",
        "notes.txt",
    ] {
        if file.starts_with(['p', 'n']) {
            std::fs::write(dir.join(file), b"\xff\xd8 no text").unwrap();
        }
        let before = std::fs::read(dir.join("T1.json")).unwrap();
        let (code, message) = add(dir, "T1.json", &[file]);
        let refused = code == 2 || message.contains("there already");
        assert!(refused, "{file}: {code} {message}");
        assert_eq!(std::fs::read(dir.join("T1.json")).unwrap(), before);
    }
}

#[test]
fn a_machine_is_never_overwritten_and_a_profile_must_be_there() {
    let dir = examples();
    let dir = dir.path();
    let new = |more: &[&str]| {
        let ran = pedalproof(dir, &[&["machine", "new"], more].concat());
        (ran.status.code(), stderr(&ran))
    };
    let (code, message) = new(&["T1.json", "--name", "x", "--control", "p=pedal-three-wire"]);
    assert_eq!(code, Some(2));
    assert!(message.contains("T1.json is there already"), "{message}");
    let (code, message) = new(&["T9.json", "--name", "x", "--control", "p=pedal-tree-wire"]);
    assert_eq!(code, Some(2));
    assert!(message.contains("pedal-three-wire"), "{message}");
    let (code, message) = new(&[
        "T9.json",
        "--name",
        "x\u{1b}[2J",
        "--control",
        "p=pedal-three-wire",
    ]);
    assert_eq!(code, Some(2), "{message}");
    let (code, _) = new(&["T9.json", "--name", "x", "--control", "pedal"]);
    assert_eq!(code, Some(2));
    let (code, message) = new(&[
        "T9.json",
        "--name",
        "x",
        "--control",
        "p=pedal-three-wire",
        "--pins",
        "q=A0",
    ]);
    assert_eq!(code, Some(2));
    assert!(message.contains("--pins names q"), "{message}");
    assert!(!dir.join("T9.json").exists());
}

/// DESIGN.md 4.9: a link is stale when a file is no longer the one that was judged, and so is what rests on it.
#[test]
fn what_rests_on_a_recording_that_is_another_one_now_is_stale_and_nothing_failed() {
    let spaced = |dir: &Path| {
        let file = dir.join("T1-pedal.csv");
        let text = std::fs::read_to_string(&file).unwrap();
        std::fs::write(&file, text + "\r\n").unwrap();
    };
    let shifted = |dir: &Path| {
        let file = dir.join("T1-pedal.csv");
        let text = std::fs::read_to_string(&file).unwrap();
        let row = |line: &str| match line.split(',').collect::<Vec<_>>()[..] {
            [t, "rest", code, other] => {
                format!("{t},rest,{},{other}", code.parse::<u32>().unwrap() + 6)
            }
            _ => line.to_owned(),
        };
        let rows: Vec<String> = text.lines().map(row).collect();
        std::fs::write(&file, rows.join("\n") + "\n").unwrap();
    };
    let moved = |dir: &Path| std::fs::remove_file(dir.join("T1-dial.csv")).unwrap();
    for (change, control) in [
        (&spaced as &dyn Fn(&Path), "control pedal"),
        (&shifted, "control pedal"),
        (&moved, "control dial"),
    ] {
        let dir = examples();
        change(dir.path());
        let now = page(dir.path(), "T1.json");
        for link in [control, "constants", "output proof", "fault proof"] {
            assert_eq!(now.state(link), "stale", "{link}: {}", now.json);
        }
        assert_eq!(now.code, 3);
    }
}

/// The commands name files of the machine's folder: read elsewhere, it is said which that is.
#[test]
fn the_next_command_says_its_folder_when_it_is_read_elsewhere() {
    let dir = examples();
    let outside = tempfile::tempdir().unwrap();
    let file = dir.path().join("T3.json");
    let file = file.to_str().unwrap();
    let ran = pedalproof(outside.path(), &["machine", file, "--on", IN_TIME]);
    let said = String::from_utf8(ran.stdout).unwrap();
    let next = said.lines().nth(1).unwrap();
    let folder = dir.path().to_str().unwrap();
    let wanted = format!("NEXT  in the folder {folder}: ");
    assert!(next.starts_with(&wanted), "{next}");
    // Nothing measured yet: what comes first is said once.
    let new = "machine new T9.json --name T9 --control pedal=pedal-hall-two-track";
    assert!(pedalproof(outside.path(), new).status.success());
    let now = page(outside.path(), "T9.json");
    for link in ["constants", "output proof"] {
        let next = now.part(link, "next");
        assert!(next.starts_with("first: measure pedal"), "{next}");
    }
}
