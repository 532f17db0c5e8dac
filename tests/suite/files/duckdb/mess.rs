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

/// A record to be kept.
struct Visit<'a> {
    tag: &'a str,
    profile: &'a str,
    fails: bool,
    /// As the record has it, and when it was kept.
    taken: Value,
    kept: &'a str,
    sum: String,
    scatter: Option<f64>,
}

/// Records as a shed keeps them, each in a file of its own, and what is right of them.
struct Shed<'a> {
    folder: &'a Path,
    files: usize,
    /// By profile: units, and those that failed last.
    units: BTreeMap<&'static str, [usize; 2]>,
    /// By tag: records of which the figure is known and dated, and its slope a year.
    slopes: BTreeMap<String, (usize, f64)>,
}

impl Shed<'_> {
    fn keep(&mut self, kept: &Visit<'_>) {
        let figure = kept.scatter.map(|value| json!({ "value": value, "unit": "code", "u": 0.1, "low": value - 0.2, "high": value + 0.2, "n": 9, "method": "made" }));
        let record = json!({
            "format": "record/1", "kept": kept.kept, "taken": kept.taken, "program": "made",
            "board": { "name": "b", "bits": 10, "vref_mv": 5000.0, "rate_hz": 1000.0 },
            "assessment": {
                "format": "assessment/1", "verdict": if kept.fails { "fail" } else { "pass" },
                "capture": { "file": "a.csv", "sha256": kept.sum, "samples": 9, "duration_s": 1.0, "rejected": {}, "missing": 0 },
                "unit": { "tag": kept.tag, "profile": kept.profile },
                "channels": { "lever": { "figures": { "return_scatter": figure }, "worn_zones": [], "dropouts": [] } },
                "pairs": {}, "findings": [],
            },
        });
        self.files += 1;
        let path = self.folder.join(format!("r{}.json", self.files));
        std::fs::write(path, record.to_string()).unwrap();
    }

    /// A lever over four seasons. Half of them were checked as another kind at first: only the last counts.
    fn lever(&mut self, unit: usize) {
        let tag = format!("T{unit:03}-lever");
        let slope = unit as f64 / 100.0;
        for season in 0..4_usize {
            let newest = season == 3;
            let written = match (unit % 7, season) {
                (1, 1) => tag.to_uppercase(),
                (2, 2) => format!(" {tag} "),
                (3, 0) => tag.replace('-', " -"),
                _ => tag.clone(),
            };
            let day = taken(season);
            let kept = Visit {
                tag: &written,
                profile: if unit.is_multiple_of(2) && !newest {
                    "old lever"
                } else {
                    "lever"
                },
                fails: unit.is_multiple_of(if newest { 5 } else { 3 }),
                taken: json!(day),
                kept: &day,
                sum: format!("{unit}-{season}"),
                scatter: Some(1.0 + slope * season as f64),
            };
            self.keep(&kept);
            // A copy of the file; or the same recording checked as another kind before.
            if unit.is_multiple_of(11) && season == 1 {
                self.keep(&kept);
            }
            if unit.is_multiple_of(13) && newest {
                self.keep(&Visit {
                    profile: "wrong kind",
                    fails: true,
                    kept: "2020-01-01T00:00:00Z",
                    ..kept
                });
            }
        }
        let of = self.units.entry("lever").or_default();
        *of = [of[0] + 1, of[1] + usize::from(unit.is_multiple_of(5))];
        self.slopes.insert(tag.to_lowercase(), (4, slope));
        self.odd(unit, &tag);
    }

    /// A clock that was wrong, a date that is none, and no date: none of them is the newest, and none moves a trend; nor does a record
    /// without the figure.
    fn odd(&mut self, unit: usize, tag: &str) {
        let (taken, scatter) = match unit % 10 {
            4 => (json!("2099-01-01T00:00:00Z"), Some(9.0)),
            5 => (json!("1970-01-01T00:00:09Z"), Some(9.0)),
            6 => (json!("last spring"), Some(9.0)),
            7 => (Value::Null, Some(9.0)),
            8 => (json!("2019-05-02T00:00:00Z"), None),
            _ => return,
        };
        let sum = format!("{unit}-odd");
        self.keep(&Visit {
            tag,
            profile: "lever",
            fails: true,
            taken,
            kept: "2019-05-02T00:00:00Z",
            sum,
            scatter,
        });
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
        units: BTreeMap::new(),
        slopes: BTreeMap::new(),
    };
    (0..200).for_each(|unit| shed.lever(unit));
    // Parts with one record each, to a thousand files.
    let mut more = 0;
    while shed.files < 1000 {
        more += 1;
        let (tag, day, sum) = (format!("spare {more}"), taken(2), format!("spare-{more}"));
        shed.keep(&Visit {
            tag: &tag,
            profile: "dial",
            fails: false,
            taken: json!(day),
            kept: &day,
            sum,
            scatter: Some(1.0),
        });
    }
    let Shed {
        mut units,
        mut slopes,
        ..
    } = shed;
    units.insert("dial", [more, 0]);
    let answers = ask(dir.path(), 2);
    let count = |cell: &Value| cell.as_u64().unwrap() as usize;
    let told: BTreeMap<&str, [usize; 2]> = answers[0]
        .iter()
        .map(|row| (row[0].as_str().unwrap(), [count(&row[1]), count(&row[2])]))
        .collect();
    assert_eq!(told, units);
    let mut wrong = String::new();
    for row in &answers[1] {
        let (tag, n, told) = (
            row[0].as_str().unwrap(),
            count(&row[2]),
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
