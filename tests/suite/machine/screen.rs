//! The whole way on the screen, on simulated boards: from bare parts to a proven board by enter, the keys counted. Needs tmux.

use super::support::{IN_TIME, page_on};
use crate::support::program::{line, pedalproof, words};
use crate::support::terminal::Terminal;
use std::cell::Cell;

/// Keys beside names that the whole way may take (the aim of the machine's page).
const MOST_KEYS: usize = 25;

struct Keys<'a> {
    terminal: &'a Terminal,
    pressed: Cell<usize>,
}

impl Keys<'_> {
    fn press(&self, key: &str) {
        self.pressed.set(self.pressed.get() + 1);
        self.terminal.press(key);
    }

    /// Chooses a row, past what this machine may have in front of it: one key for a person, who sees its number.
    fn choose(&self, words: &str) {
        self.pressed.set(self.pressed.get() + 1);
        for _ in 0..40 {
            let shown = self.terminal.shown();
            let pointed = shown
                .lines()
                .find(|line| line.contains('▸') || line.contains('>'));
            if pointed.is_some_and(|line| line.contains(words)) {
                return self.terminal.press("Enter");
            }
            self.terminal.press("Down");
            std::thread::sleep(std::time::Duration::from_millis(60));
        }
        panic!("no row {words}:\n{}", self.terminal.shown());
    }
}

#[test]
fn from_bare_parts_to_a_proven_board_by_enter() {
    let dir = tempfile::tempdir().unwrap();
    let new = ["machine", "new", "T1.json", "--name", "trolley T1"];
    let controls = [
        "--control",
        "pedal=pedal-hall-two-track",
        "--control",
        "dial=dial-rheostat",
    ];
    let ran = pedalproof(dir.path(), &[&new[..], &controls].concat());
    assert!(ran.status.success(), "{}", words(&ran));
    let command = line("machine T1.json --screen --speed 8");
    let Some(terminal) = Terminal::start(dir.path(), 100, 34, &command) else {
        return;
    };
    let keys = Keys {
        terminal: &terminal,
        pressed: Cell::new(0),
    };
    for (next, board) in [
        ("NEXT measure pedal", "T1-pedal"),
        ("NEXT measure dial", "T1-dial"),
    ] {
        terminal.wait_for(next);
        keys.press("Enter");
        terminal.wait_for("then choose it");
        keys.choose(board);
        terminal.wait_for("FIT IT");
        terminal.wait_for("added to T1.json");
        keys.press("n");
    }
    terminal.wait_for("NEXT make the constants");
    keys.press("Enter");
    terminal.wait_for("written: T1.block.json");
    keys.press("Escape");
    for next in ["prove its output", "every fault stops"] {
        terminal.wait_for(next);
        keys.press("Enter");
        terminal.wait_for("Type yes");
        for _ in 0..30 {
            terminal.press("Down"); // past the ports that this machine may have
        }
        for key in ["y", "e", "s", "Enter"] {
            keys.press(key);
        }
        terminal.wait_for("PASS: the board does what its constants file says");
        terminal.wait_for("added to T1.json");
        keys.press("n");
    }
    let ready = terminal.wait_for("trolley T1: ready");
    assert!(ready.contains("next check"), "{ready}");
    keys.press("q");
    let ended = terminal.wait_for("ended=0");
    assert!(
        ended.contains("saved: "),
        "the path is left on the shell: {ended}"
    );
    let pressed = keys.pressed.get();
    assert!(pressed <= MOST_KEYS, "{pressed} keys");
    // The same on the command line.
    let today = jiff::Timestamp::now().strftime("%Y-%m-%d").to_string();
    let now = page_on(dir.path(), "T1.json", &today);
    assert_eq!(now.code, 0, "{} on {IN_TIME}", now.json);
}

/// A lone part gets figures and verdict, and no half block: `g` says what is missing.
#[test]
fn a_lone_part_makes_no_block_and_s_twice_says_already() {
    let dir = tempfile::tempdir().unwrap();
    let Some(terminal) = Terminal::start(dir.path(), 100, 32, &line("demo --speed 8")) else {
        return;
    };
    terminal.wait_for("FIT IT");
    terminal.press("g");
    terminal.wait_for("belongs to no machine");
    terminal.press("Escape");
    terminal.wait_for("FIT IT");
    terminal.press("s");
    terminal.wait_for("saved: ");
    terminal.press("s");
    terminal.wait_for("already saved: ");
    terminal.press("q");
    terminal.wait_for("ended=0");
    let blocks = std::fs::read_dir(dir.path()).unwrap().filter(|entry| {
        let name = entry.as_ref().unwrap().file_name();
        name.to_string_lossy().contains(".block.")
    });
    assert_eq!(blocks.count(), 0);
}
