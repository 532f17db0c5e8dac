//! The real binary in a terminal of its own (tmux), from the first frame to the saved verdict, and with a key pressed
//! only to save. Needs tmux: skipped loudly without it, unless `PEDALPROOF_NO_SKIP=1`.
#![cfg(unix)]

use pedalproof::link::BoardLines;
use pedalproof::link::{Overflow, Pace, PtyBoard};
use simulator::{Simulation, scenario};
use std::path::Path;
use std::process::Command;

use crate::support::program::{is_program, line, program};
use crate::support::terminal::Terminal;

#[test]
fn the_demo_goes_through_its_card_to_a_verdict_without_a_key_and_saves_on_one() {
    let dir = tempfile::tempdir().unwrap();
    let Some(terminal) = Terminal::start(dir.path(), 80, 24, &line("demo --speed 3")) else {
        return;
    };
    let first = terminal.wait_for("rest");
    assert!(first.contains("pedal_a"), "{first}");
    let last = terminal.wait_for("FIT IT");
    assert!(last.contains("T1-pedal"), "{last}");
    terminal.press("s");
    terminal.wait_for("saved");
    terminal.press("q");
    let ended = terminal.wait_for("ended=0");
    assert!(
        ended.contains("T1-pedal: pass"),
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
    let Some(terminal) = Terminal::start(dir.path(), 120, 40, &line("demo T2-pedal --speed 3"))
    else {
        return;
    };
    terminal.wait_for("DO NOT FIT");
    // What is not saved is told of once before it is left.
    terminal.press("q");
    terminal.wait_for("the same key again leaves it");
    terminal.press("q");
    terminal.wait_for("ended=1");
}

/// Over the list of blocks to the simulated flashed board: the right output, saved; then the round of faults. Both have
/// the verdict that the command has on what was saved.
#[test]
fn a_simulated_flashed_board_is_proved_and_saved() {
    let dir = tempfile::tempdir().unwrap();
    let Some(terminal) = Terminal::start(dir.path(), 100, 32, &line("")) else {
        return;
    };
    terminal.wait_for("No machine here yet");
    terminal.press("o");
    terminal.wait_for("trolley T1, simulated");
    let answer = |first: &str| {
        terminal.press(first);
        let asked = terminal.wait_for("Type yes");
        assert!(asked.contains("wheels off the ground"), "{asked}");
        for _ in 0..30 {
            terminal.press("Down"); // past the ports that this machine may have
        }
        for key in ["y", "e", "s", "Enter"] {
            terminal.press(key);
        }
    };
    answer("p");
    terminal.sees("Stand still");
    terminal.wait_for("PASS: the board does what its constants file says");
    terminal.press("s");
    terminal.wait_for("again: pedalproof prove");
    answer("f");
    // What is asked for is on the screen for a second or two (its drawings are kept in `tui`): here what came of it.
    terminal.wait_for("PASS: the board does what its constants file says");
    terminal.wait_for("ground A0 latched");
    terminal.press("s");
    terminal.wait_for("with its marks");
    terminal.press("q");
    let ended = terminal.wait_for("ended=0");
    assert!(ended.contains("flashed board: pass"), "{ended}");
    let mut captures = Vec::new();
    for entry in std::fs::read_dir(dir.path()).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|end| end == "csv") {
            captures.push(path);
        }
    }
    assert_eq!(captures.len(), 2);
    for capture in captures {
        let judged = program(dir.path())
            .arg("prove")
            .arg(&capture)
            .arg("--block")
            .arg(capture.with_extension("block.json"))
            .output()
            .unwrap();
        assert_eq!(judged.status.code(), Some(0), "{judged:?}");
    }
}

#[test]
fn sigterm_restores_the_terminal() {
    let dir = tempfile::tempdir().unwrap();
    let Some(terminal) = Terminal::start(dir.path(), 100, 30, &line("demo T1-lever --seed 77"))
    else {
        return;
    };
    terminal.wait_for("rest");
    let pids = Command::new("pgrep")
        .args(["-f", &line("demo T1-lever --seed 77").replace('/', ".")])
        .output()
        .unwrap();
    for pid in String::from_utf8(pids.stdout).unwrap().split_whitespace() {
        // The shell that started it has the words in its command line, too: only the program itself is meant.
        let exe = std::fs::read_link(format!("/proc/{pid}/exe")).unwrap_or_default();
        if is_program(&exe) {
            Command::new("kill").args(["-TERM", pid]).status().unwrap();
        }
    }
    let ended = terminal.wait_for("ended=");
    assert!(!ended.contains('▌'), "the screen is gone: {ended}");
}

/// A pedal on a pseudo-terminal, its hand going through the card again and again.
fn pedal(speed: f64) -> PtyBoard {
    let simulation = Simulation::new(&scenario("T1-pedal").unwrap(), 5).unwrap();
    let lines = BoardLines::new(simulation);
    PtyBoard::start(lines, Pace::Times(speed), Overflow::Wait).unwrap()
}

/// The program on a port.
fn on_port(board: &PtyBoard) -> String {
    line(&format!("--port {}", board.path().display()))
}

#[test]
fn from_the_source_to_a_kept_record_though_the_cable_is_pulled_in_the_middle() {
    let dir = tempfile::tempdir().unwrap();
    let board = pedal(2.0);
    let Some(terminal) = Terminal::start(dir.path(), 100, 30, &on_port(&board)) else {
        return;
    };
    terminal.wait_for("What shall we measure?");
    terminal.press("Enter");
    let unit = terminal.wait_for("Name this part");
    assert!(unit.contains("emergency stop"), "safety words: {unit}");
    terminal.press("T7");
    let wanted = pedalproof::profile::find("pedal-hall-two-track")
        .unwrap()
        .name;
    terminal.point_at(&wanted);
    terminal.press("Enter");
    terminal.wait_for("▸ strokes");
    board.unplug().unwrap(); // before anything that a machine with other work makes wait
    terminal.press("d");
    let lost = terminal.wait_for("LINK LOST");
    assert!(lost.contains("Plug it in again"), "{lost}");
    board.replug().unwrap();
    terminal.wait_for(" live ");
    let end = terminal.wait_for("Recording: T7");
    assert!(
        end.contains("T7: FIT IT") || end.contains("T7: MEASURE MORE"),
        "{end}"
    );
    terminal.press("s");
    terminal.wait_for("saved");
    terminal.press("u");
    let units = terminal.wait_for("first record");
    assert!(units.contains("T7"), "{units}");
    terminal.press("Enter");
    terminal.wait_for("T7: 1 record");
    terminal.press("Escape");
    // Two that come together are one key with alt.
    terminal.wait_for("its history");
    terminal.press("Escape");
    terminal.wait_for("next part");
    terminal.press("q");
    terminal.wait_for("ended=");
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
    let Some(terminal) = Terminal::start(dir.path(), 40, 10, &line("demo")) else {
        return;
    };
    terminal.wait_for("Window too small (40 x 10)");
    terminal.wait_for("The run goes on");
    terminal
        .tmux(&["resize-window", "-x", "80", "-y", "24"])
        .status()
        .unwrap();
    terminal.wait_for("FIT IT");
}

#[test]
fn the_wheel_stretches_the_trace_when_the_mouse_is_asked_for() {
    let dir = tempfile::tempdir().unwrap();
    let Some(terminal) =
        Terminal::start(dir.path(), 90, 26, &line("demo T1-dial --mouse --details"))
    else {
        return;
    };
    terminal.wait_for("20.0 s ago");
    // As a terminal tells a turn of the wheel at column 20, row 9 (xterm's SGR mouse mode, 1006).
    terminal
        .tmux(&["send-keys", "-l", "\u{1b}[<64;20;9M"])
        .status()
        .unwrap();
    terminal.wait_for("10.0 s ago");
}
