//! The screen's window closed, mid-test and after the end: the recording is whole, and the exit code is its verdict's.
#![cfg(target_os = "linux")]

use crate::support::program::{pedalproof, started_by};
use rustix::fs::{Mode, OFlags};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{Winsize, tcsetwinsize};
use std::fs::File;
use std::io::Read;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// Nothing depends on it but how late a test fails.
const PATIENCE: Duration = Duration::from_secs(120);

/// The demo in a window of its own, whose other end is given. `owned`: the terminal is the program's own, as in a window, so that the
/// system tells it when that closes; else it is a stranger's. What it says goes to `stderr` where that is given, else to the window.
fn in_a_window(dir: &Path, owned: bool, unit: &str, stderr: Option<File>) -> (Child, File) {
    let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
    rustix::io::fcntl_setfd(&master, rustix::io::FdFlags::CLOEXEC).unwrap();
    grantpt(&master).unwrap();
    unlockpt(&master).unwrap();
    let size = Winsize {
        ws_row: 24,
        ws_col: 80,
        ws_xpixel: 0,
        ws_ypixel: 0,
    };
    tcsetwinsize(&master, size).unwrap();
    let name = ptsname(&master, Vec::new()).unwrap();
    let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
    let slave = File::from(rustix::fs::open(&name, flags, Mode::empty()).unwrap());
    let mut session = Command::new("setsid");
    session.args(owned.then_some("--ctty"));
    let child = started_by(session, dir)
        .args(["demo", unit, "--speed", "20", "--out", "hup"])
        .env("TERM", "xterm")
        .stdin(slave.try_clone().unwrap())
        .stdout(slave.try_clone().unwrap())
        .stderr(stderr.map_or_else(|| slave.into(), Stdio::from))
        .spawn()
        .unwrap();
    (child, File::from(master))
}

/// Reads the window until these words have been drawn, and the recording has so many bytes.
fn read_until(window: &mut File, words: &str, csv: &Path, many: u64) {
    let since = Instant::now();
    let (mut seen, mut bytes) = (String::new(), [0; 4096]);
    while !seen.contains(words) || csv.metadata().map_or(0, |is| is.len()) < many {
        assert!(since.elapsed() < PATIENCE, "`{words}` did not appear");
        let n = window.read(&mut bytes).unwrap();
        seen.push_str(&String::from_utf8_lossy(&bytes[..n]));
    }
}

fn ended(child: &mut Child) -> Option<i32> {
    let since = Instant::now();
    loop {
        if let Some(status) = child.try_wait().unwrap() {
            return status.code();
        }
        if since.elapsed() > PATIENCE {
            child.kill().unwrap();
            panic!("it did not end");
        }
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[test]
fn a_window_that_closes_ends_the_screen_by_the_verdict() {
    for (unit, until, code) in [
        ("T1-pedal", "strokes", None),
        ("T1-pedal", "FIT IT", Some(0)),
        ("T2-pedal", "DO NOT FIT", Some(1)),
    ] {
        for (owned, to_file) in [(true, false), (true, true), (false, true)] {
            let dir = tempfile::tempdir().unwrap();
            let dir = dir.path();
            let said = dir.join("said");
            let stderr = to_file.then(|| File::create(&said).unwrap());
            let (mut child, mut window) = in_a_window(dir, owned, unit, stderr);
            read_until(&mut window, until, &dir.join("hup.csv"), 100_000);
            drop(window);
            let ended = ended(&mut child);
            let said = std::fs::read_to_string(said).unwrap_or_default();
            let assessed = pedalproof(dir, "assess hup.csv");
            let case = format!("{unit} at {until}, own terminal {owned}: {ended:?} {said}");
            assert_eq!(ended, assessed.status.code(), "{case}");
            assert!(matches!(ended, Some(0 | 1 | 3)), "{case}");
            assert!(code.is_none() || ended == code, "{case}");
            assert!(!said.contains("panicked"), "{case}");
        }
    }
}
