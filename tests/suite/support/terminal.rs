//! The real program in a terminal of its own (tmux), isolated like every start of it.

use super::program::isolated;
use super::tools;
use std::path::Path;
use std::process::Command;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

/// How long words may take to appear: nothing depends on it but how late a test fails, however busy the machine.
const PATIENCE: Duration = Duration::from_secs(180);

/// Terminals started by this test program: each has a server of its own.
static STARTED: AtomicU32 = AtomicU32::new(0);

/// A terminal of its own, gone at the end.
pub struct Terminal {
    socket: String,
}

impl Terminal {
    /// Starts a shell command in a terminal of this size; `None` when there is no tmux.
    pub fn start(dir: &Path, columns: u16, rows: u16, command: &str) -> Option<Self> {
        if !tools::is_here(tools::runs("tmux", &["-V"]), "tmux (apt-get install tmux)") {
            return None;
        }
        let terminal = Self {
            socket: format!(
                "pedalproof-test-{}-{}",
                std::process::id(),
                STARTED.fetch_add(1, Ordering::Relaxed)
            ),
        };
        let size = [columns.to_string(), rows.to_string()];
        let session = ["new-session", "-d", "-x", &size[0], "-y", &size[1]];
        let mut server = isolated(terminal.tmux(&session), dir);
        server
            .arg(format!("{command}; echo ended=$?; sleep 600"))
            .env("LC_ALL", "C.UTF-8");
        let started = server.output().unwrap();
        assert!(started.status.success(), "{started:?}");
        Some(terminal)
    }

    pub fn tmux(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new("tmux");
        command
            .args(["-u", "-f", "/dev/null", "-L", &self.socket])
            .args(arguments);
        command
    }

    pub fn shown(&self) -> String {
        let seen = self.tmux(&["capture-pane", "-p"]).output().unwrap();
        String::from_utf8(seen.stdout).unwrap()
    }

    /// What is shown, with the sequences that colour it.
    pub fn coloured(&self) -> String {
        let seen = self.tmux(&["capture-pane", "-e", "-p"]).output().unwrap();
        String::from_utf8(seen.stdout).unwrap()
    }

    pub fn press(&self, key: &str) {
        self.tmux(&["send-keys", key]).status().unwrap();
    }

    /// Goes down a list to the row with these words. A key is on its way until another row is pointed at: none is pressed meanwhile.
    pub fn point_at(&self, words: &str) {
        let pointed = || {
            let shown = self.shown();
            let row = shown.lines().find(|line| line.contains(['▸', '>']));
            row.map(str::to_owned)
        };
        for _ in 0..40 {
            let before = pointed();
            if before.as_ref().is_some_and(|row| row.contains(words)) {
                return;
            }
            self.press("Down");
            let since = Instant::now();
            while pointed() == before && since.elapsed() < Duration::from_secs(10) {
                std::thread::sleep(Duration::from_millis(30));
            }
        }
        panic!("no row {words}:\n{}", self.shown());
    }

    /// The screen once these words stand on it and it has been drawn to its end.
    pub fn wait_for(&self, words: &str) -> String {
        let since = Instant::now();
        loop {
            let shown = self.shown();
            if shown.contains(words) {
                return self.settled(shown);
            }
            assert!(
                since.elapsed() < PATIENCE,
                "`{words}` did not appear:\n{shown}"
            );
            std::thread::sleep(Duration::from_millis(100));
        }
    }

    /// Waits until these words stand somewhere on a screen that goes on by itself; they may be gone again at once.
    pub fn sees(&self, words: &str) {
        let since = Instant::now();
        while !self.shown().contains(words) {
            assert!(
                since.elapsed() < PATIENCE,
                "`{words}` did not appear:\n{}",
                self.shown()
            );
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// What is shown when a few looks in a row see the same: a look may fall into the middle of a drawing. A screen that
    /// never stands still is taken as it is after some seconds.
    fn settled(&self, mut shown: String) -> String {
        let mut same = 0;
        for _ in 0..100 {
            std::thread::sleep(Duration::from_millis(50));
            let again = self.shown();
            same = if again == shown { same + 1 } else { 0 };
            shown = again;
            if same == 6 {
                break;
            }
        }
        shown
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        let _ = self.tmux(&["kill-server"]).status();
    }
}
