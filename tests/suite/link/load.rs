//! Load: the real program takes a long stream, and the fastest that a pseudo-terminal carries; every sample is looked for
//! in the capture, and memory does not grow with the stream. The figures are in docs/load.md.
//!
//! The long ones: `cargo test --release --test suite load:: -- --ignored --nocapture --test-threads 1`, on a quiet machine.
#![cfg(target_os = "linux")]
#![allow(clippy::cast_precision_loss)] // counts of samples and bytes

use measure::units::Step;
use pedalproof::bench::{RunEvent, start};
use pedalproof::link::{MemoryBoard, Overflow, Pace, PtyBoard};
use std::io::Read;
use std::path::Path;
use std::time::{Duration, Instant};

use super::counted::{Codes, Counted, Held, code, held_in, resident_most_mib, say, until_it_ends};
use super::setting::PATIENCE;
use crate::support::program::{line, program};
use crate::support::recording::timed;
use crate::support::terminal::Terminal;

/// What was asked for: a run of an hour stays under it.
const MOST_MIB: f64 = 64.0;

/// How fast the screen's five minutes pass: slow enough for many keys, fast enough for a load.
const PACE: Pace = Pace::Times(15.0);

/// A stream of known samples.
#[derive(Clone, Copy)]
struct Stream {
    codes: Codes,
    channels: usize,
    period_us: u64,
    samples: u64,
}

/// Minutes of four channels at 1 kHz.
fn minutes(minutes: u64) -> Stream {
    Stream {
        codes: code,
        channels: 4,
        period_us: 1000,
        samples: minutes * 60_000,
    }
}

impl Stream {
    /// Its lines; one sample more ends the last step.
    fn lines(self) -> Counted {
        Counted::new(
            self.codes,
            self.channels,
            self.period_us,
            self.samples.saturating_add(1),
        )
    }

    /// A board that prints it as fast as it is read.
    fn board(self) -> PtyBoard {
        PtyBoard::start(self.lines(), Pace::AsRead, Overflow::Wait).unwrap()
    }

    /// Records it from a board; everything that is in the capture is as it was sent, and what is not is counted.
    fn recorded(self, board: &PtyBoard) -> Took {
        let dir = tempfile::tempdir().unwrap();
        let seconds = (self.samples * self.period_us) as f64 * 1e-6;
        let steps = format!("strokes={seconds}");
        let words = dir.path().join("words");
        let began = Instant::now();
        let mut child = program(dir.path())
            .args(["record", "--out", "x", "--steps", &steps, "--port"])
            .arg(board.path())
            .stderr(std::fs::File::create(&words).unwrap())
            .spawn()
            .unwrap();
        let (status, most_mib) = until_it_ends(&mut child, Duration::from_secs(500));
        let seconds = began.elapsed().as_secs_f64();
        let words = std::fs::read_to_string(words).unwrap();
        let status = status.unwrap_or_else(|| panic!("not ended after {seconds} s: {words}"));
        assert!(status.success(), "{status}: {words}");
        let csv = dir.path().join("x.csv");
        let held = held_in(&csv, self.codes, self.channels, self.period_us);
        let missing = counted(dir.path(), held.rows);
        assert_eq!(held.rows + missing, held.last + 1, "{held:?}");
        assert!(held.last >= self.samples, "{held:?}");
        Took {
            most_mib,
            seconds,
            missing,
            held,
        }
    }
}

/// What a recording came to.
struct Took {
    most_mib: f64,
    seconds: f64,
    missing: u64,
    held: Held,
}

/// The counts in the metadata: so many samples, nothing rejected. Gives how many are missing.
fn counted(dir: &Path, samples: u64) -> u64 {
    let text = std::fs::read_to_string(dir.join("x.csv-metadata.json")).unwrap();
    let meta: serde_json::Value = serde_json::from_str(&text).unwrap();
    let stream = &meta["pedalproof"]["stream"];
    assert_eq!(stream["samples"], samples, "{stream}");
    assert_eq!(stream["rejected"], serde_json::json!({}), "{stream}");
    stream["missing"].as_u64().unwrap()
}

/// A sample of four channels in memory, bytes: a time of 8, a step of 1, four codes of 4.
const SAMPLE: f64 = 25.0;

/// What the program may hold of a stream of any length, MiB: 2^17 samples that wait in the run until somebody watches, and as many in
/// each of the four events that wait and the one that is watched. How many there are at a time depends on who gets the
/// processor; that there are no more does not.
const WAITING_MIB: f64 = 6.0 * SAMPLE / 8.0;

/// Two lengths of the same stream: nothing lost, and the longer one takes no more memory, as far as it can be told.
fn whole_and_flat(short: u64, long: u64) {
    let longer_by = ((long - short) * 60_000) as f64 * SAMPLE / f64::from(1 << 20);
    assert!(
        WAITING_MIB < longer_by / 2.0,
        "too short to tell what is kept from what waits: {longer_by} MiB"
    );
    let [short, long] = [short, long].map(|many| {
        let stream = minutes(many);
        let took = stream.recorded(&stream.board());
        say(&format!(
            "{many} min of 4 channels x 1 kHz in {:.1} s: {:.1} MiB at most",
            took.seconds, took.most_mib
        ));
        assert_eq!((took.missing, took.held.rows), (0, many * 60_000 + 1));
        assert!(took.most_mib < MOST_MIB, "{} MiB", took.most_mib);
        took.most_mib
    });
    assert!(
        long - short < WAITING_MIB,
        "grown from {short} to {long} MiB"
    );
}

#[test]
fn a_recording_of_minutes_is_whole_and_memory_does_not_grow_with_it() {
    whole_and_flat(3, 33);
}

#[test]
#[ignore = "half a minute and 150 MB of disk: an hour of stream"]
fn a_recording_of_an_hour_is_whole_and_memory_is_flat() {
    whole_and_flat(6, 60);
}

/// Bytes a second that come out of the terminal when they are only counted.
fn ceiling(stream: Stream) -> f64 {
    let board = stream.board();
    let mut port = serialport::new(board.path().to_string_lossy(), 1_000_000)
        .timeout(Duration::from_secs(5))
        .open()
        .unwrap();
    let mut buffer = vec![0; 1 << 16];
    let (mut lines, mut bytes, mut began) = (0, 0, None);
    // A header before every thousand samples.
    let all = stream.samples + 1 + (stream.samples + 1).div_ceil(1000);
    while lines < all {
        let count = port.read(&mut buffer).unwrap();
        began.get_or_insert_with(Instant::now);
        lines += memchr::memchr_iter(b'\n', &buffer[..count]).count() as u64;
        bytes += count;
    }
    bytes as f64 / began.unwrap().elapsed().as_secs_f64()
}

/// The whole program from its start to a capture on the disk, against a reader that only counts.
#[test]
#[ignore = "a measurement: the fastest stream that a pseudo-terminal carries"]
fn the_fastest_stream_loses_nothing() {
    for channels in [1, 4] {
        let stream = Stream {
            codes: code,
            channels,
            period_us: 1,
            samples: 6_000_000,
        };
        let ceiling = ceiling(stream);
        let took = stream.recorded(&stream.board());
        assert_eq!((took.missing, took.held.rows), (0, stream.samples + 1));
        let per_second = took.held.rows as f64 / took.seconds;
        // The stream's lines have a sum where the capture's have the word `strokes` and a CR.
        let line = took.held.bytes as f64 / took.held.rows as f64 - 6.0;
        say(&format!(
            "{channels} channels: {:.0} k samples/s, {:.1} MB/s, {:.0} % of the {:.1} MB/s of a reader that only counts; {:.1} MiB at most",
            per_second / 1e3,
            per_second * line / 1e6,
            per_second * line / ceiling * 100.0,
            ceiling / 1e6,
            took.most_mib
        ));
    }
}

/// A board that does not wait: what the program has no time for is lost on the way, and every sample of it is counted.
#[test]
fn what_a_board_drops_is_counted_to_the_sample() {
    let stream = Stream {
        codes: code,
        channels: 4,
        period_us: 1,
        samples: 1_000_000,
    };
    // It goes on for ever: the sample that ends the step must not be one that is dropped.
    let endless = Stream {
        samples: u64::MAX,
        ..stream
    };
    let board = PtyBoard::start(endless.lines(), Pace::AsRead, Overflow::DropLines).unwrap();
    let took = stream.recorded(&board);
    assert!(took.missing > 0, "nothing was dropped: this shows nothing");
    say(&format!(
        "a board that does not wait: {} samples taken, {} counted as missing",
        took.held.rows, took.missing
    ));
}

/// Nobody takes what the run tells, as when a terminal stands still: the run goes on to its end, the capture is whole, and what
/// was let go for those who watch is counted.
#[test]
fn a_run_waits_for_nobody_who_watches() {
    let stream = Stream {
        samples: 400_000,
        ..minutes(1)
    };
    let dir = tempfile::tempdir().unwrap();
    let csv = dir.path().join("x.csv");
    let board = MemoryBoard::new("load", stream.lines(), Pace::AsRead);
    let run = start(timed(Box::new(board), Step::Strokes, 400.0, &csv));
    let began = Instant::now();
    let all = stream.samples + 1;
    let written = || {
        let text = std::fs::read_to_string(dir.path().join("x.csv-metadata.json")).ok()?;
        let meta: serde_json::Value = serde_json::from_str(&text).ok()?;
        meta["pedalproof"]["stream"]["samples"].as_u64()
    };
    while written() != Some(all) {
        assert!(began.elapsed() < PATIENCE, "{:?}", written());
        std::thread::sleep(Duration::from_millis(20));
    }
    let (mut message, mut not_shown) = (0, 0);
    for event in &run.events {
        match event {
            RunEvent::Samples(batch) => message += batch.t_us.len() as u64,
            RunEvent::Health(health) => not_shown = health.not_shown,
            RunEvent::Finished { .. } => break,
            RunEvent::Failed(words) => panic!("{words}"),
            _ => {}
        }
    }
    assert!(not_shown > 0, "all of it waited somewhere");
    assert_eq!(message + not_shown, all);
    let held = held_in(&csv, stream.codes, stream.channels, stream.period_us);
    assert_eq!((held.rows, held.last), (all, stream.samples));
}

/// The program in a terminal, on a board that prints this; and its process.
fn on_screen(dir: &Path, board: &PtyBoard) -> Option<(Terminal, u32)> {
    let command = line(&format!("--port {}", board.path().display()));
    let terminal = Terminal::start(dir, 120, 40, &command)?;
    terminal.wait_for("What shall we measure?");
    terminal.press("Enter");
    terminal.wait_for("Name this part");
    terminal.press("Enter");
    terminal.wait_for(" live ");
    let shell = terminal.tmux(&["list-panes", "-F", "#{pane_pid}"]).output();
    let shell = String::from_utf8(shell.unwrap().stdout).unwrap();
    let shell = shell.trim();
    let children = std::fs::read_to_string(format!("/proc/{shell}/task/{shell}/children"));
    let pid = children.unwrap().split_whitespace().next()?.parse().ok()?;
    Some((terminal, pid))
}

/// How long the list of keys takes to open or to close, tmux and looking at it included; `None` when the run has ended.
fn answered(terminal: &Terminal, open: bool) -> Option<Duration> {
    let began = Instant::now();
    terminal.press(if open { "?" } else { "Escape" });
    loop {
        let shown = terminal.shown();
        if shown.contains("list the keys") == open {
            return Some(began.elapsed());
        }
        if shown.contains("Recording:") {
            return None;
        }
        assert!(began.elapsed() < PATIENCE, "{shown}");
        std::thread::sleep(Duration::from_millis(1));
    }
}

/// The screen under such a stream until the card ends, since nobody answers it: keys are answered while it runs, memory has an end,
/// and the capture is whole.
fn under_load(stream: Stream) -> Option<Held> {
    let dir = tempfile::tempdir().unwrap();
    let board = PtyBoard::start(stream.lines(), PACE, Overflow::Wait).unwrap();
    let (terminal, pid) = on_screen(dir.path(), &board)?;
    // Looked at before the card is seen to go on.
    let while_live = || {
        let mib = resident_most_mib(pid).unwrap();
        let shown = terminal.shown();
        let goes_on = shown.contains("skip step") && !shown.contains("Working out");
        goes_on.then_some(mib)
    };
    let (mut waits, mut most_mib) = (Vec::new(), while_live());
    while !terminal.shown().contains("Recording:") {
        for open in [true, false] {
            waits.extend(answered(&terminal, open));
        }
        most_mib = while_live().or(most_mib);
    }
    waits.sort_unstable();
    terminal.press("Escape");
    // Through the whole run: everything on the screen, then a minute of its beginning.
    for key in ["w", "Space", "Home"] {
        terminal.press(key);
    }
    for _ in 0..6 {
        terminal.press("+");
    }
    terminal.wait_for("by 256 samples");
    let with_the_end = resident_most_mib(pid).unwrap();
    terminal.press("q");
    terminal.press("q");
    terminal.wait_for("ended=");
    let captures = std::fs::read_dir(dir.path())
        .unwrap()
        .map(|entry| entry.unwrap().path());
    let csv = captures.filter(|path| path.extension().is_some_and(|end| end == "csv"));
    let held = held_in(
        &csv.last().unwrap(),
        stream.codes,
        stream.channels,
        stream.period_us,
    );
    let median = waits.get(waits.len() / 2).copied().unwrap_or_default();
    say(&format!(
        "screen: {} samples; {most_mib:?} MiB at most, {with_the_end:.1} with the last assessment; {} keys, answered after {median:?} \
         (median), {:?} (slowest)",
        held.rows,
        waits.len(),
        waits.last()
    ));
    assert_eq!(held.rows, held.last + 1);
    let bounded = most_mib.is_some_and(|mib| mib < MOST_MIB);
    assert!(bounded, "{most_mib:?} MiB");
    // The last assessment of what was too much to hold reads the capture.
    let capture_mib = held.rows as f64 * SAMPLE / f64::from(1 << 20);
    assert!(with_the_end < MOST_MIB + capture_mib, "{with_the_end} MiB");
    assert!(median < Duration::from_millis(100), "{median:?}");
    Some(held)
}

/// As many samples as an hour at 1 kHz has, within the five minutes after which a card ends that nobody answers.
#[test]
#[ignore = "a minute: 3.6 million samples on the screen"]
fn the_screen_answers_under_millions_of_samples_and_its_memory_has_an_end() {
    let stream = Stream {
        period_us: 83,
        samples: 4_000_000,
        ..minutes(1)
    };
    if let Some(held) = under_load(stream) {
        assert!(held.rows > 3_600_000, "{held:?}");
    }
}
