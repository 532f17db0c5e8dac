//! What `assess` says in text, on captures of simulated controls and one made by construction: the order, the table, the
//! pictures, and one figure explained.

use super::stations;
use crate::support::program::program;
use measure::units::{Code, Step};
use pedalproof::capture::{CaptureWriter, StreamCounts};
use std::path::Path;

fn run(dir: &Path, arguments: &[&str]) -> (Option<i32>, String) {
    let ran = program(dir).args(arguments).output().unwrap();
    (
        ran.status.code(),
        String::from_utf8(ran.stdout).unwrap() + &String::from_utf8(ran.stderr).unwrap(),
    )
}

/// The whole card of a simulated unit.
fn taken(dir: &Path, unit: &str) {
    let arguments = [
        "demo", unit, "--plain", "--seed", "5", "--speed", "40", "--out", unit,
    ];
    let (code, message) = run(dir, &arguments);
    assert!(matches!(code, Some(0 | 1)), "{message}");
}

#[test]
fn the_worn_lever_is_told_in_the_promised_order_and_drawn() {
    let dir = tempfile::tempdir().unwrap();
    taken(dir.path(), "T3-lever");
    let (code, text) = run(dir.path(), &["assess", "T3-lever.csv"]);
    assert_eq!(code, Some(1), "{text}");
    assert!(text.is_ascii(), "{text}");
    assert!(text.lines().all(|line| line.len() <= 80), "{text}");
    let at = |words: &str| {
        text.find(words)
            .unwrap_or_else(|| panic!("no {words}:\n{text}"))
    };
    let order = [
        "DO NOT FIT: the track is worn at",
        "What is wrong, and what to do",
        "Checks",
        "fail         lever worn spots",
        "result  ",
        "x worn spots",
        "noise along the travel",
        " % of travel: ",
    ];
    assert!(order.map(at).is_sorted(), "{text}");
    // The simulated lever is worn from 30 to 41 % of travel: columns 15 to 20 of 50, after a margin of 12.
    let marks = text
        .lines()
        .find(|line| line.starts_with("      worn"))
        .unwrap();
    assert_eq!(marks.get(12 + 15..12 + 18), Some("www"), "{text}");
    assert_eq!(marks.get(12 + 3..12 + 10), Some("       "), "{text}");
    let (code, message) = run(
        dir.path(),
        &["assess", "T3-lever.csv", "--explain", "hysteresis"],
    );
    assert_eq!(code, Some(0));
    assert!(
        message.contains("no step stations in the recording"),
        "{message}"
    );
    let (code, message) = run(
        dir.path(),
        &["assess", "T3-lever.csv", "--explain", "worn_zones_count"],
    );
    assert_eq!(code, Some(0));
    for words in ["formula ", "source ", "how: ", "held: none allowed: fail"] {
        assert!(message.contains(words), "{words}: {message}");
    }
}

#[test]
fn a_figure_is_explained_without_a_capture_and_an_unknown_one_refused() {
    let dir = tempfile::tempdir().unwrap();
    let (code, message) = run(dir.path(), &["assess", "--explain", "release time"]);
    assert_eq!(code, Some(0));
    assert!(
        message.contains("90 %") && message.contains("unit        s"),
        "{message}"
    );
    let (code, message) = run(dir.path(), &["assess", "--explain", "loudness"]);
    assert_eq!(code, Some(2));
    assert!(
        message.contains("loudness") && message.contains("release_time"),
        "{message}"
    );
    let (code, message) = run(dir.path(), &["assess"]);
    assert_eq!(code, Some(2), "{message}");
}

/// Stations of a 12-bit control with a parabolic bow of 1.8 % of span, up and down.
fn stations(path: &Path) {
    let mut writer = CaptureWriter::create(path, stations::metadata()).unwrap();
    let mut t_us = 0;
    for n in (0..=10_u32).chain((0..10).rev()) {
        let travel = f64::from(n) / 10.0;
        for sample in 0..60_u32 {
            let step = if sample < 10 {
                Step::Idle
            } else {
                Step::Stations
            };
            let level = 400.0 + 3200.0 * (travel + 0.018 * 4.0 * travel * (1.0 - travel));
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let code = Code((level + f64::from(sample % 5) - 2.0).round() as u32);
            let position = (step == Step::Stations).then_some(60.0 * travel);
            writer
                .push(t_us, step, [code].into_iter(), position)
                .unwrap();
            t_us += 5000;
        }
    }
    writer.finish(&StreamCounts::default()).unwrap();
}

#[test]
fn known_travel_is_drawn_as_a_deviation_and_strokes_are_missed() {
    let dir = tempfile::tempdir().unwrap();
    stations(&dir.path().join("lever.csv"));
    let (code, text) = run(dir.path(), &["assess", "lever.csv"]);
    assert_eq!(code, Some(0), "{text}");
    assert!(text.lines().all(|line| line.len() <= 80), "{text}");
    assert!(!text.contains("noise along the travel"), "{text}");
    let from = text.find("deviation from the straightest line").unwrap();
    let picture: Vec<&str> = text[from..].lines().collect();
    // By construction the minimax line of a parabola leaves +0.9 % in the middle and -0.9 % at both ends.
    let row = |label: &str| {
        *picture
            .iter()
            .find(|line| line.trim_start().starts_with(label))
            .unwrap_or_else(|| panic!("{label}: {text}"))
    };
    assert_eq!(row("+0.9").get(37..38), Some("o"), "{text}");
    let ends: Vec<usize> = row("-0.9").match_indices('o').map(|(at, _)| at).collect();
    assert_eq!(ends, [12, 12 + 49], "{text}");
    let (_, message) = run(
        dir.path(),
        &["assess", "lever.csv", "--explain", "smoothness"],
    );
    assert!(message.contains("no step strokes"), "{message}");
}
