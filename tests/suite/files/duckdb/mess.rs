//! The README's first two queries on a thousand records of a messy shed: copies, the same recording under two profiles, profiles that
//! changed, tags that differ by blanks and capitals, dates that are missing, of 1970, of the future, or no dates at all, records without
//! the figure. The right answers are counted here while the mess is made.

use super::ask;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;

/// Days of May of a year from 2018 on, one a season.
fn taken(season: usize) -> String {
    format!("{}-05-01T10:00:00Z", 2018 + season)
}

/// Writes records as a shed keeps them, each in a file of its own.
struct Shed<'a> {
    folder: &'a Path,
    files: usize,
}

impl Shed<'_> {
    fn keep(
        &mut self,
        tag: &str,
        profile: &str,
        verdict: &str,
        times: (Value, &str),
        sum: &str,
        scatter: Option<f64>,
    ) {
        let figure = scatter.map(|value| json!({ "value": value, "unit": "code", "u": 0.1, "low": value - 0.2, "high": value + 0.2, "n": 9, "method": "made" }));
        let record = json!({
            "format": "record/1", "kept": times.1, "taken": times.0, "program": "made",
            "board": { "name": "b", "bits": 10, "vref_mv": 5000.0, "rate_hz": 1000.0 },
            "assessment": {
                "format": "assessment/1", "verdict": verdict,
                "capture": { "file": "a.csv", "sha256": sum, "samples": 9, "duration_s": 1.0, "rejected": {}, "missing": 0 },
                "unit": { "tag": tag, "profile": profile },
                "channels": { "lever": { "figures": { "return_scatter": figure }, "worn_zones": [], "dropouts": [] } },
                "pairs": {}, "findings": [],
            },
        });
        self.files += 1;
        let path = self.folder.join(format!("r{}.json", self.files));
        std::fs::write(path, record.to_string()).unwrap();
    }
}

#[test]
#[ignore = "needs the PyPI package duckdb: .ci/run installs it"]
fn the_recipes_are_right_on_a_thousand_messy_records() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("records");
    std::fs::create_dir(&folder).unwrap();
    let mut shed = Shed {
        folder: &folder,
        files: 0,
    };
    let mut units: BTreeMap<&str, [usize; 2]> = BTreeMap::new();
    let mut slopes: BTreeMap<String, (usize, f64)> = BTreeMap::new();
    for unit in 0..200_usize {
        let tag = format!("T{unit:03}-lever");
        // Half of them were checked as another kind at first: only the last counts.
        let (first, last) = if unit.is_multiple_of(2) {
            ("old lever", "lever")
        } else {
            ("lever", "lever")
        };
        let slope = unit as f64 / 100.0;
        for season in 0..4_usize {
            let newest = season == 3;
            let profile = if newest { last } else { first };
            let fails = if newest {
                unit.is_multiple_of(5)
            } else {
                unit.is_multiple_of(3)
            };
            let verdict = if fails { "fail" } else { "pass" };
            let written = match (unit % 7, season) {
                (1, 1) => tag.to_uppercase(),
                (2, 2) => format!(" {tag} "),
                (3, 0) => tag.replace('-', " -"),
                _ => tag.clone(),
            };
            let day = taken(season);
            let sum = format!("{unit}-{season}");
            let scatter = Some(1.0 + slope * season as f64);
            shed.keep(
                &written,
                profile,
                verdict,
                (json!(day), &day),
                &sum,
                scatter,
            );
            // A copy of the file; or the same recording checked as another kind before.
            if unit.is_multiple_of(11) && season == 1 {
                shed.keep(
                    &written,
                    profile,
                    verdict,
                    (json!(day), &day),
                    &sum,
                    scatter,
                );
            }
            if unit.is_multiple_of(13) && newest {
                shed.keep(
                    &written,
                    "wrong kind",
                    "fail",
                    (json!(day), "2020-01-01T00:00:00Z"),
                    &sum,
                    scatter,
                );
            }
        }
        let of = units.entry(last).or_default();
        *of = [of[0] + 1, of[1] + usize::from(unit.is_multiple_of(5))];
        slopes.insert(tag.to_lowercase(), (4, slope));
        // A clock that was wrong, a date that is none, and no date: none of them is the newest, and none moves a trend.
        let odd = |kind: &str| format!("{unit}-{kind}");
        match unit % 10 {
            4 => shed.keep(
                &tag,
                "lever",
                "fail",
                (json!("2099-01-01T00:00:00Z"), "2019-01-01T00:00:00Z"),
                &odd("future"),
                Some(9.0),
            ),
            5 => shed.keep(
                &tag,
                "lever",
                "fail",
                (json!("1970-01-01T00:00:09Z"), "2019-02-01T00:00:00Z"),
                &odd("old"),
                Some(9.0),
            ),
            6 => shed.keep(
                &tag,
                "lever",
                "fail",
                (json!("last spring"), "2019-03-01T00:00:00Z"),
                &odd("words"),
                Some(9.0),
            ),
            7 => shed.keep(
                &tag,
                "lever",
                "fail",
                (Value::Null, "2019-04-01T00:00:00Z"),
                &odd("none"),
                Some(9.0),
            ),
            8 => shed.keep(
                &tag,
                "lever",
                "fail",
                (json!("2019-05-02T00:00:00Z"), "2019-05-02T00:00:00Z"),
                &odd("blank"),
                None,
            ),
            _ => {}
        }
    }
    // Parts with one record each, to a thousand files and beyond.
    let mut more = 0;
    while shed.files < 1000 {
        more += 1;
        shed.keep(
            &format!("spare {more}"),
            "dial",
            "pass",
            (json!(taken(2)), &taken(2)),
            &format!("spare-{more}"),
            Some(1.0),
        );
    }
    units.insert("dial", [more, 0]);
    let answers = ask(dir.path(), 2);
    let told: BTreeMap<&str, [usize; 2]> = answers[0]
        .iter()
        .map(|row| {
            (
                row[0].as_str().unwrap(),
                [
                    row[1].as_u64().unwrap() as usize,
                    row[2].as_u64().unwrap() as usize,
                ],
            )
        })
        .collect();
    assert_eq!(told, units);
    let mut wrong = String::new();
    for row in &answers[1] {
        let (tag, n, told) = (
            row[0].as_str().unwrap(),
            row[2].as_u64().unwrap() as usize,
            row[3].as_f64().unwrap(),
        );
        let (records, slope) = slopes.remove(tag).unwrap_or((0, f64::NAN));
        // Four Mays, one of them after a leap day: a year and a day's share of it apart.
        if n != records || (told - slope).abs() > 0.003 * slope.max(0.1) {
            let _ = writeln!(
                wrong,
                "{tag}: {n} records, {told} a year, not {records} and {slope}"
            );
        }
    }
    assert!(wrong.is_empty() && slopes.is_empty(), "{wrong}{slopes:?}");
}
