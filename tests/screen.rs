//! The real binary in a terminal of its own (tmux), from the first frame to the saved verdict, and with a key pressed
//! only to save. Needs tmux: skipped loudly without it, unless `PEDALPROOF_NO_SKIP=1`.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use pedalproof::link::simulated::{BoardLines, Simulation, scenario};
use pedalproof::link::{Overflow, Pace, PtyBoard};
use std::path::Path;
use std::process::Command;
use std::time::Duration;

#[path = "support/terminal.rs"]
mod terminal;
use terminal::{Terminal, program};

#[test]
fn the_demo_goes_through_its_card_to_a_verdict_without_a_key_and_saves_on_one() {
    let dir = tempfile::tempdir().unwrap();
    let Some(terminal) = Terminal::start(dir.path(), 80, 24, &program("demo --speed 3")) else {
        return;
    };
    let first = terminal.wait_for("rest", 20);
    assert!(first.contains("pedal_a"), "{first}");
    let last = terminal.wait_for("PASS", 60);
    assert!(last.contains("T1-pedal"), "{last}");
    terminal.press("s");
    terminal.wait_for("saved", 10);
    terminal.press("q");
    let ended = terminal.wait_for("ended=0", 10);
    assert!(
        ended.contains("unit T1-pedal: pass"),
        "the terminal is restored and the verdict left on it: {ended}"
    );
    let kept: Vec<_> = std::fs::read_dir(dir.path())
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    assert!(
        kept.iter()
            .any(|name| Path::new(name).extension().is_some_and(|e| e == "csv")),
        "{kept:?}"
    );
    assert!(
        kept.iter().any(|name| name.ends_with("assessment.json")),
        "{kept:?}"
    );
}

#[test]
fn a_failing_unit_ends_with_its_exit_code() {
    let dir = tempfile::tempdir().unwrap();
    let Some(terminal) = Terminal::start(dir.path(), 120, 40, &program("demo T2-pedal --speed 3"))
    else {
        return;
    };
    terminal.wait_for("FAIL", 60);
    terminal.press("q");
    terminal.wait_for("ended=1", 10);
}

#[test]
fn sigterm_restores_the_terminal() {
    let dir = tempfile::tempdir().unwrap();
    let Some(terminal) = Terminal::start(dir.path(), 100, 30, &program("demo T1-lever --seed 77"))
    else {
        return;
    };
    terminal.wait_for("rest", 20);
    let pids = Command::new("pgrep")
        .args(["-f", &program("demo T1-lever --seed 77").replace('/', ".")])
        .output()
        .unwrap();
    for pid in String::from_utf8(pids.stdout).unwrap().split_whitespace() {
        // The shell that started it has the words in its command line, too: only the program itself is meant.
        let exe = std::fs::read_link(format!("/proc/{pid}/exe")).unwrap_or_default();
        if exe == Path::new(env!("CARGO_BIN_EXE_pedalproof")) {
            Command::new("kill").args(["-TERM", pid]).status().unwrap();
        }
    }
    let ended = terminal.wait_for("ended=", 10);
    assert!(!ended.contains('▌'), "the screen is gone: {ended}");
}

/// A pedal on a pseudo-terminal, its hand going through the card again and again.
fn pedal(speed: f64) -> PtyBoard {
    let simulation = Simulation::new(&scenario("T1-pedal").unwrap(), 5).unwrap();
    let lines = BoardLines::new(simulation);
    PtyBoard::start(lines, Pace::Times(speed), Overflow::Wait).unwrap()
}

/// The program on a port, with nothing of the machine's own records, settings and habits.
fn on_port(dir: &Path, board: &PtyBoard) -> String {
    let dir = dir.display();
    format!(
        "env PEDALPROOF_RECORDS={dir}/records PEDALPROOF_STATE={dir}/state PEDALPROOF_CONFIG={dir}/config.toml {}",
        program(&format!("--port {}", board.path().display()))
    )
}

#[test]
fn from_the_source_to_a_kept_record_though_the_cable_is_pulled_in_the_middle() {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join("config.toml"), "").unwrap();
    let board = pedal(3.0);
    let Some(terminal) = Terminal::start(dir.path(), 100, 30, &on_port(dir.path(), &board)) else {
        return;
    };
    terminal.wait_for("Where do the samples come from?", 20);
    terminal.press("Enter");
    let unit = terminal.wait_for("Which unit is it?", 10);
    assert!(unit.contains("emergency stop"), "safety words: {unit}");
    terminal.press("T7");
    let wanted = pedalproof::profile::find("pedal-hall-two-track")
        .unwrap()
        .name;
    for _ in 0..12 {
        if terminal
            .shown()
            .lines()
            .any(|line| line.contains('▸') && line.contains(&wanted))
        {
            break;
        }
        terminal.press("Down");
        std::thread::sleep(Duration::from_millis(150));
    }
    terminal.press("Enter");
    terminal.wait_for("▸ strokes", 60);
    board.unplug().unwrap();
    let lost = terminal.wait_for("LINK LOST", 10);
    assert!(lost.contains("Plug it in again"), "{lost}");
    board.replug().unwrap();
    terminal.wait_for(" live ", 10);
    let end = terminal.wait_for("Capture: T7", 180);
    assert!(
        end.contains("T7: PASS") || end.contains("T7: UNDECIDED"),
        "{end}"
    );
    terminal.press("s");
    terminal.wait_for("saved", 20);
    terminal.press("u");
    let units = terminal.wait_for("first record", 10);
    assert!(units.contains("T7"), "{units}");
    terminal.press("Enter");
    terminal.wait_for("T7: 1 record", 10);
    terminal.press("Escape");
    terminal.press("Escape");
    terminal.wait_for("next unit", 10);
    terminal.press("q");
    terminal.wait_for("ended=", 10);
    let records: Vec<_> = std::fs::read_dir(dir.path().join("records"))
        .unwrap()
        .collect();
    assert_eq!(records.len(), 1, "{records:?}");
    let recent = std::fs::read_to_string(dir.path().join("state/recent-profiles")).unwrap();
    assert_eq!(recent.trim(), wanted);
}

#[test]
fn too_small_a_terminal_says_so_and_the_run_goes_on() {
    let dir = tempfile::tempdir().unwrap();
    let Some(terminal) = Terminal::start(dir.path(), 40, 10, &program("demo --speed 3")) else {
        return;
    };
    terminal.wait_for("Too small: 40 x 10", 20);
    terminal.wait_for("The run goes on", 10);
    terminal
        .tmux(&["resize-window", "-x", "80", "-y", "24"])
        .status()
        .unwrap();
    terminal.wait_for("PASS", 60);
}

#[test]
fn the_wheel_stretches_the_trace_when_the_mouse_is_asked_for() {
    let dir = tempfile::tempdir().unwrap();
    let Some(terminal) = Terminal::start(dir.path(), 90, 26, &program("demo T1-dial --mouse"))
    else {
        return;
    };
    terminal.wait_for("20.0 s ago", 20);
    // As a terminal tells a turn of the wheel at column 20, row 9 (xterm's SGR mouse mode, 1006).
    terminal
        .tmux(&["send-keys", "-l", "\u{1b}[<64;20;9M"])
        .status()
        .unwrap();
    terminal.wait_for("10.0 s ago", 10);
}
