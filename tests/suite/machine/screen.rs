//! The whole way on the screen, on simulated boards: from bare parts to a proven board by enter, the keys counted. Needs tmux.

use super::support::{IN_TIME, page_on};
use crate::support::program::line;
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
        self.terminal.point_at(words);
        self.terminal.press("Enter");
    }
}

/// The main case, as the README tells it: a two-track pedal times a dial of 5 kOhm, from an empty folder to a proven board.
#[test]
fn from_bare_parts_to_a_proven_board_by_enter() {
    let dir = tempfile::tempdir().unwrap();
    let command = line("machine --screen --speed 25");
    let Some(terminal) = Terminal::start(dir.path(), 100, 34, &command) else {
        return;
    };
    let keys = Keys {
        terminal: &terminal,
        pressed: Cell::new(0),
    };
    let typed = |text: &str| text.chars().for_each(|key| keys.press(&key.to_string()));
    terminal.wait_for("No machine here yet");
    keys.press("Enter");
    terminal.wait_for("Start a machine");
    terminal.press("trolley T1"); // a name
    keys.press("Enter");
    terminal.wait_for("its first control?");
    keys.press("2");
    terminal.wait_for("so far: pedal");
    keys.press("6");
    terminal.wait_for("track, ohm");
    typed("5000");
    terminal.wait_for("5000_");
    keys.press("Enter");
    terminal.wait_for("start the machine");
    keys.press("Enter");
    terminal.wait_for("NEXT measure pedal");
    for control in ["pedal", "dial"] {
        keys.press("Enter");
        terminal.wait_for(&format!("Wire {control} to a board"));
        keys.choose("a good part, simulated");
        terminal.wait_for("FIT IT");
        terminal.wait_for("added to T1.json");
    }
    keys.press("Enter");
    let made = terminal.wait_for("written: T1.block.json");
    assert!(made.contains("eeprom:w:../T1.block.hex:i"), "{made}");
    let streamer = std::fs::read_to_string(dir.path().join("T1-board/streamer/config.h")).unwrap();
    assert!(streamer.contains("X(pedal_a, 0) X(pedal_b, 1) X(dial, 2) X(output, 3)"));
    for _ in ["output", "faults"] {
        keys.press("Enter");
        terminal.wait_for("Type yes");
        for _ in 0..30 {
            terminal.press("Down"); // past the ports that this machine may have
        }
        typed("yes");
        keys.press("Enter");
        terminal.wait_for("PASS: the board does what its constants file says");
        terminal.wait_for("added to T1.json");
    }
    let pressed = keys.pressed.get();
    assert!(pressed <= MOST_KEYS, "{pressed} keys");
    keys.press("Enter");
    let ready = terminal.wait_for("trolley T1: ready");
    assert!(ready.contains("with simulated recordings"), "{ready}");
    assert!(ready.contains("at the machine itself"), "{ready}");
    keys.press("q");
    let ended = terminal.wait_for("ended=0");
    assert!(
        ended.contains("saved: "),
        "the path is left on the shell: {ended}"
    );
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
