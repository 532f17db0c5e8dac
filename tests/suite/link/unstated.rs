//! Boards that say little, on pseudo-terminals: another speed than expected, other lines than expected, clocks that are none.
//!
//! Beside the speed stands a model of the line: a byte is a start bit, eight bits with the lowest first, a stop bit (the 8N1 of
//! every such board); a receiver takes what the line is in the middle of each bit as long as it thinks it is.

use super::setting::{ended, recording, stderr, taken, to_its_end};
use pedalproof::capture::open;
use serialport::{SerialPort, TTYPort};
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

/// What a board writes as its n-th line.
type Lines = Box<dyn Fn(u64) -> String + Send>;

/// What a receiver at `heard` symbols a second makes of bytes that are sent at `sent`.
fn received(bytes: &[u8], sent: u32, heard: u32) -> Vec<u8> {
    if sent == heard {
        return bytes.to_vec();
    }
    let bits: Vec<bool> = bytes
        .iter()
        .flat_map(|byte| {
            let data = (0..8).map(move |bit| byte >> bit & 1 == 1);
            std::iter::once(false)
                .chain(data)
                .chain(std::iter::once(true))
        })
        .collect();
    let (sent, heard) = (f64::from(sent), f64::from(heard));
    let line = |seconds: f64| bits.get((seconds * sent) as usize).copied().unwrap_or(true);
    let (step, end) = (1.0 / (16.0 * sent.max(heard)), bits.len() as f64 / sent);
    let (mut at, mut out) = (0.0, Vec::new());
    while at < end {
        if line(at) {
            at += step;
            continue;
        }
        let middle = |bit: u32| at + (f64::from(bit) + 1.5) / heard;
        out.push(
            (0..8)
                .filter(|bit| line(middle(*bit)))
                .fold(0, |byte, bit| byte | 1 << bit),
        );
        at += 9.5 / heard;
        while at < end && !line(at) {
            at += step;
        }
    }
    out
}

/// A board that prints at one speed, whoever listens at whatever other.
struct Board {
    path: PathBuf,
    over: Arc<AtomicBool>,
    /// Lines, at most, of writes in whose middle the other side began to listen at another speed.
    late: Arc<AtomicU64>,
    thread: Option<JoinHandle<()>>,
}

impl Board {
    /// One that prints `line(n)` ten times in 10 ms.
    fn at(speed: u32, line: impl Fn(u64) -> String + Send + 'static) -> Self {
        let (mut master, slave) = TTYPort::pair().unwrap();
        let path = PathBuf::from(slave.name().unwrap());
        drop(slave);
        master.set_timeout(Duration::from_millis(20)).unwrap();
        let over = Arc::new(AtomicBool::new(false));
        let stop = Arc::clone(&over);
        let late = Arc::new(AtomicU64::new(0));
        let too_late = Arc::clone(&late);
        let thread = std::thread::spawn(move || {
            let mut n = 0;
            while !stop.load(Ordering::Relaxed) {
                let text: String = (n..n + 10).map(&line).collect();
                // A pseudo-terminal knows at which speed its other side listens. Where nobody does, it is gone.
                let heard = master.baud_rate().unwrap_or(speed);
                let bytes = received(text.as_bytes(), speed, heard);
                let _ = master.write_all(&bytes);
                if master.baud_rate().unwrap_or(speed) != heard {
                    let ends = bytes.iter().filter(|byte| matches!(byte, b'\r' | b'\n'));
                    too_late.fetch_add(1 + ends.count() as u64, Ordering::Relaxed);
                }
                n += 10;
                std::thread::sleep(Duration::from_millis(10));
            }
        });
        Self {
            path,
            over,
            late,
            thread: Some(thread),
        }
    }
}

impl Drop for Board {
    fn drop(&mut self) {
        self.over.store(true, Ordering::Relaxed);
        let _ = self.thread.take().map(JoinHandle::join);
    }
}

/// Lines with a header before each hundredth.
fn under(header: &'static str, line: impl Fn(u64) -> String) -> impl Fn(u64) -> String {
    move |n| {
        let header = if n.is_multiple_of(100) { header } else { "" };
        format!("{header}{}\n", line(n))
    }
}

const HEADER: &str = "# pedalproof 1 bits=10 vref_mv=5000 rate_hz=1000 cols=t_us,pedal\n";

fn good(n: u64) -> String {
    format!("{},{}", n * 1000, 100 + n % 7)
}

#[test]
fn a_line_that_is_heard_too_slowly_is_no_text() {
    // By hand: at half the speed the middles of the bits fall behind sent bits 3, 5, 7, 9 ..., and the first byte of two `U`
    // (01010101, lowest first 10101010) reads 1 1 1 1, the stop and start bit, and so on: no text either way.
    let heard = received(b"UUUU", 2, 1);
    assert!(heard.len() < 4 && !heard.contains(&b'U'), "{heard:?}");
    assert_eq!(received(b"12,34\n", 9600, 9600), b"12,34\n");
}

#[test]
fn the_speed_is_found_by_what_can_be_read_and_said() {
    for speed in [250_000, 2_000_000] {
        let dir = tempfile::tempdir().unwrap();
        let board = Board::at(speed, under(HEADER, good));
        let output = to_its_end(recording(dir.path(), &board.path, "rest=0.3"));
        let message = stderr(&output);
        assert_eq!(output.status.code(), Some(0), "{message}");
        assert!(
            message.contains("The board speaks at another speed. Trying"),
            "{message}"
        );
        let found = format!("at {speed} baud");
        assert!(message.contains(&found), "{message}");
        let csv = dir.path().join("x.csv");
        let meta = open(&csv).unwrap().capture.meta;
        assert!(meta.board.name.contains(&found), "{}", meta.board.name);
        // Nothing of the search is left in the counts but what this board says at the old speed when it is not let run between
        // looking at the speed and printing.
        let rejected = meta.stream.rejected.iter();
        let other =
            rejected.filter(|(cause, _)| !matches!(cause.as_str(), "cut" | "before header"));
        let lines: u64 = other.map(|(_, n)| n).sum();
        let late = board.late.load(Ordering::Relaxed);
        assert!(lines <= late, "{late}: {:?}", meta.stream.rejected);
    }
}

#[test]
fn other_ways_to_write_a_sample_are_taken() {
    let blanks = "# pedalproof 1 bits=10 vref_mv=5000 rate_hz=1000 cols=t_us, pedal\n";
    let ms = "# pedalproof 1 bits=10 vref_mv=5000 cols=t_ms,pedal\n";
    let written: [(&str, Lines, &[&str]); 3] = [
        ("blanks", Box::new(under(blanks, good)), &[]),
        (
            "ms",
            Box::new(under(ms, |n| format!("{n},{}", 100 + n % 7))),
            &[],
        ),
        (
            "names",
            Box::new(under("", |n| {
                format!("t_us:{}, pedal:{}", n * 1000, 100 + n % 7)
            })),
            &["--bits", "10", "--vref-mv", "5000"],
        ),
    ];
    for (way, line, stated) in written {
        let dir = tempfile::tempdir().unwrap();
        let board = Board::at(1_000_000, line);
        let mut command = recording(dir.path(), &board.path, "rest=0.3");
        command.args(stated);
        let output = to_its_end(command);
        assert_eq!(output.status.code(), Some(0), "{way}: {}", stderr(&output));
        let (t_us, codes, _) = taken(&dir.path().join("x.csv"));
        assert!(codes.len() > 100, "{way}: {}", codes.len());
        // Each sample 1 ms behind the one before, with the code that goes with it.
        for at in 1..codes.len() {
            assert_eq!(t_us[at] - t_us[at - 1], 1000, "{way}");
            assert_eq!(codes[at], 100 + t_us[at] / 1000 % 7, "{way}");
        }
    }
}

/// Runs `record` until it has said something, then ends it.
fn until_it_says(dir: &Path, board: &Board, words: &str) -> String {
    let mut command = recording(dir, &board.path, "rest=60");
    let mut child = command
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut said = String::new();
    for line in BufReader::new(child.stderr.take().unwrap()).lines() {
        said += &line.unwrap();
        said.push('\n');
        if said.contains(words) {
            child.kill().unwrap();
            break;
        }
    }
    ended(child);
    said
}

#[test]
fn what_cannot_be_taken_is_told_with_what_to_write_instead() {
    let cases: [(Lines, &[&str]); 7] = [
        (
            Box::new(under("", |n| format!("{},512,{}", n * 1000, n % 7))),
            &["nothing says what they are", "cols=t_us,channel1,channel2"],
        ),
        (
            Box::new(under("", |n| format!("2.51 {}.25", n % 5))),
            &["volts?", "analogRead"],
        ),
        (
            Box::new(under("", |n| format!("pedal:{}", n % 7))),
            &["have names", "--columns pedal"],
        ),
        (
            Box::new(under(
                "# pedalproof 1 bits=10 vref_mv=5000 cols=t_us pedal dial\n",
                |n| format!("{n},2,3"),
            )),
            &["which have 3 numbers", "commas and no blanks"],
        ),
        (
            Box::new(under(HEADER, |n| format!("77,{}", n % 7))),
            &["clock stands still"],
        ),
        (
            Box::new(under(HEADER, |n| format!("{},5", 4_000_000_000 - n * 1000))),
            &["clock runs backwards"],
        ),
        (
            Box::new(under(HEADER, |n| {
                if n > 500 && n % 3 == 0 {
                    "?".to_owned()
                } else {
                    good(n)
                }
            })),
            &["Damaged lines are coming in"],
        ),
    ];
    std::thread::scope(|scope| {
        for (line, message) in cases {
            scope.spawn(move || {
                let dir = tempfile::tempdir().unwrap();
                let board = Board::at(1_000_000, line);
                let said = until_it_says(dir.path(), &board, message[message.len() - 1]);
                for words in message {
                    assert!(said.contains(words), "{words}: {said}");
                }
            });
        }
    });
}
