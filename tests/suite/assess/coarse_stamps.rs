//! A board whose stamps are whole milliseconds: 1 or 2 apart at 800 samples a second, and none is missing.

use crate::support::program::{changed, pedalproof, stderr};
use serde_json::Value;
use std::fmt::Write;
use std::path::Path;

/// T1-pedal played at 800 samples a second, its times in whole units of so many microseconds; what it was found to be.
fn played(dir: &Path, name: &str, stamp_us: u64) -> Value {
    changed(
        dir,
        "T1-pedal",
        name,
        |meta| {
            let meta = meta.replace("T1-pedal", name);
            let changed = meta.replace("\"rate_hz\": 250.0", "\"rate_hz\": 800.0");
            assert_ne!(meta, changed);
            changed
        },
        |table| {
            let (header, samples) = table.split_once('\n').unwrap();
            let mut text = format!("{header}\n");
            for (k, line) in (0_u64..).zip(samples.lines()) {
                let (_, rest) = line.split_once(',').unwrap();
                let t_us = k * 1250 / stamp_us * stamp_us;
                writeln!(text, "{t_us},{rest}").unwrap();
            }
            text
        },
    );
    let ran = pedalproof(dir, &format!("assess {name}.csv --json"));
    serde_json::from_slice(&ran.stdout).unwrap_or_else(|_| panic!("{}", stderr(&ran)))
}

/// Stamps in whole milliseconds leave every figure of the strokes within its own uncertainty of what stamps to the microsecond show.
#[test]
fn whole_milliseconds_at_800_a_second_cut_no_stroke() {
    let dir = tempfile::tempdir().unwrap();
    let (fine, coarse) = (
        played(dir.path(), "fine", 1),
        played(dir.path(), "coarse", 1000),
    );
    assert_eq!(fine["verdict"], coarse["verdict"]);
    let channels = fine["channels"].as_object().unwrap();
    assert_eq!(channels.len(), 2);
    for (channel, was) in channels {
        for name in [
            "stroke_noise_rms",
            "smoothness",
            "worn_zones_count",
            "dropouts_count",
            "interference_share",
        ] {
            let (was, is) = (
                &was["figures"][name],
                &coarse["channels"][channel]["figures"][name],
            );
            assert_eq!(was["n"], is["n"], "{channel} {name}: {was} {is}");
            let value = |figure: &Value| figure["value"].as_f64().unwrap();
            let within = was["u"].as_f64().unwrap_or(0.0);
            assert!(
                (value(was) - value(is)).abs() <= within,
                "{channel} {name}: {was} {is}"
            );
        }
    }
}
