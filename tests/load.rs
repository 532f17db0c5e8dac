//! Load: the real program takes a long stream, and the fastest that a pseudo-terminal carries; every sample is looked for
//! in the capture, and memory does not grow with the stream. The figures are in DEVELOPERS.md, "Load".
//!
//! The long ones: `cargo test --release --test load -- --ignored --nocapture --test-threads 1`.
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use pedalproof::link::{Overflow, Pace, PtyBoard};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

#[path = "support/load.rs"]
mod load;

use load::{Counted, holds_every_sample, say, until_it_ends};

/// What was asked for: a run of an hour stays under it.
const MOST_MIB: f64 = 64.0;

/// What a recording came to.
struct Took {
    most_mib: f64,
    seconds: f64,
}

/// Records so many samples as fast as they are taken, holds the capture against them, and the counts against none lost.
fn recorded(channels: usize, period_us: u64, samples: u64, more: &[&str]) -> Took {
    let dir = tempfile::tempdir().unwrap();
    // One more ends the last step.
    let lines = Counted::new(channels, period_us, samples + 1);
    let board = PtyBoard::start(lines, Pace::AsRead, Overflow::Wait).unwrap();
    #[allow(clippy::cast_precision_loss)] // microseconds of hours
    let seconds = (samples * period_us) as f64 * 1e-6;
    let began = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_pedalproof"))
        .args([
            "record",
            "--out",
            "x",
            "--steps",
            &format!("strokes={seconds}"),
            "--port",
        ])
        .arg(board.path())
        .args(more)
        .current_dir(dir.path())
        .stdin(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let (status, most_mib) = until_it_ends(&mut child, Duration::from_secs(500));
    let took = began.elapsed().as_secs_f64();
    assert!(status.success(), "{status}");
    counted_none_lost(dir.path(), samples + 1);
    holds_every_sample(&dir.path().join("x.csv"), channels, period_us, samples + 1);
    Took {
        most_mib,
        seconds: took,
    }
}

/// The stream's counts in the metadata: these samples, nothing rejected, nothing missing.
fn counted_none_lost(dir: &Path, samples: u64) {
    let text = std::fs::read_to_string(dir.join("x.csv-metadata.json")).unwrap();
    let meta: serde_json::Value = serde_json::from_str(&text).unwrap();
    let stream = &meta["pedalproof"]["stream"];
    assert_eq!(stream["samples"], samples, "{stream}");
    assert_eq!(stream["missing"], 0, "{stream}");
    assert_eq!(stream["rejected"], serde_json::json!({}), "{stream}");
}

/// Minutes of four channels at 1 kHz.
fn minutes(minutes: u64) -> Took {
    let took = recorded(4, 1000, minutes * 60_000, &[]);
    say(&format!(
        "{minutes} min of 4 channels x 1 kHz in {:.1} s: {:.1} MiB at most",
        took.seconds, took.most_mib
    ));
    took
}

#[test]
fn a_recording_of_minutes_is_whole_and_memory_does_not_grow_with_it() {
    let (short, long) = (minutes(3), minutes(6));
    assert!(long.most_mib < MOST_MIB, "{} MiB", long.most_mib);
    let grown = long.most_mib - short.most_mib;
    assert!(grown < 2.0, "{grown} MiB more for three minutes more");
}

#[test]
#[ignore = "half a minute and 150 MB of disk: an hour of stream"]
fn a_recording_of_an_hour_is_whole_and_memory_is_flat() {
    let (short, long) = (minutes(10), minutes(60));
    assert!(long.most_mib < MOST_MIB, "{} MiB", long.most_mib);
    let grown = long.most_mib - short.most_mib;
    assert!(grown < 2.0, "{grown} MiB more for fifty minutes more");
}
