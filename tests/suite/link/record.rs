//! `pedalproof record` and `assess` end to end on a real pseudo-terminal: every line that is no sample is counted,
//! a killed run opens again, a pulled cable leaves a counted gap.
#![cfg(unix)]

use super::setting::{Dwell, Line, board, ended, taken, wait_for, wait_for_bytes};
use crate::support::program::program;
use serde_json::Value;
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};

/// A line with its sum: the XOR of all bytes, as two hex digits (NMEA 0183).
fn summed(line: &str) -> Vec<u8> {
    let sum = line.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("{line}*{sum:02X}\n").into_bytes()
}

const HEADER: &str = "# pedalproof 1 bits=10 vref_mv=5000 rate_hz=1000 cols=t_us,pedal_a,pedal_b\n";

/// A stream of 4.5 s at 1 kHz whose faults are all placed by hand: see the counts in the test.
fn faulty_stream() -> Vec<Line> {
    let mut lines = vec![(0, HEADER.as_bytes().to_vec())];
    // 2 s before the 32-bit wrap, so that it comes in the middle.
    let start = (1_u64 << 32) - 2_000_000;
    for n in 0..4500_u64 {
        let due = n * 1000;
        let t_us = (start + due) % (1 << 32);
        let (a, b) = (164 + n % 3, 82 + n % 2);
        if n % 1000 == 999 {
            lines.push((due, HEADER.as_bytes().to_vec()));
        }
        match n {
            100 | 200 | 300 => lines.push((due, b"12\xff\xfe,,kg\n".to_vec())),
            400 => lines.push((due, [b"1".repeat(200), b"\n".to_vec()].concat())),
            450 => lines.push((due, b"\r\n".to_vec())),
            460 => lines.push((due, b"# warm, 21 C\n".to_vec())),
            _ => {}
        }
        let line = format!("{t_us},{a},{b}");
        let printed = match n {
            1000..1007 => format!("{line}*00\n").into_bytes(), // never the sum of such a line: checked below
            2500 => format!("{t_us},{a}\n").into_bytes(),
            2600 => summed(&format!("{t_us},1024,{b}")),
            3000..3020 => continue, // not sent
            _ if n % 4 == 1 => format!("{t_us};{a};{b}\r\n").into_bytes(),
            _ if n % 4 == 2 => format!("{t_us}\t{a} {b}\n").into_bytes(),
            _ => summed(&line),
        };
        if (1000..1007).contains(&n) {
            assert_ne!(summed(&line), printed);
        }
        lines.push((due, printed));
    }
    lines
}

fn recording(dir: &Path, port: &Path, arguments: &[&str]) -> Command {
    let mut command = program(dir);
    command
        .args(["record", "--out", "x", "--port"])
        .arg(port)
        .args(arguments);
    command
}

fn assessed(dir: &Path, arguments: &[&str]) -> (Output, Value) {
    let ran = program(dir)
        .args(["assess", "x.csv", "--json"])
        .args(arguments)
        .output()
        .unwrap();
    let json = serde_json::from_slice(&ran.stdout).unwrap_or(Value::Null);
    (ran, json)
}

fn stderr(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn a_stream_with_every_fault_is_recorded_and_every_fault_is_counted() {
    let dir = tempfile::tempdir().unwrap();
    let board = board(faulty_stream(), 4.0);
    let ran = recording(
        dir.path(),
        board.path(),
        &["--steps", "rest=4", "--tag", "T1"],
    )
    .output()
    .unwrap();
    assert!(ran.status.success(), "{}", stderr(&ran.stderr));
    let (ran, json) = assessed(dir.path(), &[]);
    assert_eq!(ran.status.code(), Some(0), "{}", stderr(&ran.stderr));
    assert_eq!(json["verdict"], Value::Null, "no profile, no verdict");
    let capture = &json["capture"];
    // By construction: three lines of garbage; one of 200 bytes; seven bad sums; one short line; one code of 1024.
    let rejected = serde_json::json!({
        "bad sum": 7, "code above full scale": 1, "not a number": 3, "too long": 1, "wrong field count": 1
    });
    assert_eq!(capture["rejected"], rejected);
    // Gaps in the board's time: 7 bad sums + 1 short + 1 above full scale + 20 not sent.
    assert_eq!(capture["missing"], 29);
    // 4 s at 1 kHz and the sample that ended the step, without the missing ones.
    assert_eq!(capture["samples"], 4001 - 29);
    assert!(
        (capture["duration_s"].as_f64().unwrap() - 4.0).abs() < 1e-9,
        "the wrap is not in the duration"
    );
    // By construction the codes of the rest hold are 164, 165, 166 in turn: mean 165, but for the lost ones.
    let rest = &json["channels"]["pedal_a"]["figures"]["rest_code"];
    assert!(
        (rest["value"].as_f64().unwrap() - 165.0).abs() < 0.02,
        "{rest}"
    );
    assert_eq!(
        json["channels"]["pedal_a"]["figures"]["full_code"],
        Value::Null
    );
    assert_eq!(json["unit"]["tag"], "T1");
    let meta: Value =
        serde_json::from_slice(&std::fs::read(dir.path().join("x.csv-metadata.json")).unwrap())
            .unwrap();
    let rows = std::fs::read_to_string(dir.path().join("x.csv"))
        .unwrap()
        .lines()
        .count()
        - 1;
    assert_eq!(meta["pedalproof"]["stream"]["samples"], rows);
}

#[test]
fn a_board_that_prints_bare_numbers_is_welcome() {
    let dir = tempfile::tempdir().unwrap();
    let lines = (0..3000_u64)
        .map(|n| (n * 1000, format!("{}\n", 500 + n % 2).into_bytes()))
        .collect();
    let board = board(lines, 1.0);
    let stated = [
        "--steps",
        "rest=1",
        "--bits",
        "10",
        "--vref-mv",
        "5000",
        "--columns",
        "knob",
    ];
    let ran = recording(dir.path(), board.path(), &stated)
        .output()
        .unwrap();
    assert!(ran.status.success(), "{}", stderr(&ran.stderr));
    assert!(
        stderr(&ran.stderr).contains("time of arrival"),
        "{}",
        stderr(&ran.stderr)
    );
    let (_, json) = assessed(dir.path(), &[]);
    let rest = json["channels"]["knob"]["figures"]["rest_code"]["value"]
        .as_f64()
        .unwrap();
    assert!((rest - 500.5).abs() < 0.05, "{rest}");
    let meta: Value =
        serde_json::from_slice(&std::fs::read(dir.path().join("x.csv-metadata.json")).unwrap())
            .unwrap();
    let board = &meta["pedalproof"]["board"];
    assert_eq!(board["clock"], "host");
    // As it came in, which on a machine with other work is in gushes: samples over time of the recording itself.
    let rate = board["rate_hz"].as_f64().unwrap();
    let csv = std::fs::read_to_string(dir.path().join("x.csv")).unwrap();
    let times: Vec<f64> = csv
        .lines()
        .skip(1)
        .map(|line| line.split(',').next().unwrap().parse().unwrap())
        .collect();
    let seconds = (times[times.len() - 1] - times[0]) / 1e6;
    let came = (times.len() - 1) as f64 / seconds;
    assert!((rate / came - 1.0).abs() < 0.01, "{rate}, not {came}");
}

fn spawned(mut command: Command) -> Child {
    command
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

fn steady_stream(seconds: u64) -> Vec<Line> {
    let sample = |n: u64| {
        (
            n * 1000,
            summed(&format!("{},{},{}", n * 1000, 164 + n % 3, 82)),
        )
    };
    let header = |n: u64| {
        n.is_multiple_of(500)
            .then(|| (n * 1000, HEADER.as_bytes().to_vec()))
    };
    (0..seconds * 1000)
        .flat_map(|n| header(n).into_iter().chain([sample(n)]))
        .collect()
}

#[test]
fn a_killed_run_opens_again_and_lost_at_most_the_last_second() {
    for after_ms in [700, 1100, 1530, 2050] {
        let dir = tempfile::tempdir().unwrap();
        let board = board(steady_stream(60), 1.0);
        let stood = Dwell::begin();
        let mut child = spawned(recording(dir.path(), board.path(), &["--steps", "rest=60"]));
        let begun = Instant::now();
        let csv = dir.path().join("x.csv");
        wait_for(|| csv.exists());
        let first_row = Instant::now();
        std::thread::sleep(Duration::from_millis(after_ms).saturating_sub(begun.elapsed()));
        child.kill().unwrap(); // SIGKILL
        let taken_s = first_row.elapsed().as_secs_f64();
        let ended = child.wait_with_output().unwrap();
        let stood = stood.end();
        assert_eq!(ended.status.code(), None, "{}", stderr(&ended.stderr));
        let (ran, json) = assessed(dir.path(), &[]);
        assert!(
            ran.status.success(),
            "killed after {after_ms} ms: {}",
            stderr(&ran.stderr)
        );
        let kept_s = json["capture"]["duration_s"].as_f64().unwrap();
        assert!(
            kept_s > taken_s - 1.0 - Duration::from_millis(stood).as_secs_f64(),
            "{taken_s:.2} s were taken, {kept_s:.2} s kept; the machine stood still for {stood} ms"
        );
    }
}

#[test]
fn a_pulled_cable_is_waited_for_and_the_gap_is_counted() {
    let dir = tempfile::tempdir().unwrap();
    let board = board(steady_stream(60), 1.0);
    let child = spawned(recording(dir.path(), board.path(), &["--steps", "rest=4"]));
    let csv = dir.path().join("x.csv");
    wait_for_bytes(&csv, 10_000);
    board.unplug().unwrap();
    std::thread::sleep(Duration::from_millis(600));
    board.replug().unwrap();
    let ran = ended(child);
    assert!(ran.status.success(), "{}", stderr(&ran.stderr));
    let (_, json) = assessed(dir.path(), &[]);
    let missing = json["capture"]["missing"].as_u64().unwrap();
    let samples = json["capture"]["samples"].as_u64().unwrap();
    // How soon it is back is the machine's affair. Nothing is lost before it went, or once it is back.
    let (t_us, ..) = taken(&csv);
    let holes: Vec<_> = t_us.windows(2).filter(|t| t[1] - t[0] > 1000).collect();
    assert_eq!(holes.len(), 1, "{holes:?}");
    assert!(missing >= 400, "{missing} missing");
    assert_eq!(
        samples + missing,
        4001,
        "every sample of the 4 s is there or counted"
    );
}

#[test]
fn a_pulled_cable_ends_the_run_when_asked() {
    let dir = tempfile::tempdir().unwrap();
    let board = board(steady_stream(60), 1.0);
    let child = spawned(recording(
        dir.path(),
        board.path(),
        &["--steps", "rest=30", "--on-unplug", "end", "--quiet"],
    ));
    let csv = dir.path().join("x.csv");
    wait_for_bytes(&csv, 10_000);
    board.unplug().unwrap();
    let ran = ended(child);
    assert!(ran.status.success(), "{}", stderr(&ran.stderr));
    let said = stderr(&ran.stderr);
    assert!(
        said.contains("went away before the test was over"),
        "{said}"
    );
    assert!(
        assessed(dir.path(), &[]).1["capture"]["samples"]
            .as_u64()
            .unwrap()
            > 500
    );
}

#[test]
fn ctrl_c_ends_the_run_and_keeps_what_was_taken() {
    let dir = tempfile::tempdir().unwrap();
    let board = board(steady_stream(60), 1.0);
    let child = spawned(recording(dir.path(), board.path(), &["--steps", "rest=30"]));
    let csv = dir.path().join("x.csv");
    wait_for_bytes(&csv, 10_000);
    Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status()
        .unwrap();
    let ran = ended(child);
    assert!(ran.status.success(), "{}", stderr(&ran.stderr));
    assert!(!stderr(&ran.stderr).contains("went away"));
    assert!(
        assessed(dir.path(), &[]).1["capture"]["samples"]
            .as_u64()
            .unwrap()
            > 500
    );
}

#[test]
fn a_header_that_changes_in_the_middle_ends_the_run_and_keeps_what_was_taken() {
    let dir = tempfile::tempdir().unwrap();
    let mut lines = steady_stream(2);
    lines.push((2_000_000, HEADER.replace("bits=10", "bits=12").into_bytes()));
    lines.extend(
        steady_stream(4)
            .into_iter()
            .skip(2000)
            .map(|(due, line)| (due + 2_000_000, line)),
    );
    let board = board(lines, 4.0);
    let ran = recording(dir.path(), board.path(), &["--steps", "rest=6"])
        .output()
        .unwrap();
    assert_eq!(ran.status.code(), Some(2));
    let told = stderr(&ran.stderr);
    assert!(
        told.contains("10 bits") && told.contains("12 bits") && told.contains("x.csv"),
        "{told}"
    );
    assert_eq!(assessed(dir.path(), &[]).1["capture"]["samples"], 2000);
}

#[test]
fn wrong_use_is_refused_with_exit_2() {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join("x.csv"), "here first").unwrap();
    let port = Path::new("/dev/no-such-port");
    for (arguments, told) in [
        (&["--steps", "rest=4"][..], "never overwritten"),
        (&["--steps", "nap=4"], "nap"),
        (&["--steps", "rest=0"], "seconds"),
        (&[], "--steps"),
        (
            &["--steps", "rest=1", "--profile", "none-such"],
            "none-such",
        ),
    ] {
        let ran = recording(dir.path(), port, arguments).output().unwrap();
        assert_eq!(ran.status.code(), Some(2), "{arguments:?}");
        assert!(
            stderr(&ran.stderr).contains(told),
            "{arguments:?}: {}",
            stderr(&ran.stderr)
        );
    }
    std::fs::remove_file(dir.path().join("x.csv")).unwrap();
    let ran = recording(dir.path(), port, &["--steps", "rest=1"])
        .output()
        .unwrap();
    assert_eq!(ran.status.code(), Some(2));
    assert!(
        stderr(&ran.stderr).contains("/dev/no-such-port"),
        "{}",
        stderr(&ran.stderr)
    );
}

#[test]
fn a_profile_gives_a_verdict_and_an_exit_code() {
    let dir = tempfile::tempdir().unwrap();
    let board = board(steady_stream(8), 4.0);
    let ran = recording(dir.path(), board.path(), &["--steps", "rest=3"])
        .output()
        .unwrap();
    assert!(ran.status.success());
    let profile = |limits: &str| {
        let text = format!(
            r#"{{"format":"profile/1","name":"p","kind":"pedal","card":["rest"],"supply_mv":5000,
            "tracks":{{"1":{{"limits":{limits}}}}},"start":{{"zero_command_at":"rest"}},"stop_within_ms":50}}"#
        );
        std::fs::write(dir.path().join("p.json"), text).unwrap();
        let (ran, json) = assessed(dir.path(), &["--profile", "p.json"]);
        (
            ran.status.code(),
            json["verdict"].as_str().map(str::to_owned),
        )
    };
    let told = |code, verdict: &str| (Some(code), Some(verdict.to_owned()));
    assert_eq!(
        // One rest of unknown span: 1 % of the range is allowed for the next one.
        profile(r#"{"rest_code":{"min":140,"max":190}}"#),
        told(0, "pass")
    );
    assert_eq!(profile(r#"{"rest_code":{"max":150}}"#), told(1, "fail"));
    assert_eq!(
        profile(r#"{"rest_code":{"min":160},"hysteresis":{"max":1}}"#),
        told(3, "undecided")
    );
    assert_eq!(profile(r#"{"loudness":{"max":1}}"#), (Some(2), None));
}
