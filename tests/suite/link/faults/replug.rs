//! The real binary on a pseudo-terminal whose cable is pulled again and again in one run.

use crate::link::setting::{
    Stalls, board, ended, numbered, recording, stderr, steady, taken, wait_for_bytes,
};
use std::process::Stdio;
use std::time::{Duration, Instant};

/// Cables pulled in one run. Each costs about half a second: the program looks for its port four times a second.
fn pull(times: u64) {
    let dir = tempfile::tempdir().unwrap();
    let board = board(steady(600), 1.0);
    let child = recording(dir.path(), board.path(), "rest=600")
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let csv = dir.path().join("x.csv");
    wait_for_bytes(&csv, 3000);
    let (mut away, mut slowest) = (Duration::ZERO, Duration::ZERO);
    let stalls = Stalls::watched(dir.path());
    for round in 0..times {
        let since = Instant::now();
        board.unplug().unwrap();
        // Also longer than the program waits between two looks.
        std::thread::sleep(Duration::from_millis(50 + 70 * (round % 5)));
        board.replug().unwrap();
        away += since.elapsed();
        let bytes = csv.metadata().unwrap().len();
        wait_for_bytes(&csv, bytes);
        slowest = slowest.max(since.elapsed());
    }
    let stalled = stalls.longest();
    let id = child.id().to_string();
    std::process::Command::new("kill")
        .args(["-INT", &id])
        .status()
        .unwrap();
    let ran = ended(child);
    assert!(ran.status.success(), "{}", stderr(&ran));
    let message = stderr(&ran).matches("The board is back").count() as u64;
    assert!(message <= times && message > 0, "{}", stderr(&ran));
    let (t_us, codes, counts) = taken(&csv);
    // A program that was not let run has samples last that are older than the second by which both clocks may differ: the board's
    // seems to leap then, and what follows is placed by the host's. Within a piece the samples are the board's all the same. Let run, a
    // round takes 1.7 s at most: 330 ms away, 250 until the look, 100 to settle, a second until rows are written. Half a second in which
    // this test was not let run either is on the way there.
    let held_up = slowest > Duration::from_millis(1700) || stalled > Duration::from_millis(500);
    assert!(
        counts.restarts == 0 || held_up,
        "{slowest:?} {stalled:?} {counts:?}"
    );
    println!("a round took {slowest:?} at most, the machine stood still for {stalled:?}");
    for (t, code) in t_us.iter().zip(&codes).filter(|_| counts.restarts == 0) {
        assert_eq!(*code, numbered(t / 1000));
    }
    for (two_t, two) in t_us.windows(2).zip(codes.windows(2)) {
        if two_t[1] - two_t[0] == 1000 {
            assert_eq!(two[1], numbered(two[0] + 1), "{two_t:?}");
        }
    }
    let all = (t_us[t_us.len() - 1] - t_us[0]) / 1000 + 1;
    let counted = codes.len() as u64 + counts.missing;
    // Placed by the host's clock a gap is no whole number of samples.
    assert!(
        counted.abs_diff(all) <= counts.restarts,
        "{counted} {all} {counts:?}"
    );
    let torn = counts.rejected["cut"] + counts.rejected.get("before header").unwrap_or(&0);
    assert_eq!(counts.rejected_total(), torn, "{counts:?}");
    // Away, the look for the port (250 ms), the board's settling (100 ms), and a busy machine.
    let away_ms = u64::try_from(away.as_millis()).unwrap() + times * 600;
    if !held_up {
        assert!(counts.missing <= away_ms, "{} of {away_ms}", counts.missing);
    }
    assert!(counts.missing >= times * 50, "{counts:?}");
}

#[test]
fn the_cable_is_pulled_again_and_again_and_every_gap_is_counted() {
    pull(12);
}

/// About a minute and a half.
#[test]
#[ignore = "long: cargo test --test suite faults:: -- --ignored"]
fn a_hundred_times_on_a_pseudo_terminal() {
    pull(100);
}
