//! Boards made of lists of lines, the program on their port, and what is in a capture.
#![cfg(unix)] // a pseudo-terminal

use crate::support::program::program;
pub use crate::support::program::stderr;
use pedalproof::capture::{Opened, StreamCounts, open};
use pedalproof::link::{LineSource, Overflow, Pace, PtyBoard};
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// A line and the board time at which it is due, in microseconds.
pub type Line = (u64, Vec<u8>);

pub const HEADER: &str = "# pedalproof 1 bits=10 vref_mv=5000 rate_hz=1000 cols=t_us,pedal";

pub fn header(due_us: u64, text: &str) -> Line {
    (due_us, format!("{text}\n").into_bytes())
}

/// Samples `n` of a board at 1 kHz whose time is `base_us` more than the due time, codes counting up from `code`.
pub fn samples(
    numbers: std::ops::Range<u64>,
    base_us: i64,
    code: impl Fn(u64) -> u64,
) -> impl Iterator<Item = Line> {
    numbers.map(move |n| {
        let t_us = (n * 1000).checked_add_signed(base_us).unwrap();
        (n * 1000, format!("{t_us},{}\n", code(n)).into_bytes())
    })
}

/// What a board at 1 kHz prints: a header each half second, codes that say which sample it is.
pub fn steady(seconds: u64) -> Vec<Line> {
    let mut lines = Vec::new();
    for n in 0..seconds * 1000 {
        if n.is_multiple_of(500) {
            lines.push(header(n * 1000, HEADER));
        }
        lines.extend(samples(n..n + 1, 0, numbered));
    }
    lines
}

/// The code of sample `n` of a steady board.
pub fn numbered(n: u64) -> u64 {
    n % 1000
}

/// Plays a list; counts its lines.
pub struct Listed {
    lines: std::vec::IntoIter<Line>,
    pub printed: Arc<AtomicU64>,
}

impl Listed {
    pub fn new(lines: Vec<Line>) -> Self {
        Self {
            lines: lines.into_iter(),
            printed: Arc::default(),
        }
    }
}

impl LineSource for Listed {
    fn next_line(&mut self, out: &mut Vec<u8>) -> Option<u64> {
        let (due, line) = self.lines.next()?;
        out.extend_from_slice(&line);
        self.printed.store(due / 1000, Ordering::Relaxed);
        Some(due)
    }
}

pub fn board(lines: Vec<Line>, speed: f64) -> PtyBoard {
    PtyBoard::start(Listed::new(lines), Pace::Times(speed), Overflow::Wait).unwrap()
}

/// `record` on a port into `x.csv`.
pub fn recording(dir: &Path, port: &Path, steps: &str) -> Command {
    to_record(program(dir), port, steps)
}

/// The same of a command that starts the program.
pub fn to_record(mut command: Command, port: &Path, steps: &str) -> Command {
    command.args(["record", "--out", "x", "--steps", steps, "--port"]);
    command.arg(port);
    command
}

/// How long a test waits for what comes at once on a quiet machine: nothing depends on it but how late a test fails.
pub const PATIENCE: Duration = Duration::from_secs(180);

/// Runs a command to its end. Its words are few.
pub fn to_its_end(mut command: Command) -> Output {
    ended(
        command
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap(),
    )
}

/// Waits for the end of a program.
pub fn ended(mut child: Child) -> Output {
    let since = Instant::now();
    while child.try_wait().unwrap().is_none() {
        if since.elapsed() > PATIENCE {
            child.kill().unwrap();
            panic!(
                "it did not end: {}",
                stderr(&child.wait_with_output().unwrap())
            );
        }
        std::thread::sleep(Duration::from_millis(10));
    }
    child.wait_with_output().unwrap()
}

pub fn wait_for(what: impl Fn() -> bool) {
    let since = Instant::now();
    while !what() {
        assert!(since.elapsed() < PATIENCE, "waited in vain");
        std::thread::sleep(Duration::from_millis(5));
    }
}

/// Waits until so many bytes of a capture are on the disk.
pub fn wait_for_bytes(csv: &Path, bytes: u64) {
    wait_for(|| csv.metadata().is_ok_and(|m| m.len() > bytes));
}

/// Looks on, while a test runs, for how long the machine lets nobody run or write.
pub struct Stalls {
    done: Arc<AtomicBool>,
    thread: std::thread::JoinHandle<Duration>,
}

impl Stalls {
    /// Writes a byte into a file of this folder every few milliseconds.
    pub fn watched(dir: &Path) -> Self {
        let done = Arc::new(AtomicBool::new(false));
        let (ended, file) = (Arc::clone(&done), dir.join("stalls"));
        let thread = std::thread::spawn(move || {
            let mut longest = Duration::ZERO;
            while !ended.load(Ordering::Relaxed) {
                let since = Instant::now();
                std::thread::sleep(Duration::from_millis(5));
                std::fs::write(&file, "x").unwrap();
                longest = longest.max(since.elapsed());
            }
            longest
        });
        Self { done, thread }
    }

    /// The longest.
    pub fn longest(self) -> Duration {
        self.done.store(true, Ordering::Relaxed);
        self.thread.join().unwrap()
    }
}

/// Times and codes of a capture's only channel, and its counts.
pub fn taken(csv: &Path) -> (Vec<u64>, Vec<u64>, StreamCounts) {
    let Opened { capture, .. } = open(csv).unwrap();
    let codes = capture.codes[0]
        .iter()
        .map(|code| u64::from(code.0))
        .collect();
    (capture.t_us, codes, capture.meta.stream)
}

/// Names of a folder, sorted.
pub fn names(dir: &Path) -> Vec<String> {
    let mut names: Vec<_> = std::fs::read_dir(dir)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

/// A number from a seed (splitmix64), so that a moment that was bad comes again.
pub fn chance(seed: u64) -> u64 {
    let mut z = seed.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// Does something for each number, so many at once.
pub fn at_once(numbers: std::ops::Range<u64>, workers: usize, what: impl Fn(u64) + Sync) {
    let next = AtomicU64::new(numbers.start);
    std::thread::scope(|scope| {
        for _ in 0..workers {
            scope.spawn(|| {
                loop {
                    let n = next.fetch_add(1, Ordering::Relaxed);
                    if n >= numbers.end {
                        return;
                    }
                    what(n);
                }
            });
        }
    });
}

/// How long this machine itself stood still: the longest that a small file and its new name took, in milliseconds, measured
/// beside a recording, which does the same twice a second.
pub struct Dwell {
    over: Arc<AtomicBool>,
    longest: JoinHandle<u64>,
}

impl Dwell {
    pub fn begin() -> Self {
        let over = Arc::new(AtomicBool::new(false));
        let until = Arc::clone(&over);
        let longest = std::thread::spawn(move || {
            let dir = tempfile::tempdir().unwrap();
            let mut longest = 0;
            while !until.load(Ordering::Relaxed) {
                let begun = Instant::now();
                std::thread::sleep(Duration::from_millis(10));
                std::fs::write(dir.path().join("new"), vec![b'x'; 1 << 13]).unwrap();
                std::fs::rename(dir.path().join("new"), dir.path().join("old")).unwrap();
                longest = longest.max(begun.elapsed().as_millis());
            }
            u64::try_from(longest).unwrap()
        });
        Self { over, longest }
    }

    /// Milliseconds.
    pub fn end(self) -> u64 {
        self.over.store(true, Ordering::Relaxed);
        self.longest.join().unwrap()
    }
}
