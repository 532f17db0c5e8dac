//! Killed at random moments (seeded): at most the last second is lost, every file opens, and no half file ever has a
//! name that somebody would open.

use crate::link::setting::{
    Dwell, Listed, at_once, chance, names, numbered, recording, stderr, steady, taken,
};
use crate::support::program::{pedalproof, program, started_by};
use pedalproof::link::{Overflow, Pace, PtyBoard};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// The program's share of a lost second is half of one; the rest is for a busy machine.
const LOST_MOST: u64 = 1000;

fn kill_a_recording(seed: u64) -> u64 {
    let dir = tempfile::tempdir().unwrap();
    let lines = Listed::new(steady(60));
    let printed = Arc::clone(&lines.printed);
    let board = PtyBoard::start(lines, Pace::REAL_TIME, Overflow::Wait).unwrap();
    let stood = Dwell::begin();
    let mut child = recording(dir.path(), board.path(), "rest=60")
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // From before the first sample to four flushes later.
    std::thread::sleep(Duration::from_millis(20 + chance(seed) % 2000));
    let sent = printed.load(Ordering::Relaxed);
    child.kill().unwrap();
    let ended = child.wait_with_output().unwrap();
    assert_eq!(ended.status.code(), None, "seed {seed}: {}", stderr(&ended));
    // At 1 kHz a millisecond is a sample.
    let stood = stood.end();
    let lost_most = LOST_MOST + stood;
    let csv = dir.path().join("x.csv");
    if !csv.exists() {
        assert!(
            sent <= lost_most,
            "seed {seed}: {sent} samples sent, no file; the machine stood still for {stood} ms"
        );
        return 0;
    }
    let (_, codes, _) = taken(&csv);
    let kept = codes.len() as u64;
    assert!(codes.into_iter().eq((0..kept).map(numbered)), "seed {seed}");
    assert!(
        sent <= kept + lost_most,
        "seed {seed}: {sent} sent, {kept} kept; the machine stood still for {stood} ms"
    );
    let assessed = pedalproof(dir.path(), "assess x.csv --json");
    assert_eq!(assessed.status.code(), Some(0), "seed {seed}: {assessed:?}");
    kept
}

#[test]
fn a_recording_killed_a_hundred_times_lost_at_most_a_second_and_opens() {
    let (empty, most) = (AtomicU64::new(0), AtomicU64::new(0));
    at_once(0..100, 6, |seed| {
        let kept = kill_a_recording(seed);
        empty.fetch_add(u64::from(kept == 0), Ordering::Relaxed);
        most.fetch_max(kept, Ordering::Relaxed);
    });
    // The moments were spread over the beginning and the middle.
    assert!(most.into_inner() >= 1000);
    assert!(empty.into_inner() < 90);
}

/// A command that makes a file, the folder it is made in, and what the file must end with to be whole.
struct Makes {
    arguments: Vec<String>,
    folder: &'static str,
    ending: &'static str,
}

fn makers() -> Vec<Makes> {
    let example = |name: &str| {
        let csv = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("captures")
            .join(name);
        csv.display().to_string()
    };
    let words = |text: &str| -> Vec<String> { text.split(' ').map(str::to_owned).collect() };
    let capture = example("T1-pedal.csv");
    let other = example("T2-pedal.csv");
    let makes = |text: &str, folder, ending| Makes {
        arguments: words(&text.replace("CAPTURE", &capture).replace("OTHER", &other)),
        folder,
        ending,
    };
    vec![
        makes("assess CAPTURE --keep", "records", "}\n"),
        makes(
            "constants CAPTURE --format json --out out/block.json",
            "out",
            "}\n",
        ),
        makes(
            "profile new --from CAPTURE OTHER --kind pedal --name ours --out out/p.json",
            "out",
            "}\n",
        ),
        makes("report CAPTURE --out out/report.html", "out", "</html>\n"),
    ]
}

fn set_up(dir: &Path) {
    std::fs::create_dir(dir.join("out")).unwrap();
    std::fs::create_dir(dir.join("records")).unwrap();
}

/// Files in the folder under a name of their own are whole.
fn assert_whole(dir: &Path, made: &Makes, told: &str) -> usize {
    let folder = dir.join(made.folder);
    let named: Vec<_> = names(&folder)
        .into_iter()
        .filter(|name| !name.starts_with('.'))
        .collect();
    for name in &named {
        let text = std::fs::read_to_string(folder.join(name)).unwrap();
        assert!(
            text.trim_end().ends_with(made.ending.trim_end()),
            "{told}: half a file {name}"
        );
        if made.ending == "}\n" {
            serde_json::from_str::<serde_json::Value>(&text).unwrap();
        }
    }
    named.len()
}

/// How long the command takes when nobody kills it.
fn unharmed(made: &Makes) -> Duration {
    let dir = tempfile::tempdir().unwrap();
    set_up(dir.path());
    let since = Instant::now();
    let ran = program(dir.path()).args(&made.arguments).output().unwrap();
    assert_eq!(ran.status.code(), Some(0), "{ran:?}");
    assert_eq!(assert_whole(dir.path(), made, "unharmed"), 1);
    since.elapsed()
}

/// Kills a command that makes a file so many times at seeded moments of its life.
fn kill_makers(times: u64) {
    for made in makers() {
        let longest = u64::try_from(unharmed(&made).as_micros()).unwrap();
        let (finished, none) = (AtomicU64::new(0), AtomicU64::new(0));
        at_once(0..times, 2, |seed| {
            let dir = tempfile::tempdir().unwrap();
            set_up(dir.path());
            let mut child = program(dir.path())
                .args(&made.arguments)
                .stdout(Stdio::null())
                .stderr(Stdio::piped())
                .spawn()
                .unwrap();
            std::thread::sleep(Duration::from_micros(chance(seed) % (longest * 5 / 4)));
            child.kill().unwrap();
            let words = stderr(&child.wait_with_output().unwrap());
            let what = format!("{:?}, seed {seed}: {words}", made.arguments);
            let named = assert_whole(dir.path(), &made, &what);
            finished.fetch_add(named as u64, Ordering::Relaxed);
            none.fetch_add(u64::from(named == 0), Ordering::Relaxed);
        });
        assert!(
            none.into_inner() > 0,
            "{:?}: nobody was killed early",
            made.arguments
        );
    }
}

#[test]
fn commands_that_make_a_file_are_killed_at_random_moments() {
    kill_makers(25);
}

#[test]
#[ignore = "long: cargo test --test suite faults:: -- --ignored"]
fn a_hundred_times_for_each_command_that_makes_a_file() {
    kill_makers(100);
}

/// Killed in the middle of writing, for certain: no file may be longer than so many blocks, and the system kills who goes
/// on all the same (SIGXFSZ).
#[test]
fn commands_that_make_a_file_are_killed_while_they_write_it() {
    for made in makers() {
        let mut killed = 0;
        for blocks in [0, 1, 2, 4, 16, 64, 128] {
            let dir = tempfile::tempdir().unwrap();
            set_up(dir.path());
            let mut shell = Command::new("sh");
            shell.args([
                "-c",
                &format!("ulimit -c 0; ulimit -f {blocks}; exec \"$0\" \"$@\""),
            ]);
            let ran = started_by(shell, dir.path())
                .args(&made.arguments)
                .output()
                .unwrap();
            let named = assert_whole(dir.path(), &made, &format!("{blocks} blocks"));
            if ran.status.code().is_none() {
                killed += 1;
                assert_eq!(named, 0, "{:?}: {blocks} blocks", made.arguments);
            }
        }
        assert!(killed >= 2, "{:?} was never killed", made.arguments);
    }
}
