//! `record` without `--steps` follows the card as the screen does: it ends early when every finding is decided, and takes
//! a step up again while one is open; and `assess` of the capture judges with the look it ended at.
#![cfg(unix)]

use crate::support::program::{pedalproof, program};
use pedalproof::link::BoardLines;
use pedalproof::link::{Overflow, Pace, PtyBoard};
use serde_json::{Value, json};
use simulator::{ChannelModel, Control, Returning, Simulation, Spring, scenario};
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::Stdio;
use std::time::Duration;

/// What a recorded card came to.
#[derive(Debug)]
struct Recorded {
    /// Look that it ended at.
    taken: u64,
    /// Seconds of the step `full`.
    full_s: f64,
    /// Verdict and exit code of `assess`.
    verdict: String,
    code: Option<i32>,
    reason: String,
}

/// Records a pedal of 1.0 code of noise whose returns scatter by `sd` codes, against one limit.
fn recorded(sd: f64, figure: &str, max: f64, seed: u64) -> Recorded {
    let dir = tempfile::tempdir().unwrap();
    let text = include_str!("../../../profiles/pedal-hall-one-track.json");
    let mut profile: Value = serde_json::from_str(text).unwrap();
    profile["tracks"]["1"]["limits"] = json!({ figure: { "max": max, "reason": "for this test" } });
    std::fs::write(dir.path().join("p.json"), profile.to_string()).unwrap();
    let mut unit = scenario("T1-pedal").unwrap();
    unit.control = Control {
        spring: Spring::default(),
        returning: Returning::Codes(sd),
        ..Control::new(vec![ChannelModel::volts("pedal", 0.8, 4.2).noise(1.0)])
    };
    let lines = BoardLines::new(Simulation::new(&unit, seed).unwrap());
    let board = PtyBoard::start(lines, Pace::Times(15.0), Overflow::Wait).unwrap();
    let port = board.path().to_string_lossy().into_owned();
    let record = [
        "record",
        "--port",
        &port,
        "--out",
        "x",
        "--profile",
        "p.json",
    ];
    let ran = pedalproof(dir.path(), &record);
    let message = String::from_utf8_lossy(&ran.stderr).into_owned();
    assert!(ran.status.success(), "{message}");
    let ran = pedalproof(dir.path(), "assess x.csv --json --profile p.json");
    let assessment: Value = serde_json::from_slice(&ran.stdout).unwrap();
    let verdict = assessment["verdict"].as_str().unwrap().to_owned();
    assert!(
        message.contains(&format!("verdict: {verdict};")),
        "{message}"
    );
    let meta = std::fs::read(dir.path().join("x.csv-metadata.json")).unwrap();
    let meta: Value = serde_json::from_slice(&meta).unwrap();
    let rows = std::fs::read_to_string(dir.path().join("x.csv")).unwrap();
    let full = rows.lines().filter(|row| row.contains(",full,")).count();
    let recorded = Recorded {
        taken: meta["pedalproof"]["looks"]["taken"].as_u64().unwrap(),
        full_s: f64::from(u32::try_from(full).unwrap()) / 1000.0,
        verdict,
        code: ran.status.code(),
        reason: assessment["findings"][0]["reason"]
            .as_str()
            .unwrap()
            .to_owned(),
    };
    println!("{figure} {max}: {recorded:?}");
    recorded
}

#[test]
fn a_clear_pedal_is_through_at_the_first_look() {
    let clear = recorded(0.1, "return_scatter", 4.5, 1);
    assert_eq!(
        (clear.taken, clear.verdict.as_str(), clear.code),
        (1, "pass", Some(0))
    );
    assert!(
        clear.reason.contains("early check 1 of 4, 99.5 %)"),
        "{clear:?}"
    );
    assert!((clear.full_s - 1.0).abs() < 0.01, "{clear:?}");
}

#[test]
fn an_open_return_is_taken_up_again() {
    let open = recorded(3.5, "return_scatter", 4.5, 1);
    assert!(open.taken > 1, "{open:?}");
    assert!(
        open.reason
            .contains(&format!("early check {} of 4", open.taken)),
        "{open:?}"
    );
}

/// Noise of 1.0 code, the board's own and rounding make 1.07 at rest (see `knife_edge`), and the hand trembles by 0.21 of a
/// code: 1.09. A second knows that to 2.2 %, so that the 99.5 % interval reaches 1.16; six seconds to 0.9 %.
#[test]
fn an_open_full_hold_is_held_again() {
    let open = recorded(0.1, "noise_full_rms", 1.16, 2);
    assert!(open.taken > 1 && open.full_s > 2.5, "{open:?}");
    assert_eq!(open.verdict, "pass", "{open:?}");
}

/// A unit on a pseudo-terminal, fifteen times as fast as life.
fn on_a_terminal(unit: &simulator::SimUnit, seed: u64) -> PtyBoard {
    let lines = BoardLines::new(Simulation::new(unit, seed).unwrap());
    PtyBoard::start(lines, Pace::Times(15.0), Overflow::Wait).unwrap()
}

fn metadata(dir: &Path) -> Value {
    let meta = std::fs::read(dir.join("x.csv-metadata.json")).unwrap();
    serde_json::from_slice::<Value>(&meta).unwrap()["pedalproof"].clone()
}

/// The cable comes out in the middle of the strokes: the strokes go on, and nothing that the verdict needs is missing.
#[test]
fn one_pulled_cable_costs_no_verdict() {
    let dir = tempfile::tempdir().unwrap();
    let board = on_a_terminal(&scenario("T1-pedal").unwrap(), 4);
    let port = board.path().to_string_lossy().into_owned();
    let profile = ["--profile", "pedal-hall-two-track"];
    let mut child = program(dir.path())
        .args(["record", "--port", &port, "--out", "x"])
        .args(profile)
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut message = String::new();
    for line in BufReader::new(child.stderr.take().unwrap()).lines() {
        let line = line.unwrap();
        if line.contains("strokes:") && !message.contains("strokes:") {
            board.unplug().unwrap();
            std::thread::sleep(Duration::from_millis(300));
            board.replug().unwrap();
        }
        message += &line;
        message.push('\n');
    }
    assert!(child.wait().unwrap().success(), "{message}");
    assert!(
        message.contains("the connection was lost: what was under way is taken again"),
        "{message}"
    );
    let stream = &metadata(dir.path())["stream"];
    let missing = stream["missing"].as_u64().unwrap();
    assert!(
        missing > 500 && stream["away"] == stream["missing"],
        "{stream}"
    );
    let why = pedalproof(dir.path(), "assess x.csv").stdout;
    let why = String::from_utf8_lossy(&why);
    assert!(
        message.contains("verdict: pass"),
        "{stream}\n{message}\n{why}"
    );
}

/// Hum that is no more than most of the noise: the laptop's battery is tried, and kept in the recording.
#[test]
fn a_trial_is_taken_where_two_causes_fit() {
    let dir = tempfile::tempdir().unwrap();
    let mut unit = scenario("T1-lever").unwrap();
    for channel in &mut unit.control.channels {
        (channel.noise_rms_code, channel.hum) = (2.2, Some((3.7, 50.0)));
    }
    let board = on_a_terminal(&unit, 4);
    let port = board.path().to_string_lossy().into_owned();
    let profile = ["--profile", "lever-shunting"];
    let arguments = ["record", "--port", &port, "--out", "x", "--tell-apart"];
    let ran = program(dir.path())
        .args(arguments)
        .args(profile)
        .output()
        .unwrap();
    let message = String::from_utf8_lossy(&ran.stderr).into_owned();
    assert!(message.contains("trial: battery"), "{message}");
    let tried = metadata(dir.path())["tried"].clone();
    assert_eq!(tried[0]["trial"], "battery", "{message}\n{tried}");
    let assessed = pedalproof(
        dir.path(),
        &[&["assess", "x.csv", "--json"][..], &profile].concat(),
    );
    let assessment: Value = serde_json::from_slice(&assessed.stdout).unwrap();
    let because = assessment["causes"][0]["because"].to_string();
    assert!(because.contains("not by the charger"), "{assessment:#}");
    // What comes behind the evidence changes no figure: without it, the same.
    let meta_file = dir.path().join("x.csv-metadata.json");
    let meta = std::fs::read_to_string(&meta_file).unwrap();
    let mut without: Value = serde_json::from_str(&meta).unwrap();
    without["pedalproof"]["tried"] = json!([]);
    std::fs::write(&meta_file, without.to_string()).unwrap();
    let rows = std::fs::read_to_string(dir.path().join("x.csv")).unwrap();
    let from_us = tried[0]["from_us"].as_u64().unwrap();
    let before = |row: &&str| {
        row.split(',')
            .next()
            .unwrap()
            .parse()
            .map_or(true, |t: u64| t < from_us)
    };
    let rows: Vec<&str> = rows.lines().filter(before).collect();
    std::fs::write(dir.path().join("x.csv"), rows.join("\n") + "\n").unwrap();
    let again = pedalproof(
        dir.path(),
        &[&["assess", "x.csv", "--json"][..], &profile].concat(),
    );
    let again: Value = serde_json::from_slice(&again.stdout).unwrap();
    assert_eq!(again["channels"], assessment["channels"]);
}
