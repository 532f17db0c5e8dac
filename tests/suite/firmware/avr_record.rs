//! The real binary records from real firmware: the streamer compiled for an 8-bit part, run in a simulated part, and
//! the figures are held against the voltages that were injected.
#![cfg(unix)]

use super::support::avr::{AvrBoard, Options};
use crate::support::program::{pedalproof, program};
use serde_json::Value;

#[test]
fn a_recording_of_real_firmware_gives_the_injected_voltages() {
    // Script time begins at power-up, which comes when the port is opened. 800 mV for 4 s, then 4200 mV; the second
    // pin at half of both; noise of 6 mV on the first.
    let script = "0 0 800\n4000 0 800\n4050 0 4200\n12000 0 4200\n\
                  0 1 400\n4000 1 400\n4050 1 2100\n12000 1 2100\nnoise 0 6\n";
    let Some(board) = AvrBoard::start(script, &Options::default()) else {
        return;
    };
    let dir = tempfile::tempdir().unwrap();
    let ran = program(dir.path())
        .args([
            "record",
            "--out",
            "x",
            "--steps",
            "rest=3,idle=2,full=3",
            "--baud",
            "1000000",
            "--port",
        ])
        .arg(board.path())
        .output()
        .unwrap();
    assert!(
        ran.status.success(),
        "{}",
        String::from_utf8_lossy(&ran.stderr)
    );
    let ran = pedalproof(dir.path(), "assess x.csv --json");
    assert_eq!(
        ran.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&ran.stderr)
    );
    let json: Value = serde_json::from_slice(&ran.stdout).unwrap();
    assert_eq!(json["capture"]["missing"], 0);
    let channels = json["channels"].as_object().unwrap();
    let names: Vec<&String> = channels.keys().collect();
    let figure = |channel: usize, name: &str| {
        channels[names[channel]]["figures"][name]["value"]
            .as_f64()
            .unwrap()
    };
    // The simulated ADC computes floor(mV x 1023 / vref): 163.68, 859.32, 81.84, 429.66. With noise that dithers it,
    // the mean is half a code below the exact quotient; without, it is the floor.
    let near = |got: f64, want: f64, within: f64| {
        assert!((got - want).abs() < within, "{got} against {want}");
    };
    near(figure(0, "rest_code"), 163.68 - 0.5, 0.15);
    near(figure(0, "full_code"), 859.32 - 0.5, 0.15);
    near(figure(1, "rest_code"), 81.0, 1e-9);
    near(figure(1, "full_code"), 429.0, 1e-9);
    // 6 mV are 1.2276 codes; rounding adds a twelfth of a code to the variance.
    let sd = (1.2276_f64.powi(2) + 1.0 / 12.0).sqrt();
    near(figure(0, "noise_rest_rms"), sd, 0.06);
}
