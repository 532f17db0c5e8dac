//! `profile new` on captures made by construction: limits by hand, refusals, and what a person is told.

use crate::support::program::{pedalproof, program};
use crate::support::recording::signal;
use measure::units::{Code, Step, Track};
use pedalproof::capture::{BoardMeta, CaptureWriter, Metadata, StreamCounts, UnitMeta};
use pedalproof::profile::Profile;
use serde_json::Value;
use std::path::Path;

/// A lever on a 10-bit board that stands at these codes, with a wobble of -2 .. 2 that averages to nothing.
fn capture(dir: &Path, file: &str, tag: Option<&str>, [rest, full]: [u32; 2]) {
    let meta = Metadata {
        unit: UnitMeta {
            tag: tag.map(str::to_owned),
            profile: None,
        },
        ..Metadata::new(
            BoardMeta::new("b", 10, 5000.0, 1000.0),
            vec![("lever".into(), signal(Track::One))],
        )
    };
    let mut writer = CaptureWriter::create(&dir.join(file), meta).unwrap();
    let mut t_us = 0;
    for (step, level) in [(Step::Rest, rest), (Step::Idle, rest), (Step::Full, full)] {
        for sample in 0..1000_u32 {
            // Steps of 3 in 5: neighbours differ, as with white noise.
            let code = Code(level + sample * 3 % 5 - 2);
            writer.push(t_us, step, [code].into_iter(), None).unwrap();
            t_us += 1000;
        }
    }
    writer.finish(&StreamCounts::default()).unwrap();
}

fn profile_new(dir: &Path, more: &[&str]) -> (Option<i32>, String, String) {
    let ran = program(dir)
        .args(["profile", "new", "--name", "our lever"])
        .args(more)
        .output()
        .unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (ran.status.code(), text(ran.stdout), text(ran.stderr))
}

fn three(dir: &Path) {
    capture(dir, "a.csv", Some("T1-lever"), [100, 800]);
    capture(dir, "b.csv", Some("T2-lever"), [105, 806]);
    capture(dir, "c.csv", None, [110, 812]);
}

const FROM: [&str; 4] = ["--from", "a.csv", "b.csv", "c.csv"];

#[test]
fn limits_are_those_worked_by_hand() {
    let dir = tempfile::tempdir().unwrap();
    three(dir.path());
    let (code, out, message) = profile_new(dir.path(), &[&FROM[..], &["--kind", "lever"]].concat());
    assert_eq!(code, Some(0), "{message}");
    Profile::from_json(&out).unwrap();
    let profile: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(profile["card"], serde_json::json!(["rest", "full"]));
    let limits = &profile["tracks"]["1"]["limits"];
    // Mean 105/1024 = 0.10254, sd 5/1024 = 0.004883; k = 9.789 for three units, both sides, 95 %/95 %
    // (tests/reference/24): 0.10254 -+ 0.04780 is 0.0547 to 0.1503; and a unit's own interval, of
    // one hold: 1 % of its span of up to 702 codes as a rectangle, 0.95 x 7.02/1024 = 0.00651; outward.
    assert_eq!(limits["rest_ratio"]["min"], 0.048);
    assert_eq!(limits["rest_ratio"]["max"], 0.157);
    // Mean 806/1024 = 0.78711, sd 6/1024 = 0.005859: 0.78711 -+ 0.05736 is 0.7298 to 0.8445; less and more 0.00651.
    assert_eq!(limits["full_ratio"]["min"], 0.723);
    assert_eq!(limits["full_ratio"]["max"], 0.851);
    assert_eq!(profile["code_bits"], 10, "the recordings' board");
    let reason = limits["rest_ratio"]["reason"].as_str().unwrap();
    assert!(reason.starts_with("k = 9.79 with 3 parts"), "{reason}");
    // The same wobble everywhere: the units differ by nothing, the limit is their own uncertainty wide.
    let noise = limits["noise_rest_rms"]["max"].as_f64().unwrap();
    assert!(
        (1.4..1.7).contains(&noise),
        "sd of -2 .. 2 is 1.41: {noise}"
    );
    assert!(limits["smoothness"].is_null() && limits["return_scatter"].is_null());
    for words in [
        "with 3 parts",
        "7.66",
        "9.79",
        "no wiring is stated",
        "supply_mv",
    ] {
        assert!(message.contains(words), "{words}: {message}");
    }
}

/// By hand: a rest end at 100 of 1024 codes is 0.0977 of the reference; 0.05 to either side, and a little for its own interval.
#[test]
fn one_part_gives_limits_that_are_assumed_and_say_so() {
    let dir = tempfile::tempdir().unwrap();
    capture(dir.path(), "a.csv", Some("T1-lever"), [100, 800]);
    capture(dir.path(), "again.csv", Some("T1-lever"), [101, 800]);
    for from in [&["--from", "a.csv"][..], &["--from", "a.csv", "again.csv"]] {
        let (code, out, message) = profile_new(dir.path(), &[from, &["--kind", "lever"]].concat());
        assert_eq!(code, Some(0), "{message}");
        assert!(
            message.contains("from one part nothing is known of how parts differ"),
            "{message}"
        );
        assert!(
            message.contains("within 0.05 of the reference"),
            "{message}"
        );
        let profile: Value = serde_json::from_str(&out).unwrap();
        let limit = &profile["tracks"]["1"]["limits"]["rest_ratio"];
        let (min, max) = (
            limit["min"].as_f64().unwrap(),
            limit["max"].as_f64().unwrap(),
        );
        assert!(
            (0.035..=0.0477).contains(&min) && (0.1477..0.161).contains(&max),
            "{limit}"
        );
        assert!(
            limit["reason"].as_str().unwrap().starts_with("ASSUMED"),
            "{limit}"
        );
    }
}

#[test]
fn a_base_gives_what_the_captures_cannot_and_nothing_is_overwritten() {
    let dir = tempfile::tempdir().unwrap();
    three(dir.path());
    let arguments = [
        &FROM[..],
        &["--base", "lever-shunting", "--out", "our.json"],
    ]
    .concat();
    let (code, out, message) = profile_new(dir.path(), &arguments);
    assert_eq!(code, Some(0), "{message}");
    assert!(
        out.is_empty() && message.contains("wrote our.json"),
        "{message}"
    );
    // A full end of 0.787 lies outside the base's 0.85 .. 0.92: the units are not what the base calls good.
    assert!(
        message.contains("is T1-lever a good part? track 1: full_ratio"),
        "{message}"
    );
    let path = dir.path().join("our.json");
    let written = std::fs::read_to_string(&path).unwrap();
    let profile = Profile::from_json(&written).unwrap();
    let base = pedalproof::profile::find("lever-shunting").unwrap();
    assert_eq!(
        profile.tracks[&Track::One].wiring,
        base.tracks[&Track::One].wiring
    );
    assert_eq!(profile.supply_mv.to_bits(), base.supply_mv.to_bits());
    let (code, _, message) = profile_new(dir.path(), &arguments);
    assert_eq!(code, Some(2), "{message}");
    assert!(message.contains("never overwritten"), "{message}");
    assert_eq!(std::fs::read_to_string(&path).unwrap(), written);
    // The base is not opened for them: what it calls bad stays bad.
    let limit = |file: &str| {
        let text = std::fs::read_to_string(dir.path().join(file)).unwrap();
        let profile: Value = serde_json::from_str(&text).unwrap();
        profile["tracks"]["1"]["limits"].clone()
    };
    let full = limit("our.json")["full_ratio"].clone();
    assert!(full["min"] == 0.85 && full["max"] == 0.92, "{full}");
    assert!(told_of(dir.path(), &FROM, &[]).contains("--widen"));
    // Unless that is asked for; then each opened limit is named.
    let (code, _, message) = profile_new(
        dir.path(),
        &[
            &FROM[..],
            &["--base", "lever-shunting", "--widen", "--out", "wide.json"],
        ]
        .concat(),
    );
    assert_eq!(code, Some(0), "{message}");
    assert!(
        message.contains("WIDENED: track 1: full_ratio was 0.85 to 0.92 in the base"),
        "{message}"
    );
    // And it is a profile to assess with: the units that made it pass.
    for file in ["a.csv", "b.csv", "c.csv"] {
        let ran = pedalproof(
            dir.path(),
            &format!("assess {file} --profile wide.json --json"),
        );
        let assessed: Value = serde_json::from_slice(&ran.stdout).unwrap();
        for finding in assessed["findings"].as_array().unwrap() {
            let ratio = finding["figure"].as_str().unwrap().ends_with("_ratio");
            assert!(!ratio || finding["outcome"] == "pass", "{file}: {finding}");
        }
    }
}

fn told_of(dir: &Path, from: &[&str], more: &[&str]) -> String {
    profile_new(dir, &[from, &["--base", "lever-shunting"], more].concat()).2
}

/// Two good levers, and a part whose wire is off: with the base's limits opened by so few it passed, and constants left the window
/// without a lower end.
#[test]
fn two_good_units_do_not_let_a_broken_wire_pass() {
    let dir = tempfile::tempdir().unwrap();
    capture(dir.path(), "a.csv", Some("T1-lever"), [163, 905]);
    capture(dir.path(), "b.csv", Some("T2-lever"), [170, 899]);
    capture(dir.path(), "open.csv", Some("T9-lever"), [5, 905]);
    capture(dir.path(), "high.csv", Some("T8-lever"), [240, 905]);
    for base in [
        &["--base", "lever-shunting"][..],
        &["--base", "lever-shunting", "--widen"],
        &["--kind", "lever"],
    ] {
        let name = format!("{}.json", base.len());
        let (code, _, message) = profile_new(
            dir.path(),
            &[&["--from", "a.csv", "b.csv"], base, &["--out", &name]].concat(),
        );
        assert_eq!(code, Some(0), "{message}");
        let text = std::fs::read_to_string(dir.path().join(&name)).unwrap();
        let profile: Value = serde_json::from_str(&text).unwrap();
        let rest = &profile["tracks"]["1"]["limits"]["rest_ratio"];
        assert!(
            rest["min"].is_f64() && rest["max"].is_f64(),
            "{base:?}: {rest}"
        );
        // Of the base alone what it calls bad at 240 as well; of two parts alone nobody can know that.
        let bad: &[&str] = if base.len() == 2 && base[0] == "--base" {
            &["open.csv", "high.csv"]
        } else {
            &["open.csv"]
        };
        for file in bad {
            let ran = pedalproof(
                dir.path(),
                &format!("assess {file} --profile {name} --json"),
            );
            let assessed: Value = serde_json::from_slice(&ran.stdout).unwrap();
            let all = assessed["findings"].as_array().unwrap();
            let rest = all.iter().find(|f| f["figure"] == "rest_ratio").unwrap();
            assert_ne!(rest["outcome"], "pass", "{base:?} {file}: {rest}");
        }
        std::fs::remove_file(dir.path().join(&name)).unwrap();
    }
    // The base's card is kept, for its limits need it.
    let message = told_of(dir.path(), &["--from", "a.csv", "b.csv"], &[]);
    assert!(message.contains("of the base's test"), "{message}");
}

/// Of six good levers one rests 20 codes off: it is named.
#[test]
fn a_bad_unit_among_the_good_is_named() {
    let dir = tempfile::tempdir().unwrap();
    let rests = [163, 165, 162, 164, 166, 185];
    let files: Vec<String> = (1..=6).map(|n| format!("T{n}.csv")).collect();
    for (file, rest) in files.iter().zip(rests) {
        capture(
            dir.path(),
            file,
            Some(file.trim_end_matches(".csv")),
            [rest, 905],
        );
    }
    let from: Vec<&str> = ["--from"]
        .into_iter()
        .chain(files.iter().map(String::as_str))
        .collect();
    let (code, _, message) = profile_new(dir.path(), &[&from[..], &["--kind", "lever"]].concat());
    assert_eq!(code, Some(0), "{message}");
    assert!(
        message.contains("is T6 a good part? track 1: its rest_ratio")
            && message.contains("stands apart"),
        "{message}"
    );
    assert!(!message.contains("is T5"), "{message}");
}

#[test]
fn the_other_forms_list_check_and_print_the_schema() {
    let dir = tempfile::tempdir().unwrap();
    let run = |arguments: &[&str]| {
        let ran = program(dir.path())
            .arg("profile")
            .args(arguments)
            .output()
            .unwrap();
        (ran.status.code(), String::from_utf8(ran.stdout).unwrap())
    };
    let (code, list) = run(&[]);
    assert!(code == Some(0) && list.lines().count() >= 8, "{list}");
    let (code, message) = run(&["check", "lever-shunting"]);
    assert!(code == Some(0) && message.contains("why: "), "{message}");
    let (code, schema) = run(&["schema"]);
    assert!(code == Some(0) && schema.contains("profile/1"), "{schema}");
    assert_eq!(run(&["check", "none-such"]).0, Some(2));
}
