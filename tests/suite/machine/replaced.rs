//! A control that was replaced or rewired: what was recorded before is of what was there before.

use super::support::{add, cut, dated, examples, is, page};
use crate::support::program::{pedalproof, stderr};
use serde_json::Value;
use std::path::Path;

fn change(dir: &Path, words: &str) -> (i32, String) {
    let ran = pedalproof(dir, &format!("machine change T1.json {words}"));
    (ran.status.code().unwrap(), stderr(&ran))
}

/// Every command of a line that a page gives, as a shell runs them.
fn typed(dir: &Path, line: &str) {
    for command in line.split(" && ") {
        let words = command.trim().strip_prefix("pedalproof ").unwrap();
        let ran = pedalproof(dir, words);
        assert!(ran.status.success(), "{words}: {}", stderr(&ran));
    }
}

fn machine(dir: &Path, file: &str) -> Value {
    serde_json::from_str(&std::fs::read_to_string(dir.join(file)).unwrap()).unwrap()
}

#[test]
fn what_rests_on_a_control_that_was_replaced_is_stale_until_it_is_measured_again() {
    let dir = examples();
    let dir = dir.path();
    let before = machine(dir, "T1.json");
    let (code, words) = change(dir, "--control dial --since 2026-05-01");
    assert_eq!(code, 0, "{words}");
    let now = page(dir, "T1.json");
    assert_eq!(now.code, 3, "{}", now.json);
    is(&now, "control pedal", "done", "FIT IT");
    is(&now, "control dial", "missing", "changed, 1 May 2026");
    is(&now, "constants", "stale", "dial was changed since");
    is(&now, "output proof", "stale", "");
    is(&now, "check due", "missing", "");
    assert!(now.next().contains("measure dial"), "{}", now.next());
    // Nothing of the evidence goes.
    assert_eq!(machine(dir, "T1.json")["evidence"], before["evidence"]);

    dated(dir, "T1-dial", "T1-dial-b", "2026-05-20", cut);
    let (code, words) = add(dir, "T1.json", &["T1-dial-b.csv"]);
    assert_eq!(code, 0, "{words}");
    let now = page(dir, "T1.json");
    is(&now, "control dial", "done", "FIT IT");
    is(&now, "constants", "stale", "measured again");
    let (code, words) = change(dir, "--control dial --pins A5");
    assert!(code == 0 && !words.contains("no longer counts"), "{words}");
    is(&page(dir, "T1.json"), "control dial", "done", "FIT IT");

    // The same numbers again: a proof of before the change shows another machine all the same.
    typed(
        dir,
        "pedalproof constants T1-pedal.csv T1-dial-b.csv --format json --out new.block.json && pedalproof machine add T1.json new.block.json",
    );
    let now = page(dir, "T1.json");
    is(&now, "constants", "done", "check sum");
    is(&now, "output proof", "stale", "before dial was changed");
    is(&now, "fault proof", "stale", "before dial was changed");

    // One of before the change, added after it, neither counts nor contradicts.
    dated(dir, "T1-dial", "T1-dial-old", "2026-04-20", |table| {
        let rows: Vec<&str> = table.lines().collect();
        rows[..rows.len() / 3].join("\n") + "\n"
    });
    let (_, words) = add(dir, "T1.json", &["T1-dial-old.csv"]);
    assert!(
        words.contains("it does not count") && words.contains("--since"),
        "{words}"
    );
    is(&page(dir, "T1.json"), "control dial", "done", "FIT IT");
}

/// What was accepted of a control was not accepted of what took its place.
#[test]
fn a_danger_that_was_accepted_is_not_accepted_of_another_part() {
    let dir = examples();
    let dir = dir.path();
    let lever = "T3-lever-2022.csv";
    assert!(
        pedalproof(
            dir,
            "machine new my.json --name T3 --control lever=lever-shunting"
        )
        .status
        .success()
    );
    typed(
        dir,
        "pedalproof constants T3-lever-2022.csv --accept slowly --format json --out my.block.json && pedalproof machine add my.json T3-lever-2022.csv my.block.json",
    );
    is(
        &page(dir, "my.json"),
        "wiring lever",
        "done",
        "accepted in the constants file: slowly",
    );
    typed(dir, "pedalproof machine change my.json --control lever");
    let now = page(dir, "my.json");
    is(&now, "wiring lever", "failed", "ground wire breaks");
    is(
        &now,
        "control lever",
        "missing",
        &format!("{lever} is of before"),
    );
}

/// The refusal of another sticker gives the command that takes it, and of which recordings it can be taken.
#[test]
fn another_sticker_is_taken_with_the_command_that_its_refusal_gives() {
    let dir = examples();
    let dir = dir.path();
    let new = "machine new my.json --name T3 --control lever=lever-shunting --tag lever=T3-lever";
    assert!(pedalproof(dir, new).status.success());
    add(dir, "my.json", &["T3-lever-2022.csv"]);
    let refused = |name: &str, day: &str, tag: &str| {
        dated(dir, "T3-lever-2026", name, day, str::to_owned);
        let beside = dir.join(format!("{name}.csv-metadata.json"));
        let meta = std::fs::read_to_string(&beside).unwrap();
        std::fs::write(&beside, meta.replace("T3-lever\"", &format!("{tag}\""))).unwrap();
        let (code, words) = add(dir, "my.json", &[&format!("{name}.csv")]);
        assert_eq!(code, 2, "{words}");
        words
    };
    // A spare that was measured earlier than what it takes the place of: no date parts their recordings.
    let words = refused("spare", "2021-05-20", "T3-lever-s");
    assert!(
        words.contains("measure it again after: pedalproof machine change my.json"),
        "{words}"
    );
    assert!(!words.contains("--since"), "{words}");

    let words = refused("odd", "2021-05-20", "MACHINE");
    assert!(
        words.contains("If MACHINE took its place")
            && words.contains("machine change my.json --control lever --tag MACHINE"),
        "{words}"
    );

    let words = refused("new", "2026-05-20", "T3-lever-b");
    typed(dir, words.split("took its place: ").nth(1).unwrap());
    let control = machine(dir, "my.json")["controls"][0].clone();
    assert_eq!(control["tag"], "T3-lever-b");
    assert!(
        control["since"]
            .as_str()
            .unwrap()
            .starts_with("2026-05-20T")
    );
    let (code, words) = add(dir, "my.json", &["new.csv"]);
    assert_eq!(code, 0, "{words}");
    assert_eq!(
        page(dir, "my.json").part("control lever", "evidence"),
        "new.csv"
    );

    let words = refused("old", "2025-05-20", "T3-lever");
    assert!(
        words.contains("it is of what was there before") && !words.contains("machine change"),
        "{words}"
    );
}

/// What the page says to do about the wiring is done by typing it, and leads on.
#[test]
fn a_rewired_control_is_looked_at_as_it_is_wired_now() {
    let dir = examples();
    let dir = dir.path();
    let now = page(dir, "T3.json");
    let next = now.part("wiring lever", "next");
    assert!(
        now.why("wiring lever").ends_with("(6 more)"),
        "{}",
        now.json
    );
    let commands = next.split(": ").nth(1).unwrap();
    typed(dir, commands);
    // As often as it is pasted.
    typed(dir, commands);
    assert_eq!(
        machine(dir, "T3.json")["controls"][0]["profile"],
        "T3-lever-rewired.json"
    );
    let now = page(dir, "T3.json");
    is(
        &now,
        "control lever",
        "missing",
        "not measured since it was changed",
    );
    // 7 -> 4 by `wiring lever-shunting`; what no resistor takes away is not to be soldered again.
    is(&now, "wiring lever", "failed", "(3 more)");
    let next = now.part("wiring lever", "next");
    assert!(
        next.contains("--accept") && !next.contains("--profile-out"),
        "{next}"
    );
    // What only accepting helps against, with the constants, does not stand in the way of measuring for these.
    assert!(now.next().starts_with("measure lever"), "{}", now.next());
}

#[test]
fn what_cannot_be_changed_is_refused_and_leaves_the_file_alone() {
    let dir = examples();
    let dir = dir.path();
    let before = std::fs::read_to_string(dir.join("T1.json")).unwrap();
    for (words, said) in [
        ("--control lever", "there is no control `lever`"),
        (
            "--control dial --profile none.json",
            "there is no profile `none.json`",
        ),
        ("--control dial --since yesterday", "no moment"),
        ("--control dial --since 2026-05-01T23:00", "no moment"),
        ("--control dial --since 2199-01-01", "has not come yet"),
        ("--control dial --pins A2,A3", "1 track"),
        ("--control dial --pins A0", "taken already"),
        ("--control dial --profile pedal-hall-two-track", "2 tracks"),
        ("--control dial --profile ../x.json", "there is no profile"),
        ("", "--control"),
    ] {
        let (code, told) = change(dir, words);
        assert_eq!(code, 2, "{words}: {told}");
        assert!(told.contains(said), "{words}: {told}");
    }
    assert_eq!(
        std::fs::read_to_string(dir.join("T1.json")).unwrap(),
        before
    );
}
