//! Recordings of good parts with one thing wrong that a mean, a count or a note would let pass. Each is a capture of the repository whose
//! rows are changed here; the same change without its fault passes.

use crate::support::program::{changed, pedalproof, stderr, stdout};
use serde_json::{Value, json};
use std::fmt::Write;
use std::path::Path;

/// A sample: board time in microseconds, step, codes as they are written.
pub struct Row {
    pub t_us: u64,
    pub step: String,
    pub cells: Vec<String>,
}

impl Row {
    pub fn code(&self, column: usize) -> f64 {
        self.cells[column].parse().unwrap()
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // codes
    fn add(&mut self, column: usize, codes: f64) {
        let code = (self.code(column) + codes).clamp(0.0, 1023.0).round();
        self.cells[column] = (code as u32).to_string();
    }
}

/// A table with its rows changed; `None` leaves one out.
pub fn rows(table: &str, mut change: impl FnMut(Row) -> Option<Row>) -> String {
    let (header, samples) = table.split_once('\n').unwrap();
    let mut text = format!("{header}\n");
    for line in samples.lines() {
        let mut cells = line.trim_end().split(',').map(str::to_owned);
        let row = Row {
            t_us: cells.next().unwrap().parse().unwrap(),
            step: cells.next().unwrap(),
            cells: cells.collect(),
        };
        if let Some(row) = change(row) {
            writeln!(text, "{},{},{}", row.t_us, row.step, row.cells.join(",")).unwrap();
        }
    }
    text
}

/// Writes a changed capture of the repository and assesses it: exit code and answer.
pub fn assessed(dir: &Path, name: &str, change: impl Fn(&str) -> String) -> (Option<i32>, Value) {
    changed(
        dir,
        name,
        "x",
        |meta| meta.replace(name, "x"),
        |table| change(&table),
    );
    let ran = pedalproof(dir, "assess x.csv --json");
    let answer = serde_json::from_slice(&ran.stdout);
    (
        ran.status.code(),
        answer.unwrap_or_else(|_| panic!("{}", stderr(&ran))),
    )
}

pub fn finding<'a>(answer: &'a Value, channel: &str, figure: &str) -> &'a Value {
    let findings = answer["findings"].as_array().unwrap();
    let of = |f: &&Value| f["channel"] == *channel && f["figure"] == *figure;
    findings.iter().find(of).unwrap()
}

/// Of each stroke of T1-pedal the three samples behind 60 % of travel (164 to 860: code 581) are left out, as a board does that prints
/// nothing while the contact is open; and as many at no place in particular.
#[test]
fn samples_that_are_missing_at_one_place_may_be_lost_contact() {
    let dir = tempfile::tempdir().unwrap();
    let at_a_place = |table: &str| {
        let (mut before, mut left_out) = (0.0, 0);
        rows(table, |row| {
            let (was, is) = (before, row.code(0));
            before = is;
            if row.step == "strokes" && (was - 581.0) * (is - 581.0) < 0.0 {
                left_out = 3;
            }
            left_out -= i32::from(left_out > 0);
            (left_out == 0).then_some(row)
        })
    };
    let (code, answer) = assessed(dir.path(), "T1-pedal", at_a_place);
    let dropouts = finding(&answer, "pedal_a", "dropouts_count");
    assert_eq!(
        (code, &dropouts["outcome"]),
        (Some(3), &json!("undecided")),
        "{dropouts}"
    );
    let reason = dropouts["reason"].as_str().unwrap();
    assert!(reason.contains("times samples are missing"), "{reason}");
    assert_eq!(
        answer["channels"]["pedal_a"]["figures"]["dropouts_count"]["value"],
        0.0
    );

    let anywhere = |table: &str| {
        let mut n = 0_u32;
        rows(table, |row| {
            n += 1;
            (n % 547 > 1).then_some(row)
        })
    };
    let (code, answer) = assessed(dir.path(), "T1-pedal", anywhere);
    assert_eq!(code, Some(0), "{}", answer["headline"]);
}

/// The first rest, of three seconds, 60 codes higher on track 1 and 30 on track 2: 0.218 of the reference, 0.2 being allowed. With the
/// six returns the mean is 0.168, and its interval ends at 0.19.
#[test]
fn a_rest_that_was_out_of_limits_once_is_not_averaged_away() {
    let dir = tempfile::tempdir().unwrap();
    let raised = |table: &str| {
        rows(table, |mut row| {
            if row.step == "rest" {
                row.add(0, 60.0);
                row.add(1, 30.0);
            }
            Some(row)
        })
    };
    let (code, answer) = assessed(dir.path(), "T1-pedal", raised);
    let rest = finding(&answer, "pedal_a", "rest_ratio");
    assert_eq!(
        (code, &rest["outcome"]),
        (Some(3), &json!("undecided")),
        "{rest}"
    );
    let reason = rest["reason"].as_str().unwrap();
    assert!(reason.contains("0.218 once, of 7 rests"), "{reason}");
    assert!(
        answer["headline"]
            .as_str()
            .unwrap()
            .starts_with("MEASURE MORE")
    );
    // Standing there again, it would drive.
    let ran = pedalproof(dir.path(), "constants x.csv --out x.json");
    assert_eq!(ran.status.code(), Some(3));
    assert!(
        stderr(&ran).contains("once it stood at code 224"),
        "{}",
        stderr(&ran)
    );
    assert!(!dir.path().join("x.json").exists());
}

/// Every second of the shake both tracks sag by a fifth of the span and come back within 100 ms, as a cosine goes: no edge, and no hand
/// goes behind the stop.
#[test]
fn a_supply_that_sags_slowly_under_the_shake_is_lost_contact() {
    let dir = tempfile::tempdir().unwrap();
    let sagging = |table: &str| {
        rows(table, |mut row| {
            let in_sag = row.t_us % 1_000_000;
            if row.step == "shake" && in_sag < 100_000 {
                #[allow(clippy::cast_precision_loss)] // less than 2^53
                let phase = in_sag as f64 / 100_000.0 * std::f64::consts::TAU;
                let sag = 0.2 * (1.0 - phase.cos()) / 2.0;
                row.add(0, -sag * 696.0);
                row.add(1, -sag * 348.0);
            }
            Some(row)
        })
    };
    let (code, answer) = assessed(dir.path(), "T1-pedal", sagging);
    let dropouts = finding(&answer, "pedal_a", "dropouts_count");
    assert_eq!(
        (code, &dropouts["outcome"]),
        (Some(1), &json!("fail")),
        "{dropouts}"
    );
    let value = &answer["channels"]["pedal_a"]["figures"]["dropouts_count"]["value"];
    assert_eq!(value, 5.0);
    assert_eq!(answer["causes"][0]["cause"], "loose-connection");
}

/// The same, by 5 % of the span, of a lever that rests against its stop; one that returns to its middle may be bumped the other way.
#[test]
fn a_lever_that_goes_both_ways_may_be_bumped_behind_its_rest() {
    let dir = tempfile::tempdir().unwrap();
    let text = include_str!("../../../profiles/lever-shunting.json");
    let bumped = |table: String| {
        rows(&table, |mut row| {
            let within = row.t_us % 1_000_000;
            if row.step == "shake" && within < 100_000 {
                let phase =
                    f64::from(u32::try_from(within).unwrap()) / 100_000.0 * std::f64::consts::TAU;
                row.add(0, -0.05 * 800.0 * (1.0 - phase.cos()) / 2.0);
            }
            Some(row)
        })
    };
    for (both_ways, code) in [(false, 1), (true, 0)] {
        let mut profile: Value = serde_json::from_str(text).unwrap();
        if both_ways {
            profile["tracks"]["1"]["wiring"]["back_at"] = json!(0.0);
        }
        std::fs::write(dir.path().join("p.json"), profile.to_string()).unwrap();
        changed(
            dir.path(),
            "T3-lever-2022",
            "x",
            |meta| meta.replace("T3-lever-2022", "x"),
            bumped,
        );
        let ran = pedalproof(dir.path(), "assess x.csv --json --profile p.json");
        assert_eq!(
            ran.status.code(),
            Some(code),
            "{both_ways}: {}",
            stdout(&ran)
        );
    }
}

#[test]
fn a_cable_that_nobody_moved_is_told_of() {
    let dir = tempfile::tempdir().unwrap();
    let unshaken = |table: &str| table.replace(",shake,", ",idle,");
    let (code, answer) = assessed(dir.path(), "T1-pedal", unshaken);
    assert_eq!(code, Some(0));
    let headline = answer["headline"].as_str().unwrap();
    assert_eq!(
        headline,
        "FIT IT: all 14 checks passed; plug and cable were not tested"
    );
    let reason = finding(&answer, "pedal_a", "dropouts_count")["reason"]
        .as_str()
        .unwrap();
    assert!(
        reason.contains("plug and cable were not tested"),
        "{reason}"
    );
    let (_, answer) = assessed(dir.path(), "T1-pedal", str::to_owned);
    assert_eq!(answer["headline"], "FIT IT: all 14 checks passed");
}

/// The lever's stations at 24, 30 and 36 of 60 degrees alone: 40 to 60 % of the travel.
#[test]
fn stations_that_leave_travel_out_give_no_linearity() {
    let dir = tempfile::tempdir().unwrap();
    let in_the_middle = |table: &str| {
        rows(table, |mut row| {
            let middle = ["24", "30", "36"].contains(&row.cells[1].as_str());
            if row.step == "stations" && !middle {
                row.step = "idle".to_owned();
                row.cells[1] = String::new();
            }
            Some(row)
        })
    };
    let (_, answer) = assessed(dir.path(), "T1-lever-stations", in_the_middle);
    let of =
        |answer: &Value| answer["channels"]["lever"]["figures"]["linearity_independent"].clone();
    assert_eq!(of(&answer), Value::Null);
    let (_, answer) = assessed(dir.path(), "T1-lever-stations", str::to_owned);
    assert!(of(&answer)["value"].is_f64());
}

/// A profile for a board of 3.3 V, a recording against 5 V: one of them is wrong, and the codes mean other voltages.
#[test]
fn levels_against_another_reference_stay_open() {
    let dir = tempfile::tempdir().unwrap();
    let text = include_str!("../../../profiles/pedal-hall-two-track.json");
    for (mv, opens) in [(3300.0, true), (5050.0, false)] {
        let mut profile: Value = serde_json::from_str(text).unwrap();
        for track in ["1", "2"] {
            let wiring = &mut profile["tracks"][track]["wiring"];
            wiring
                .as_object_mut()
                .unwrap()
                .remove("supply_is_reference");
            wiring["reference_mv"] = json!(mv);
        }
        std::fs::write(dir.path().join("p.json"), profile.to_string()).unwrap();
        changed(
            dir.path(),
            "T1-pedal",
            "x",
            |meta| meta.replace("T1-pedal", "x"),
            |table| table,
        );
        let ran = pedalproof(dir.path(), "assess x.csv --json --profile p.json");
        let answer: Value = serde_json::from_slice(&ran.stdout).unwrap();
        let rest = finding(&answer, "pedal_a", "rest_ratio");
        let outcome = if opens { "undecided" } else { "pass" };
        assert_eq!(rest["outcome"], outcome, "{mv} mV: {rest}");
        if opens {
            assert!(
                rest["reason"].as_str().unwrap().contains("3300 mV"),
                "{rest}"
            );
            let ran = pedalproof(dir.path(), "constants x.csv --profile p.json --out b.json");
            assert_eq!(ran.status.code(), Some(2), "{}", stdout(&ran));
            assert!(
                stderr(&ran).contains("whose reference is 3300 mV"),
                "{}",
                stderr(&ran)
            );
        }
    }
}

/// Whichever recording comes first, `pedal` is what must rest before a start: 164 is before its zero edge.
#[test]
fn blend_calls_a_pedal_what_must_rest_before_a_start() {
    let dir = tempfile::tempdir().unwrap();
    for name in ["T1-pedal", "T1-dial"] {
        changed(dir.path(), name, name, |meta| meta, |table| table);
    }
    for order in ["T1-pedal.csv T1-dial.csv", "T1-dial.csv T1-pedal.csv"] {
        let file = format!("{}.json", &order[..7]);
        let made = pedalproof(dir.path(), &format!("constants {order} --out {file}"));
        assert_eq!(made.status.code(), Some(0), "{}", stderr(&made));
        let ask =
            format!("blend --block {file} --json --at pedal=164,dial=650 --at pedal=700,dial=650");
        let answer: Value = serde_json::from_slice(&pedalproof(dir.path(), &ask).stdout).unwrap();
        let dac = |n: usize| answer["at"][n]["dac"].as_u64().unwrap();
        assert_eq!(dac(0), 0, "{order}");
        assert!(dac(1) > 2000, "{order}: {}", dac(1));
    }
}

/// By Ohm's law: 120 kohm over 4.7 kohm less 5 % reads 0.9641 at most, an open wire the whole scale: the limit lies half-way at most.
#[test]
fn a_limit_that_is_moved_leaves_room_for_a_broken_wire() {
    let dir = tempfile::tempdir().unwrap();
    let ran = pedalproof(
        dir.path(),
        "profile write dial-rheostat --track-ohm 100000 --out p.json",
    );
    assert_eq!(ran.status.code(), Some(0), "{}", stderr(&ran));
    let text = std::fs::read_to_string(dir.path().join("p.json")).unwrap();
    let profile: Value = serde_json::from_str(&text).unwrap();
    let most = 120_000.0 / (120_000.0 + 4700.0 * 0.95);
    let max = profile["tracks"]["1"]["limits"]["full_ratio"]["max"]
        .as_f64()
        .unwrap();
    assert!(
        max >= most && max <= f64::midpoint(most, 1.0) + 2e-4,
        "{max}"
    );
}

/// The first second of the full step at 80 % of travel, then pressed home: a good part, and a hold of two levels is no noise of its.
#[test]
fn a_press_in_two_goes_is_no_noise() {
    let dir = tempfile::tempdir().unwrap();
    let in_two_goes = |table: &str| {
        rows(table, |mut row| {
            if row.step == "full" && row.t_us < 4_600_000 {
                row.add(0, -139.0);
                row.add(1, -70.0);
            }
            Some(row)
        })
    };
    let (code, answer) = assessed(dir.path(), "T1-pedal", in_two_goes);
    assert_eq!(code, Some(0), "{}", answer["headline"]);
    let noise = &answer["channels"]["pedal_a"]["figures"]["noise_full_rms"]["value"];
    assert!(noise.as_f64().unwrap() < 1.5, "{noise}");
}

/// From -1 to 1, straight between a number by chance each 40 ms (its bits from a multiplicative hash).
fn wandering(t_us: u64) -> f64 {
    let knot = |k: u64| {
        let bits = k.wrapping_mul(0x9e37_79b9_7f4a_7c15) >> 48;
        f64::from(u16::try_from(bits).unwrap()) / 32_768.0 - 1.0
    };
    let (k, within) = (t_us / 40_000, t_us % 40_000);
    let share = f64::from(u32::try_from(within).unwrap()) / 40_000.0;
    knot(k) * (1.0 - share) + knot(k + 1) * share
}

/// A foot that moves at random, by up to 6 codes of 696 in 40 ms, half as much on the track of half the slope; and the same of
/// one track alone.
#[test]
fn a_trembling_foot_does_not_fail_the_part() {
    let dir = tempfile::tempdir().unwrap();
    let trembling = |second: f64| {
        move |table: &str| {
            rows(table, |mut row| {
                if row.step == "full" {
                    let swing = 6.0 * wandering(row.t_us);
                    row.add(0, swing);
                    row.add(1, second * swing);
                }
                Some(row)
            })
        }
    };
    let (code, answer) = assessed(dir.path(), "T1-pedal", trembling(0.5));
    let noise = finding(&answer, "pedal_a", "noise_full_rms");
    assert_eq!(
        (code, &noise["outcome"]),
        (Some(3), &json!("undecided")),
        "{noise}"
    );
    assert!(
        noise["reason"]
            .as_str()
            .unwrap()
            .contains("both tracks move together"),
        "{noise}"
    );
    let (code, answer) = assessed(dir.path(), "T1-pedal", trembling(0.0));
    let noise = finding(&answer, "pedal_a", "noise_full_rms");
    assert_eq!(
        (code, &noise["outcome"]),
        (Some(1), &json!("fail")),
        "{noise}"
    );
}

/// The good dial of 10 kohm under 2.2 and under 10 kohm in place of 4.7: by Ohm's law its track over the pull-up, r/(1-r), is other by
/// one factor. The part is not blamed.
#[test]
fn a_good_dial_under_another_pull_up_is_not_blamed() {
    let dir = tempfile::tempdir().unwrap();
    for (ohm, words) in [(2200.0, "2.2 kohm"), (10_000.0, "10 kohm")] {
        let under = |table: &str| {
            rows(table, |mut row| {
                let ratio = (row.code(0) + 0.5) / 1024.0;
                let over = ratio / (1.0 - ratio) * 4700.0 / ohm;
                let now = (over / (1.0 + over) * 1024.0).floor();
                let by = now - row.code(0);
                row.add(0, by);
                Some(row)
            })
        };
        let (code, answer) = assessed(dir.path(), "T1-dial", under);
        assert_eq!(code, Some(1));
        let headline = answer["headline"].as_str().unwrap();
        assert!(!headline.starts_with("DO NOT FIT"), "{headline}");
        let causes = answer["causes"].as_array().unwrap();
        let told = causes
            .iter()
            .find(|cause| cause["cause"] == "wrong-profile");
        let told = told.unwrap_or_else(|| panic!("{ohm}: {causes:?}"));
        let apart = told["tell_apart"].as_str();
        assert!(apart.is_none_or(|apart| apart.contains(words)), "{told}");
        let kind = serde_json::to_string(told).unwrap();
        assert!(kind.contains("pull-up"), "{kind}");
    }
}
