//! The host's clock is set while the program records: nothing changes but the date it writes. The time of a sample is
//! the board's, or of a clock that nobody sets. Needs libfaketime: skipped loudly without it.

use crate::link::setting::{
    Line, board, ended, numbered, recording, stderr, steady, taken, wait_for_bytes,
};
use crate::support::tools;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

/// A tenth of the shortest leap, an hour.
const LEAST_LEAP_US: u64 = 360_000_000;

fn library() -> Option<PathBuf> {
    let machine = std::env::consts::ARCH;
    let found = ["/usr/lib", "/usr/local/lib", "/usr/lib64"]
        .into_iter()
        .flat_map(|lib| {
            [
                format!("{lib}/{machine}-linux-gnu/faketime"),
                format!("{lib}/faketime"),
            ]
        })
        .map(|folder| Path::new(&folder).join("libfaketimeMT.so.1"))
        .find(|path| path.exists());
    tools::is_here(found.is_some(), "libfaketime (apt-get install libfaketime)");
    found
}

/// Records 3 s while the wall clock leaps a day on, two days back and on again; gives the end of it.
fn with_leaps(dir: &Path, library: &Path, lines: Vec<Line>, stated: &[&str]) -> Output {
    let clock = dir.join("clock");
    let leap = |to: &str| {
        let fresh = dir.join("clock.new");
        std::fs::write(&fresh, format!("{to}\n")).unwrap();
        std::fs::rename(&fresh, &clock).unwrap();
    };
    leap("@2031-02-03 04:05:06");
    let board = board(lines, 1.0);
    let mut command = recording(dir, board.path(), "rest=3");
    command
        .args(stated)
        .env("LD_PRELOAD", library)
        .env("FAKETIME_TIMESTAMP_FILE", &clock)
        .env("FAKETIME_NO_CACHE", "1")
        // As when somebody sets the clock: the monotonic one goes on.
        .env("DONT_FAKE_MONOTONIC", "1")
        .env("FAKETIME_DONT_FAKE_MONOTONIC", "1")
        .stderr(Stdio::piped());
    let child = command.spawn().unwrap();
    wait_for_bytes(&dir.join("x.csv"), 1000);
    for to in ["+86400", "-86400", "@2031-02-03 04:05:06", "-3600", "+0"] {
        leap(to);
        std::thread::sleep(Duration::from_millis(350));
    }
    ended(child)
}

#[test]
fn a_clock_that_is_set_while_recording_changes_nothing() {
    let Some(library) = library() else {
        return;
    };
    // The clock is really another one for who asks for the date.
    let date = Command::new("date")
        .arg("+%Y")
        .env("LD_PRELOAD", &library)
        .env("FAKETIME", "@2031-02-03 04:05:06")
        .output()
        .unwrap();
    assert_eq!(String::from_utf8_lossy(&date.stdout).trim(), "2031");

    let dir = tempfile::tempdir().unwrap();
    let ran = with_leaps(dir.path(), &library, steady(60), &[]);
    assert!(ran.status.success(), "{}", stderr(&ran));
    let (t_us, codes, counts) = taken(&dir.path().join("x.csv"));
    assert_eq!(codes.len(), 3001);
    assert!(codes.into_iter().eq((0..3001).map(numbered)));
    assert!(t_us.into_iter().eq((0..3001).map(|n| n * 1000)));
    assert_eq!(
        (counts.missing, counts.rejected_total(), counts.restarts),
        (0, 0, 0)
    );
    let meta = std::fs::read_to_string(dir.path().join("x.csv-metadata.json")).unwrap();
    assert!(
        meta.contains("\"started\": \"2031-02-03"),
        "the date alone is the wall clock's: {meta}"
    );
}

/// A board that sends no time: arrival at the host stands in for it, by a clock that nobody sets.
#[test]
fn nor_does_it_for_a_board_without_a_clock() {
    let Some(library) = library() else {
        return;
    };
    let dir = tempfile::tempdir().unwrap();
    let bare = (0..60_000).map(|n| (n * 1000, format!("{}\n", numbered(n)).into_bytes()));
    let stated = ["--bits", "10", "--vref-mv", "5000", "--columns", "knob"];
    let begun = Instant::now();
    let ran = with_leaps(dir.path(), &library, bare.collect(), &stated);
    let sent = begun.elapsed().as_millis() as usize; // one a millisecond; some may wait until the first is read
    assert!(ran.status.success(), "{}", stderr(&ran));
    let (t_us, codes, _) = taken(&dir.path().join("x.csv"));
    assert!(t_us.is_sorted());
    let lasted = t_us[t_us.len() - 1] - t_us[0];
    assert!(
        (2_900_000..LEAST_LEAP_US).contains(&lasted),
        "{lasted} us of a step of 3 s"
    );
    // Arrival is late by what a busy machine takes, which is far from a leap.
    let longest = t_us.windows(2).map(|two| two[1] - two[0]).max().unwrap();
    assert!(longest < LEAST_LEAP_US, "{longest} us between two samples");
    // One a millisecond, but for the time in which nothing was read: a board that is not read leaves lines out.
    let gaps = t_us.windows(2).map(|two| two[1] - two[0]);
    let unread: u64 = gaps.filter(|gap| *gap > 5000).sum();
    let least = (lasted - unread) as usize / 2000;
    assert!(
        (least..=sent).contains(&codes.len()),
        "{} of {least} to {sent}",
        codes.len()
    );
}
