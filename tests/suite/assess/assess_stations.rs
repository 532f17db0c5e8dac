//! `assess` on a capture of stations whose curve is known by construction: a parabolic bow and two ways apart.

use super::stations;
use crate::support::program::program;
use measure::units::{Code, Step};
use pedalproof::capture::{CaptureWriter, StreamCounts};
use serde_json::Value;

/// Codes of a 12-bit control: 400 at rest, 3600 at full, bowed by 1.8 % of span at mid-travel (4x(1-x)), the way up
/// 0.45 % below and the way down 0.45 % above the middle, closing at both ends.
fn code(travel: f64, up: bool, wobble: f64) -> Code {
    let bow = 0.018 * 4.0 * travel * (1.0 - travel);
    let gap = if travel <= 0.0 || travel >= 1.0 {
        0.0
    } else {
        0.0045
    };
    let share = travel + bow + if up { -gap } else { gap };
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let code = (400.0 + 3200.0 * share + wobble).round() as u32;
    Code(code)
}

fn assessed(positions_known: bool) -> Value {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("lever.csv");
    let mut writer = CaptureWriter::create(&path, stations::metadata()).unwrap();
    let mut t_us = 0;
    let ways = (0..=20)
        .map(|n| (f64::from(n) / 20.0, true))
        .chain((0..20).rev().map(|n| (f64::from(n) / 20.0, false)));
    for (travel, up) in ways {
        for sample in 0..200_u32 {
            let step = if sample < 50 {
                Step::Idle
            } else {
                Step::Stations
            };
            let step = if positions_known { step } else { Step::Strokes };
            let position = (positions_known && step == Step::Stations).then_some(60.0 * travel);
            // A wobble of two codes, the same at every station, that averages to nothing.
            let wobble = f64::from(sample % 5) - 2.0;
            writer
                .push(t_us, step, [code(travel, up, wobble)].into_iter(), position)
                .unwrap();
            t_us += 5000;
        }
    }
    writer.finish(&StreamCounts::default()).unwrap();
    let ran = program(dir.path())
        .args(["assess", "--json"])
        .arg(&path)
        .output()
        .unwrap();
    assert!(
        ran.status.success(),
        "{}",
        String::from_utf8_lossy(&ran.stderr)
    );
    serde_json::from_slice::<Value>(&ran.stdout).unwrap()["channels"]["lever"]["figures"].clone()
}

#[test]
fn a_known_bow_and_hysteresis_are_found() {
    let figures = assessed(true);
    // By construction: a parabola of sagitta 1.8 % leaves 1.8 % to the chord and half of it to the minimax line.
    for (figure, truth) in [
        ("linearity_terminal", 1.8),
        ("linearity_independent", 0.9),
        ("hysteresis", 0.9),
    ] {
        let value = figures[figure]["value"].as_f64().unwrap();
        assert!(
            (value - truth).abs() < 0.06,
            "{figure}: {value}, {truth} by construction"
        );
        let (low, high) = (
            figures[figure]["low"].as_f64().unwrap(),
            figures[figure]["high"].as_f64().unwrap(),
        );
        assert!(low <= value && value <= high, "{figure}: {low} .. {high}");
    }
}

#[test]
fn without_known_positions_there_is_neither_linearity_nor_hysteresis() {
    let figures = assessed(false);
    for figure in [
        "linearity_terminal",
        "linearity_independent",
        "linearity_best_fit",
        "linearity_zero_based",
        "hysteresis",
    ] {
        assert_eq!(figures[figure], Value::Null, "{figure}");
    }
}
