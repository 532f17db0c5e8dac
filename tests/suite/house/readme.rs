//! Every command that the README shows is run, in its order, in one folder.
//!
//! `pedalproof` is the program built by this test, `/dev/ttyUSB0` a simulated pedal on a pseudo-terminal that a hand
//! moves through the card, or for `prove` a simulated flashed board. `cargo run --release -- ...` is run as `pedalproof ...`; `cargo test` is this test.
#![cfg(unix)]

use crate::support::program::program;
use pedalproof::bench::{FlashedBoard, Hand, trolley_block};
use pedalproof::link::BoardLines;
use pedalproof::link::{Overflow, Pace, PtyBoard};
use simulator::{Simulation, scenario};
use std::path::Path;

/// The lines of all `sh` blocks of a Markdown text.
fn commands(markdown: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut inside = false;
    for line in markdown.lines() {
        match line.trim() {
            "```sh" => inside = true,
            "```" => inside = false,
            line if inside && !line.is_empty() => found.push(line.to_owned()),
            _ => {}
        }
    }
    found
}

fn pedal() -> PtyBoard {
    let simulation = Simulation::new(&scenario("T1-pedal").unwrap(), 3).unwrap();
    PtyBoard::start(
        BoardLines::new(simulation),
        Pace::Times(8.0),
        Overflow::Wait,
    )
    .unwrap()
}

fn flashed(faults: bool) -> PtyBoard {
    let script = if faults {
        Hand::round(&trolley_block().unwrap())
    } else {
        Hand::comparing()
    };
    let board = FlashedBoard::new(&trolley_block().unwrap(), script, 1000.0, 3).unwrap();
    PtyBoard::start(board, Pace::Times(25.0), Overflow::Wait).unwrap()
}

fn board(line: &str) -> PtyBoard {
    if line.contains(" prove ") {
        flashed(line.contains("--faults"))
    } else {
        pedal()
    }
}

fn run(line: &str, dir: &Path) {
    let (line, remark) = line.split_once(" # ").unwrap_or((line, ""));
    // `# ends with 1: why`
    let code = remark
        .strip_prefix("ends with ")
        .map_or("0", |rest| rest.split(':').next().unwrap_or(rest));
    let line = line.replace("cargo run --release -- ", "pedalproof ");
    let board = line.contains("/dev/ttyUSB0").then(|| board(&line));
    let port = board
        .as_ref()
        .map(|board| board.path().to_string_lossy().into_owned());
    let mut words = line.split_whitespace();
    assert_eq!(
        words.next(),
        Some("pedalproof"),
        "the README shows a command that this test cannot run: {line}"
    );
    let arguments = words.map(|word| match &port {
        Some(port) => word.replace("/dev/ttyUSB0", port),
        None => word.to_owned(),
    });
    let ran = program(dir).args(arguments).output().unwrap();
    let told = String::from_utf8_lossy(&ran.stderr);
    assert_eq!(
        ran.status.code().map(|code| code.to_string()).as_deref(),
        Some(code),
        "`{line}`: {told}"
    );
}

#[test]
fn every_command_of_the_readme_runs_as_printed() {
    let readme = include_str!("../../../README.md");
    let commands = commands(readme);
    assert!(commands.len() >= 9, "{commands:?}");
    let dir = tempfile::tempdir().unwrap();
    for line in commands.iter().filter(|line| *line != "cargo test") {
        run(line, dir.path());
    }
    assert!(
        dir.path().join("T1-pedal.csv").exists() && dir.path().join("firmware/README.md").exists()
    );
}

#[test]
fn the_first_two_commands_are_the_promised_ones() {
    let commands = commands(include_str!("../../../README.md"));
    assert_eq!(commands[..2], ["cargo run --release -- demo", "cargo test"]);
}

#[test]
fn the_safety_words_are_there() {
    let readme = include_str!("../../../README.md").to_lowercase();
    for words in [
        "drive wheels off the",
        "motor leads off",
        "battery isolated while wiring",
        "emergency stop",
        "no type approval",
        "licensed person",
    ] {
        assert!(readme.contains(words), "{words}");
    }
}
