//! The real binary in a terminal of its own (tmux), from the first frame to the saved verdict, and with a key pressed
//! only to save. Needs tmux: skipped loudly without it, unless `PEDALPROOF_NO_SKIP=1`.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

/// A terminal of its own, gone at the end.
struct Terminal {
    socket: String,
}

impl Terminal {
    /// Starts a shell command in a terminal of this size; `None` when there is no tmux.
    fn start(dir: &Path, columns: u16, rows: u16, command: &str) -> Option<Self> {
        if Command::new("tmux").arg("-V").output().is_err() {
            assert!(
                std::env::var_os("PEDALPROOF_NO_SKIP").is_none(),
                "tmux is needed"
            );
            eprintln!("SKIPPED: no tmux; install with: apt-get install tmux");
            return None;
        }
        let terminal = Self {
            socket: format!("pedalproof-test-{}-{columns}x{rows}", std::process::id()),
        };
        let size = [columns.to_string(), rows.to_string()];
        let started = terminal
            .tmux(&["new-session", "-d", "-x", &size[0], "-y", &size[1]])
            .arg(format!(
                "cd {} && {command}; echo ended=$?; sleep 600",
                dir.display()
            ))
            .env("LC_ALL", "C.UTF-8")
            .status()
            .unwrap();
        assert!(started.success());
        Some(terminal)
    }

    fn tmux(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new("tmux");
        command
            .args(["-u", "-f", "/dev/null", "-L", &self.socket])
            .args(arguments);
        command
    }

    fn shown(&self) -> String {
        let seen = self.tmux(&["capture-pane", "-p"]).output().unwrap();
        String::from_utf8(seen.stdout).unwrap()
    }

    fn press(&self, key: &str) {
        self.tmux(&["send-keys", key]).status().unwrap();
    }

    fn wait_for(&self, words: &str, seconds: u64) -> String {
        let since = Instant::now();
        loop {
            let shown = self.shown();
            if shown.contains(words) {
                return shown;
            }
            assert!(
                since.elapsed() < Duration::from_secs(seconds),
                "`{words}` did not appear:\n{shown}"
            );
            std::thread::sleep(Duration::from_millis(100));
        }
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        let _ = self.tmux(&["kill-server"]).status();
    }
}

fn program(arguments: &str) -> String {
    format!("{} {arguments}", env!("CARGO_BIN_EXE_pedalproof"))
}

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

/// Over the list of blocks to the simulated flashed board: the right output, saved; then the round of faults. Both have
/// the verdict that the command has on what was saved.
#[test]
fn a_simulated_flashed_board_is_proved_and_saved() {
    let dir = tempfile::tempdir().unwrap();
    let Some(terminal) = Terminal::start(dir.path(), 100, 32, &program("")) else {
        return;
    };
    terminal.wait_for("Where do the samples come from?", 20);
    terminal.press("o");
    terminal.wait_for("trolley T1, simulated", 10);
    let answer = |first: &str| {
        terminal.press(first);
        let asked = terminal.wait_for("Type yes", 10);
        assert!(asked.contains("wheels off the ground"), "{asked}");
        for _ in 0..30 {
            terminal.press("Down"); // past the ports that this machine may have
        }
        for key in ["y", "e", "s", "Enter"] {
            terminal.press(key);
        }
    };
    answer("p");
    terminal.wait_for("Stand still", 30);
    terminal.wait_for("PASS: the board does what its block says", 120);
    terminal.press("s");
    terminal.wait_for("again: pedalproof prove", 10);
    answer("f");
    terminal.wait_for("Let the control rest", 30);
    terminal.wait_for("tie the signal wire to ground now", 60);
    terminal.wait_for("PASS: the board does what its block says", 120);
    terminal.press("s");
    terminal.wait_for("with its marks", 10);
    terminal.press("q");
    let ended = terminal.wait_for("ended=0", 10);
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
        let judged = Command::new(env!("CARGO_BIN_EXE_pedalproof"))
            .arg("prove")
            .arg(&capture)
            .arg("--block")
            .arg(capture.with_extension("block.json"))
            .output()
            .unwrap();
        assert_eq!(judged.status.code(), Some(0), "{judged:?}");
    }
}

/// From the end of a card on: the capture is saved and the unit's constants are written beside it, as blocks that the
/// blend page then offers.
#[test]
fn constants_are_written_at_the_end_of_a_card() {
    let dir = tempfile::tempdir().unwrap();
    let Some(terminal) = Terminal::start(dir.path(), 110, 34, &program("demo --speed 4")) else {
        return;
    };
    terminal.wait_for("PASS", 60);
    terminal.press("k");
    terminal.wait_for("written:", 20);
    terminal.press("Escape");
    terminal.wait_for("PASS", 10);
    terminal.press("o");
    terminal.wait_for(".block.hex", 10);
    terminal.press("Enter");
    terminal.wait_for("live: pedal_a", 10);
    let ends: Vec<String> = std::fs::read_dir(dir.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    for end in [".csv", ".block.json", ".block.h", ".block.hex"] {
        assert!(
            ends.iter().any(|name| name.ends_with(end)),
            "{end}: {ends:?}"
        );
    }
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
