//! Every command that the README and the pages beside it show is run, in their order, in one folder.
//!
//! `pedalproof` is the program built by this test, `/dev/ttyUSB0` a simulated pedal on a pseudo-terminal that a hand
//! moves through the card, or for `prove` a simulated board flashed with the constants of the line. `cargo run --release -- ...` is run as `pedalproof ...`; `cargo test` is this test.
#![cfg(unix)]

use crate::support::program::{program, started_by};
use pedalproof::bench::{FlashedBoard, Hand};
use pedalproof::constants::formats::Format;
use pedalproof::link::BoardLines;
use pedalproof::link::{Overflow, Pace, PtyBoard};
use simulator::{Simulation, scenario};
use std::path::Path;
use std::process::Command;

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

/// The README, then the pages that it leads to.
const PAGES: [(&str, &str); 8] = [
    ("README.md", include_str!("../../../README.md")),
    ("recording", include_str!("../../../docs/recording.md")),
    ("trolleys", include_str!("../../../docs/trolleys.md")),
    ("profiles", include_str!("../../../docs/profiles.md")),
    ("workshop", include_str!("../../../docs/workshop.md")),
    ("formats", include_str!("../../../docs/formats.md")),
    ("settings", include_str!("../../../docs/settings.md")),
    ("pipes", include_str!("../../../docs/pipes.md")),
];

fn pedal() -> PtyBoard {
    let simulation = Simulation::new(&scenario("T1-pedal").unwrap(), 3).unwrap();
    PtyBoard::start(
        BoardLines::new(simulation),
        Pace::Times(8.0),
        Overflow::Wait,
    )
    .unwrap()
}

fn flashed(block: &Path, faults: bool) -> PtyBoard {
    let text = std::fs::read_to_string(block).unwrap();
    let block = Format::of(&text).read(&text).unwrap();
    let script = if faults {
        Hand::round(&block)
    } else {
        Hand::comparing()
    };
    let board = FlashedBoard::new(&block, script, 1000.0, 3).unwrap();
    PtyBoard::start(board, Pace::Times(25.0), Overflow::Wait).unwrap()
}

fn board(line: &str, dir: &Path) -> PtyBoard {
    let block = line.split_once(" --block ");
    match block.and_then(|(_, rest)| rest.split_whitespace().next()) {
        Some(block) => flashed(&dir.join(block), line.contains("--faults")),
        None => pedal(),
    }
}

fn run(line: &str, dir: &Path) {
    let (line, remark) = line.split_once(" # ").unwrap_or((line, ""));
    // `# ends with 1: why`
    let code = remark
        .strip_prefix("ends with ")
        .map_or("0", |rest| rest.split(':').next().unwrap_or(rest));
    let line = line.replace("cargo run --release -- ", "pedalproof ");
    if line.contains(['|', '&', '"']) {
        let mut shell = Command::new("sh");
        shell.arg("-c");
        // The program's own name is what comes behind a shell's script.
        shell.arg(format!("pedalproof() {{ \"$0\" \"$@\"; }}; {line}"));
        return ended(started_by(shell, dir), &line, code);
    }
    let board = line.contains("/dev/ttyUSB0").then(|| board(&line, dir));
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
    let mut started = program(dir);
    started.args(arguments);
    if board.is_some() && line.contains("--faults") {
        // The page leaves the question to the reader; nobody is here to type yes.
        started.arg("--yes");
    }
    ended(started, &line, code);
}

/// Runs it to its end, which is as the page says.
fn ended(mut command: Command, line: &str, code: &str) {
    let ran = command.output().unwrap();
    let message = String::from_utf8_lossy(&ran.stderr);
    assert_eq!(
        ran.status.code().map(|code| code.to_string()).as_deref(),
        Some(code.trim()),
        "`{line}`: {message}"
    );
}

#[test]
fn every_command_of_readme_and_docs_runs_as_printed() {
    let dir = tempfile::tempdir().unwrap();
    for (page, text) in PAGES {
        let commands = commands(text);
        assert!(!commands.is_empty(), "{page} shows no command");
        for line in commands.iter().filter(|line| *line != "cargo test") {
            run(line, dir.path());
        }
    }
    assert!(
        dir.path().join("T1-pedal.csv").exists() && dir.path().join("firmware/README.md").exists()
    );
}

/// Nobody reads more before they have tried it.
#[test]
fn the_readme_is_short_and_its_links_lead_somewhere() {
    let (_, readme) = PAGES[0];
    let words = readme.split_whitespace().count();
    assert!(words <= 1600, "{words} words");
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let links = readme.split("](").skip(1);
    let links = links.filter_map(|rest| rest.split_once(')'));
    for (link, _) in links.filter(|(link, _)| !link.starts_with('#')) {
        assert!(root.join(link).exists(), "{link}");
    }
}

#[test]
fn the_first_commands_are_the_promised_ones() {
    let commands = commands(PAGES[0].1);
    let promised = [
        "cargo run --release -- demo",
        "cargo run --release -- demo T3-lever   # ends with 1: worn",
        "cargo test",
    ];
    assert_eq!(commands[..3], promised);
}

#[test]
fn the_safety_words_are_there() {
    let readme = PAGES[0].1.to_lowercase();
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
