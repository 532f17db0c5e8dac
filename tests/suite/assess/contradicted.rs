//! Recordings that contradict themselves: what was called rest is where the control never stands, a track that follows no longer, a wire
//! that comes off under way. Each is T1-pedal with its rows changed.

use super::withheld::{Row, assessed, finding, rows};
use crate::support::program::{changed, example, pedalproof, stderr, stdout};
use serde_json::Value;
use std::fmt::Write;
use std::path::Path;

fn relabelled(row: &mut Row) {
    row.step = match row.step.as_str() {
        "rest" => "full".to_owned(),
        "full" => "rest".to_owned(),
        step => step.to_owned(),
    };
}

fn causes(answer: &Value) -> Vec<&str> {
    let causes = answer["causes"].as_array().unwrap().iter();
    causes
        .map(|cause| cause["cause"].as_str().unwrap())
        .collect()
}

/// Pressed when it was asked to let go, and let go when it was asked to press: nobody is told to change its wires.
#[test]
fn rest_and_full_that_were_exchanged_are_recorded_again() {
    let dir = tempfile::tempdir().unwrap();
    let exchanged = |table: &str| {
        rows(table, |mut row| {
            relabelled(&mut row);
            Some(row)
        })
    };
    let (code, answer) = assessed(dir.path(), "T1-pedal", exchanged);
    assert_eq!(
        (code, &answer["verdict"]),
        (Some(3), &Value::from("undecided"))
    );
    assert_eq!(causes(&answer), [""; 0]);
    let headline = answer["headline"].as_str().unwrap();
    assert!(
        headline.contains("rest and full look exchanged"),
        "{headline}"
    );
}

/// The same mistake with a control that works backwards, whose ends come right by it: 860 let go, 164 pressed (1024 and 512 less what T1
/// reads). A board with its constants would run at full with the pedal let go.
#[test]
fn a_backwards_control_does_not_pass_by_exchanged_ends() {
    let dir = tempfile::tempdir().unwrap();
    let backwards = |table: &str| {
        rows(table, |mut row| {
            relabelled(&mut row);
            for (column, all) in [(0, 1024.0), (1, 512.0)] {
                row.cells[column] = format!("{}", all - row.code(column));
            }
            Some(row)
        })
    };
    let (code, answer) = assessed(dir.path(), "T1-pedal", backwards);
    assert_eq!(
        (code, &answer["verdict"]),
        (Some(3), &Value::from("undecided"))
    );
    let rest = finding(&answer, "pedal_a", "rest_ratio");
    assert_eq!(rest["outcome"], "undecided", "{rest}");
    let dial = example("T1-dial");
    let made = pedalproof(
        dir.path(),
        &[
            "constants",
            "x.csv",
            dial.to_str().unwrap(),
            "--out",
            "k.hex",
        ],
    );
    assert_eq!(
        made.status.code(),
        Some(3),
        "{}{}",
        stdout(&made),
        stderr(&made)
    );
    assert!(!dir.path().join("k.hex").exists());
}

/// By a card that leads, a backwards pedal stands at 860 when let go; who is told that this is full presses it, and both ends come right. What
/// was recorded before rest was taken says it: here T1, whose pedal is let go only after three seconds.
#[test]
fn a_control_that_stood_at_full_before_rest_was_taken_leaves_the_ends_open() {
    let dir = tempfile::tempdir().unwrap();
    let outcome = |seconds: u64| {
        let stood = |table: &str| {
            let mut text = String::new();
            let (header, samples) = table.split_once('\n').unwrap();
            writeln!(text, "{header}").unwrap();
            for k in 0..seconds * 250 {
                writeln!(text, "{},idle,860,430", k * 4000).unwrap();
            }
            for line in samples.lines() {
                let (t_us, rest) = line.split_once(',').unwrap();
                let later = t_us.parse::<u64>().unwrap() + seconds * 1_000_000;
                writeln!(text, "{later},{rest}").unwrap();
            }
            text
        };
        assessed(dir.path(), "T1-pedal", stood).1["verdict"].clone()
    };
    assert_eq!(outcome(3), "undecided");
    assert_eq!(outcome(1), "pass");
}

/// From the first release on track 2 reads 82 whatever the pedal does; the strokes, in which the tracks are compared, were before it.
#[test]
fn a_track_that_dies_after_the_strokes_fails() {
    let dir = tempfile::tempdir().unwrap();
    let dies_for = |samples: u32| {
        move |table: &str| {
            let mut left = None;
            rows(table, |mut row| {
                if row.step == "release" {
                    let left = left.get_or_insert(samples);
                    if *left > 0 {
                        *left -= 1;
                        row.cells[1] = "82".to_owned();
                    }
                }
                Some(row)
            })
        }
    };
    // Held fully pressed there, 4 ms a sample: a tenth of a second is a contact that bounces, and told as that.
    let apart_for = |samples| {
        let (code, answer) = assessed(dir.path(), "T1-pedal", dies_for(samples));
        (
            code,
            finding(&answer, "pedal_a/pedal_b", "track_disagreement").clone(),
        )
    };
    let (code, apart) = apart_for(u32::MAX);
    assert_eq!(
        (code, &apart["outcome"]),
        (Some(1), &Value::from("fail")),
        "{apart}"
    );
    let reason = apart["reason"].as_str().unwrap();
    assert!(reason.contains("of travel apart"), "{reason}");
    assert_eq!(apart_for(25).1["outcome"], "pass");
}

/// Between the steps a plug may be pulled and an input tied: T1 whose first second is no step, both inputs at ground.
#[test]
fn what_the_inputs_read_between_the_steps_is_no_track_that_parts() {
    let dir = tempfile::tempdir().unwrap();
    let late = |table: &str| {
        rows(table, |mut row| {
            if row.t_us < 1_000_000 {
                row.step = "idle".to_owned();
                row.cells = vec!["0".to_owned(); 2];
            }
            Some(row)
        })
    };
    let (code, answer) = assessed(dir.path(), "T1-pedal", late);
    assert_eq!(
        (code, &answer["verdict"]),
        (Some(0), &Value::from("pass")),
        "{answer:#}"
    );
}

/// The signal wire of track 2 comes off at 20 s of 43.7: what it read before is no mean of both.
#[test]
fn a_wire_that_comes_off_is_told_with_its_moment() {
    let dir = tempfile::tempdir().unwrap();
    for (from_us, to_us, when) in [
        (20_000_000, u64::MAX, "from 20.0 s on"),
        (20_000_000, 22_000_000, "from 20.0 to 22.0 s"),
    ] {
        let comes_off = |table: &str| {
            rows(table, |mut row| {
                if (from_us..to_us).contains(&row.t_us) {
                    row.cells[1] = "0".to_owned();
                }
                Some(row)
            })
        };
        let (code, answer) = assessed(dir.path(), "T1-pedal", comes_off);
        assert_eq!(code, Some(1), "{answer}");
        assert_eq!(causes(&answer)[0], "signal-open", "{:#}", answer["causes"]);
        let headline = answer["headline"].as_str().unwrap();
        assert_eq!(
            headline,
            format!("CHECK THE WIRING FIRST: nothing arrives on the signal wire at A1 {when}")
        );
    }
}

/// Two pedals of two tracks each: the firmware for it is built for four inputs, and the machine says so.
#[test]
fn a_machine_of_four_inputs_can_be_finished() {
    let dir = tempfile::tempdir().unwrap();
    for name in ["one", "two"] {
        let later = |table: String| {
            table.replacen(",163,", if name == "one" { ",163," } else { ",164," }, 1)
        };
        changed(
            dir.path(),
            "T1-pedal",
            name,
            |meta| meta.replace("T1-pedal", name),
            later,
        );
    }
    let run = |words: &str| pedalproof(dir.path(), words);
    let new = run(
        "machine new M.json --name M --control one=pedal-hall-two-track --control two=pedal-hall-two-track",
    );
    assert!(new.status.success(), "{}", stderr(&new));
    let added = run("machine add M.json one.csv --control one");
    assert!(
        added.status.code() == Some(3) || added.status.success(),
        "{}",
        stderr(&added)
    );
    let added = run("machine add M.json two.csv --control two");
    assert!(
        added.status.code() == Some(3) || added.status.success(),
        "{}",
        stderr(&added)
    );
    let standing = |words: &str| -> Value { serde_json::from_slice(&run(words).stdout).unwrap() };
    let before = standing("machine M.json --json");
    let next = before["next"].as_str().unwrap();
    assert!(next.contains("--core-inputs 4"), "{next}");
    let (_, command) = next.split_once("pedalproof ").unwrap();
    let (command, _) = command.split_once(" && ").unwrap();
    let made = run(command);
    assert!(
        made.status.success(),
        "{command}: {}{}",
        stdout(&made),
        stderr(&made)
    );
    let file = command.rsplit(' ').next().unwrap();
    run(&format!("machine add M.json {file}"));
    let after = standing("machine M.json --json");
    let mut links = after["links"].as_array().unwrap().iter();
    let constants = links.find(|link| link["link"] == "constants").unwrap();
    assert_eq!(constants["state"], "done", "{constants}");
}

/// A file of the program's own that is no recording is told for what it is.
#[test]
fn own_files_that_are_no_recording_are_named() {
    let dir = tempfile::tempdir().unwrap();
    let run = |words: &str| pedalproof(dir.path(), words);
    assert!(
        run("machine new M.json --name M --control one=pedal-hall-two-track")
            .status
            .success()
    );
    let (pedal, dial) = (example("T1-pedal"), example("T1-dial"));
    let made = pedalproof(
        dir.path(),
        &[
            "constants",
            pedal.to_str().unwrap(),
            dial.to_str().unwrap(),
            "--out",
            "k.hex",
        ],
    );
    assert!(made.status.success(), "{}", stderr(&made));
    for (file, words) in [
        (
            "M.json",
            "a machine's file, and no recording: pedalproof machine M.json",
        ),
        (
            "k.hex",
            "a constants file, and no recording: pedalproof constants --read k.hex",
        ),
    ] {
        let ran = run(&format!("assess {file}"));
        assert_eq!(ran.status.code(), Some(2));
        assert!(stderr(&ran).contains(words), "{}", stderr(&ran));
    }
}

/// A wire that comes off as the pedal is pressed for the first time: what was recorded as full is 0 then, and so is every release.
#[test]
fn a_wire_that_comes_off_at_full_is_no_exchange_of_ends() {
    let dir = tempfile::tempdir().unwrap();
    let comes_off = |table: &str| {
        let mut pressed = false;
        rows(table, |mut row| {
            pressed |= row.step == "full";
            if pressed {
                row.cells[1] = "0".to_owned();
            }
            Some(row)
        })
    };
    let (_, answer) = assessed(dir.path(), "T1-pedal", comes_off);
    let headline = answer["headline"].as_str().unwrap();
    let wire = "CHECK THE WIRING FIRST: nothing arrives on the signal wire at A1";
    assert!(headline.starts_with(wire), "{headline}");
}

/// `x`: the pedal of the examples on a board of which one fact is another; what that reads for each code.
fn on_another_board(dir: &Path, [fact, is]: [&str; 2], reads: impl Fn(f64) -> f64) {
    changed(
        dir,
        "T1-pedal",
        "x",
        |meta| meta.replace("T1-pedal", "x").replace(fact, is),
        |table| {
            rows(&table, |mut row| {
                for column in [0, 1] {
                    row.cells[column] = format!("{}", reads(row.code(column)));
                }
                Some(row)
            })
        },
    );
}

/// A pedal of 5 V on a board of 3.3 V: 5 / 3.3 times the codes, the scale's end where there are no more. It is no wire that touches.
#[test]
fn a_part_of_five_volts_on_a_board_of_less_needs_a_divider() {
    let dir = tempfile::tempdir().unwrap();
    on_another_board(
        dir.path(),
        ["\"vref_mv\": 5000.0", "\"vref_mv\": 3300.0"],
        |code| (code * 5.0 / 3.3).round().min(1023.0),
    );
    let ran = pedalproof(dir.path(), "assess x.csv --json");
    let answer: Value = serde_json::from_slice(&ran.stdout).unwrap();
    let headline = answer["headline"].as_str().unwrap();
    assert!(
        headline.contains("this board's reference is 3.3 V"),
        "{headline}"
    );
    let first = answer["causes"][0]["do"][0].as_str().unwrap();
    assert!(first.starts_with("Pull the plug now"), "{first}");
}

/// A file that is not there is not told to be imported, and the folder that is not there is the one that is named.
#[test]
fn what_is_not_there_is_named() {
    let dir = tempfile::tempdir().unwrap();
    let run = |words: &str| pedalproof(dir.path(), words);
    assert!(
        run("machine new M.json --name M --control one=pedal-hall-two-track")
            .status
            .success()
    );
    for (command, words) in [
        ("machine add M.json no.csv", "cannot read no.csv"),
        (
            "machine add no/M.json M.json",
            "cannot read the machine no/M.json",
        ),
        ("machine add M.json no/x.csv", "cannot read no/x.csv"),
        ("assess no.csv", "There is no file no.csv"),
        (
            "profile check no.json",
            "there is no profile `no.json`: no file of that name, and none built in. Built in are",
        ),
    ] {
        let ran = run(command);
        assert_eq!(ran.status.code(), Some(2), "{command}");
        assert!(stderr(&ran).contains(words), "{command}: {}", stderr(&ran));
    }
}

/// T1-pedal by a board of 8 bits (its codes a quarter): what rounding alone leaves of free bits is no fault of the part.
#[test]
fn a_coarse_board_cannot_fail_a_part_by_its_own_rounding() {
    let dir = tempfile::tempdir().unwrap();
    let text = std::fs::read_to_string(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/profiles/pedal-hall-two-track.json"
    ));
    let mut profile: Value = serde_json::from_str(&text.unwrap()).unwrap();
    let least = serde_json::json!({ "min": 6.7 });
    profile["tracks"]["1"]["limits"]["noise_free_bits"] = least;
    std::fs::write(dir.path().join("p.json"), profile.to_string()).unwrap();
    let outcome = |file: &str| {
        let ran = pedalproof(
            dir.path(),
            &["assess", file, "--profile", "p.json", "--json"],
        );
        let answer: Value = serde_json::from_slice(&ran.stdout).unwrap();
        finding(&answer, "pedal_a", "noise_free_bits").clone()
    };
    let fine = outcome(example("T1-pedal").to_str().unwrap());
    assert_eq!(fine["outcome"], "pass", "{fine}");
    on_another_board(dir.path(), ["\"bits\": 10", "\"bits\": 8"], |code| {
        (code / 4.0).floor()
    });
    let coarse = outcome("x.csv");
    assert_eq!(coarse["outcome"], "undecided", "{coarse}");
    let reason = coarse["reason"].as_str().unwrap();
    assert!(reason.contains("too coarse a board to tell"), "{reason}");
}
