//! The board in the middle of a run: it is reset, its rate changes, another one takes its place. Each is told in words,
//! and samples of two boards are never in one capture.

use crate::link::setting::{
    HEADER, Line, board, ended, header, numbered, recording, samples, stderr, steady, taken,
    to_its_end, wait_for_bytes,
};
use pedalproof::link::{Overflow, Pace, PtyBoard};
use std::process::{Output, Stdio};

/// Records a list at four times its speed.
fn recorded(dir: &std::path::Path, lines: Vec<Line>, seconds: u64) -> Output {
    let board = board(lines, 4.0);
    to_its_end(recording(dir, board.path(), &format!("rest={seconds}")))
}

/// Two seconds of a steady board, then what the list says.
fn then(lines: impl IntoIterator<Item = Line>) -> Vec<Line> {
    let mut all = steady(2);
    all.extend(lines);
    all
}

#[test]
fn a_reset_board_is_told_of_and_its_samples_go_on() {
    // 8 s of silence, then time from 0 again: with a header first, as a board prints at its start, or without.
    for announced in [true, false] {
        let dir = tempfile::tempdir().unwrap();
        let mut lines = then(announced.then(|| header(10_000_000, HEADER)));
        for n in 10_000..16_000 {
            if n % 500 == 400 {
                lines.push(header(n * 1000, HEADER));
            }
            lines.extend(samples(n..n + 1, -10_000_000, numbered));
        }
        let ran = recorded(dir.path(), lines, 6);
        assert!(ran.status.success(), "{}", stderr(&ran));
        assert!(
            stderr(&ran).contains("The board was reset"),
            "{}",
            stderr(&ran)
        );
        let (t_us, codes, counts) = taken(&dir.path().join("x.csv"));
        assert_eq!(counts.restarts, 1);
        assert!(t_us.is_sorted());
        // Without a header two lines are not believed; by the host's clock the silence was 2 s, less what the
        // host was late to hear the last sample before it.
        let unbelieved = if announced { 0 } else { 2 };
        assert_eq!(
            counts.rejected.get("time went back").copied().unwrap_or(0),
            unbelieved
        );
        assert!(counts.missing >= 70, "{counts:?}");
        let before: Vec<u64> = (0..2000).map(numbered).collect();
        assert!(codes.starts_with(&before));
        let first = 10_000 + unbelieved;
        let after = (first..first + codes.len() as u64 - 2000).map(numbered);
        assert!(
            codes[2000..].iter().copied().eq(after),
            "every sample after the reset, in order"
        );
        let meta = std::fs::read_to_string(dir.path().join("x.csv-metadata.json")).unwrap();
        assert!(meta.contains("\"restarts\": 1"), "{meta}");
    }
}

#[test]
fn any_change_of_the_header_ends_the_run_and_keeps_what_was_taken() {
    let changed = [
        ("rate_hz=1000", "rate_hz=500", "500 samples a second"),
        ("rate_hz=1000 ", "", "no rate"),
        ("bits=10", "bits=12", "12 bits"),
        ("vref_mv=5000", "vref_mv=3300", "3300 mV"),
        ("t_us,pedal", "t_us,lever", "columns lever"),
        ("t_us,pedal", "t_us,pedal,dial", "columns pedal,dial"),
        ("t_us,pedal", "pedal", "no board time"),
    ];
    for (old, new, message) in changed {
        let dir = tempfile::tempdir().unwrap();
        let other = HEADER.replace(old, new);
        assert_ne!(other, HEADER);
        let lines = then(std::iter::once(header(2_000_000, &other)).chain(samples(
            2000..4000,
            0,
            numbered,
        )));
        let ran = recorded(dir.path(), lines, 3);
        let words = stderr(&ran);
        assert_eq!(ran.status.code(), Some(2), "{other}: {words}");
        for part in [
            "header changed",
            message,
            "begin a new recording",
            "2000 samples, is in x.csv",
        ] {
            assert!(words.contains(part), "{other}: {part}: {words}");
        }
        let (_, codes, counts) = taken(&dir.path().join("x.csv"));
        assert!(codes.into_iter().eq((0..2000).map(numbered)), "{other}");
        assert_eq!((counts.samples, counts.missing), (2000, 0));
    }
}

/// Codes that the first board never prints.
fn foreign(n: u64) -> u64 {
    1000 + n % 20
}

/// Another board has been on for a minute when its cable is plugged in: its header comes half a second later.
fn other_board(from: u64) -> Vec<Line> {
    let other = HEADER.replace("vref_mv=5000", "vref_mv=3300");
    let mut lines: Vec<_> = samples(from..from + 500, 60_000_000, foreign).collect();
    lines.push(header((from + 500) * 1000, &other));
    lines.extend(samples(from + 500..from + 3000, 60_000_000, foreign));
    lines
}

fn assert_refused(ran: &Output, csv: &std::path::Path) {
    let words = stderr(ran);
    assert_eq!(ran.status.code(), Some(2), "{words}");
    assert!(
        words.contains("5000 mV") && words.contains("3300 mV"),
        "{words}"
    );
    let (t_us, codes, counts) = taken(csv);
    assert!(!codes.is_empty());
    assert!(
        codes.iter().all(|code| *code < 1000),
        "samples of another board are in the recording"
    );
    assert_eq!(counts.samples, codes.len() as u64);
    // What the other board sent before it said who it is.
    assert!(counts.rejected["before header"] >= 400, "{counts:?}");
    let all = (t_us[t_us.len() - 1] - t_us[0]) / 1000 + 1;
    assert_eq!(
        codes.len() as u64 + counts.missing,
        all,
        "what is missing is missing within the recording"
    );
}

#[test]
fn another_board_at_the_same_port_leaves_no_sample_in_the_capture() {
    let dir = tempfile::tempdir().unwrap();
    let first = board(steady(60), 1.0);
    let second = PtyBoard::start(
        crate::link::setting::Listed::new(other_board(0)),
        Pace::REAL_TIME,
        Overflow::Wait,
    )
    .unwrap();
    let port = dir.path().join("port");
    std::os::unix::fs::symlink(first.path(), &port).unwrap();
    let child = recording(dir.path(), &port, "rest=60")
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let csv = dir.path().join("x.csv");
    wait_for_bytes(&csv, 5000);
    first.unplug().unwrap();
    std::fs::remove_file(&port).unwrap();
    std::os::unix::fs::symlink(second.path(), &port).unwrap();
    assert_refused(&ended(child), &csv);
}

/// The adapter stays, the board behind it is changed: nothing is seen of that but a silence and another time.
#[test]
fn another_board_behind_the_same_adapter_leaves_no_sample_in_the_capture() {
    let dir = tempfile::tempdir().unwrap();
    let ran = recorded(dir.path(), then(other_board(3200)), 30);
    assert_refused(&ran, &dir.path().join("x.csv"));
}
