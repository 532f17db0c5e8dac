//! The wiring page and the single-fault table: of any profile that can be read there is a page or a refusal in words.
//!
//! Bytes: which built-in profile; the board's bits, and whether there is to be a page; then which number of its wirings becomes which, until there are no more.

use super::Bytes;
use pedalproof::profile::{self, Profile};
use pedalproof::report;
use pedalproof::wiring::WiringReport;
use serde_json::{Value, json};

const MEMBERS: [&str; 21] = [
    "track_ohm",
    "output_ohm",
    "pull_up_ohm",
    "pull_down_ohm",
    "series_ohm",
    "tolerance_pct",
    "load_ohm",
    "end_low_ohm",
    "end_high_ohm",
    "rest_at",
    "full_at",
    "back_at",
    "low_ratio",
    "high_ratio",
    "ratio_tolerance_pct",
    "sensor_ohm",
    "track_tolerance_pct",
    "divider_top_ohm",
    "divider_bottom_ohm",
    "reference_mv",
    "supply_tolerance_pct",
];

pub fn check(data: &[u8]) {
    let mut plan = Bytes(data);
    let (_, text) = profile::BUILT_IN[usize::from(plan.byte()) % profile::BUILT_IN.len()];
    let mut tree: Value = serde_json::from_str(text).expect("built in");
    let choice = plan.byte();
    let bits = 1 + u32::from(choice & 31) % 24;
    // A few at most: each tolerance doubles the corners that are looked at.
    for _ in 0..6 {
        if plan.is_empty() {
            break;
        }
        change(&mut tree, &mut plan);
    }
    let Ok(profile) = Profile::from_json(&tree.to_string()) else {
        return;
    };
    let control = profile.control_wiring(bits);
    let windows = control.windows();
    if let Ok(windows) = &windows {
        assert_eq!(windows.len(), control.tracks.len());
    }
    // The page searches for changes: up to a second each, so only now and then.
    if choice < 240 {
        return;
    }
    match WiringReport::of(&control) {
        Ok(report) => {
            assert!(windows.is_ok() && !report.tracks.is_empty());
            let page = report::wiring(&report).text();
            assert!(page.ends_with('\n') && page.is_ascii());
            let json = serde_json::to_string(&report).expect("a report is written");
            assert!(json.starts_with('{'));
        }
        Err(refusal) => assert!(!refusal.to_string().is_empty()),
    }
}

/// One number becomes another: a power of ten, a share, a limit of an end.
fn change(tree: &mut Value, plan: &mut Bytes<'_>) {
    let (what, raw) = (plan.byte(), plan.two());
    let track = if what & 128 == 0 { "1" } else { "2" };
    let member = usize::from(what & 127) % (MEMBERS.len() + 5);
    let share = f64::from(raw) / f64::from(u16::MAX);
    match member - MEMBERS.len().min(member) {
        0 if member < MEMBERS.len() => {
            let name = MEMBERS[member];
            let value = if name.ends_with("_ohm") || name.ends_with("_mv") {
                json!(10_f64.powf(share * 12.0 - 3.0))
            } else if name.ends_with("_pct") {
                json!(share * 100.0)
            } else {
                json!(share)
            };
            let value = if raw == 0 { Value::Null } else { value };
            tree["tracks"][track]["wiring"][name] = value;
        }
        0 => tree["supply_mv"] = json!(10_f64.powf(share * 10.0 - 3.0)),
        1 => {
            tree["tracks"][track]["limits"]["rest_ratio"] =
                json!({ "min": share, "max": share + 0.05 });
        }
        2 => {
            tree["tracks"][track]["limits"]["full_ratio"] =
                json!({ "min": share, "max": share + 0.05 });
        }
        3 => tree["start"]["zero_command_at"] = json!(if raw & 1 == 0 { "rest" } else { "full" }),
        _ => {
            tree["tracks"][track]["wiring"]["network"] =
                json!(["three-wire", "buffered", "rheostat"][usize::from(raw) % 3]);
        }
    }
}
