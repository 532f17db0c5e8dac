//! What `history` says where nothing was compared, where the last visit did not measure, and where a clock was wrong: through the
//! program, with an example recording whose table and metadata are changed.

use crate::support::program::{changed, pedalproof, stderr, stdout};
use serde_json::Value;
use std::path::Path;
use tempfile::TempDir;

const LEVER: &str = "T3-lever-2022";

/// A recording of a part, kept as a record: when it says it was taken, what its channel is called, its reference in millivolts, and what
/// becomes of each step's code (`None`: that sample was not taken).
struct Visit {
    file: &'static str,
    taken: &'static str,
    channel: &'static str,
    vref_mv: u32,
    code: fn(&str, u32) -> Option<u32>,
}

/// As the example recording has it.
const AS_IT_IS: fn(&str, u32) -> Option<u32> = |_, code| Some(code);
/// The whole travel 20 codes higher.
const MOVED: fn(&str, u32) -> Option<u32> = |_, code| Some(code + 20);
/// Half the voltage: fails.
const HALF: fn(&str, u32) -> Option<u32> = |_, code| Some(code / 2);
/// Nothing but its rest, 20 codes higher.
const REST_ALONE: fn(&str, u32) -> Option<u32> = |step, code| (step == "rest").then_some(code + 20);

impl Visit {
    const fn new(file: &'static str, taken: &'static str) -> Self {
        Self {
            file,
            taken,
            channel: "lever",
            vref_mv: 5000,
            code: AS_IT_IS,
        }
    }

    const fn code(self, code: fn(&str, u32) -> Option<u32>) -> Self {
        Self { code, ..self }
    }

    fn keep(&self, dir: &Path) {
        let metadata = |text: String| {
            text.replace(LEVER, self.file)
                .replace("\"lever\"", &format!("\"{}\"", self.channel))
                .replace("2022-04-09T10:00:00Z", self.taken)
                .replace("5000.0", &format!("{}.0", self.vref_mv))
        };
        let table = |text: String| {
            let (head, rows) = text.split_once('\n').unwrap();
            let rows = rows.lines().filter_map(|row| {
                let cells: Vec<&str> = row.trim_end().split(',').collect();
                let code = (self.code)(cells[1], cells[2].parse().unwrap())?;
                Some(format!("{},{},{code}\n", cells[0], cells[1]))
            });
            let rows: String = rows.collect();
            format!("{}\n{rows}", head.replace("lever", self.channel))
        };
        changed(dir, LEVER, self.file, metadata, table);
        let ran = pedalproof(dir, &format!("assess {}.csv --keep", self.file));
        assert!(stderr(&ran).contains("kept:"), "{}", stderr(&ran));
    }
}

/// A folder with the records of these, kept in this order.
fn kept(visits: &[Visit]) -> TempDir {
    let dir = tempfile::tempdir().unwrap();
    for visit in visits {
        visit.keep(dir.path());
    }
    dir
}

/// What is said in text, its lines joined.
fn text(dir: &TempDir, arguments: &str) -> String {
    let said = stdout(&pedalproof(dir.path(), arguments));
    said.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn json(dir: &TempDir, arguments: &str) -> Value {
    serde_json::from_slice(&pedalproof(dir.path(), arguments).stdout).unwrap()
}

/// One track, called `lever` and then `A0`: its move is seen, and nobody edited the profile.
#[test]
fn a_track_called_otherwise_is_the_same_track() {
    let dir = kept(&[
        Visit::new("s1", "2024-04-11T09:30:00Z"),
        Visit {
            channel: "A0",
            ..Visit::new("s2", "2025-04-11T09:30:00Z").code(MOVED)
        },
    ]);
    let said = text(&dir, "history T3-lever");
    assert!(said.contains("Changed since the record before"), "{said}");
    assert!(said.contains("+20.0"), "{said}");
    assert!(
        !said.contains("edited") && !said.contains("teady"),
        "{said}"
    );
    assert!(
        said.contains("`lever` is called `A0` now: taken for the same track"),
        "{said}"
    );
    let list = text(&dir, "history");
    assert!(list.contains("changed"), "{list}");
    let all = json(&dir, "history T3-lever --json");
    let channels: Vec<&Value> = all["series"]
        .as_array()
        .unwrap()
        .iter()
        .map(|series| &series["channel"])
        .collect();
    assert!(channels.iter().all(|channel| *channel == "A0"), "{all}");
}

/// Another reference: neither end can be compared, so it is not steady, and it says why.
#[test]
fn nothing_that_was_not_compared_is_steady() {
    let dir = kept(&[
        Visit::new("v1", "2024-04-11T09:30:00Z"),
        Visit {
            vref_mv: 4900,
            ..Visit::new("v2", "2025-04-11T09:30:00Z").code(|_, code| Some(code | 1))
        },
    ]);
    let said = text(&dir, "history T3-lever");
    assert!(
        said.contains(
            "Could not be compared with the record before: another reference (5000 mV, now 4900 mV)."
        ) && !said.contains("teady"),
        "{said}"
    );
    let list = text(&dir, "history");
    assert!(
        list.contains("not compared") && !list.contains("steady"),
        "{list}"
    );
    let all = json(&dir, "history T3-lever --json");
    assert_eq!(all["course"], "not compared");
    let ends: Vec<&Value> = all["not_compared"].as_array().unwrap().iter().collect();
    let end = |end: &Value| {
        (
            end["channel"].clone(),
            end["end"].clone(),
            end["why"].clone(),
        )
    };
    assert_eq!(
        ends.into_iter().map(end).collect::<Vec<_>>(),
        ["rest", "full"].map(|of| ("lever".into(), of.into(), "other reference".into()))
    );
    assert_eq!(
        json(&dir, "history --json")["units"][0]["course"],
        "not compared"
    );
    // The next with the same reference can be compared.
    Visit {
        vref_mv: 4900,
        ..Visit::new("v3", "2026-04-11T09:30:00Z").code(|_, code| Some(code & !1))
    }
    .keep(dir.path());
    let said = text(&dir, "history T3-lever");
    assert!(said.contains("Steady"), "{said}");
}

/// What changed long ago and stayed is no steady part: somebody should have asked why.
#[test]
fn a_change_of_earlier_that_stayed_is_told() {
    let dir = kept(&[
        Visit::new("v1", "2023-04-11T09:30:00Z"),
        Visit::new("v2", "2024-04-11T09:30:00Z").code(|_, code| Some(code | 1)),
        Visit::new("v3", "2025-04-11T09:30:00Z").code(|_, code| Some((code | 1) + 20)),
        Visit::new("v4", "2026-04-11T09:30:00Z").code(|_, code| Some((code & !1) + 20)),
    ]);
    let said = text(&dir, "history T3-lever");
    assert!(
        said.contains("No change since the record before, but on 2025-04-11 it changed at once, and stayed so: lever rest code and ")
            && !said.contains("Steady"),
        "{said}"
    );
}

/// A change of 2025, and in 2026 a rest alone: the full end is not said to have changed since the record before.
#[test]
fn what_the_last_visit_did_not_measure_changed_when_it_did() {
    let dir = kept(&[
        Visit::new("n1", "2024-04-11T09:30:00Z"),
        Visit::new("n2", "2025-04-11T09:30:00Z").code(MOVED),
        Visit::new("n3", "2026-04-11T09:30:00Z").code(REST_ALONE),
    ]);
    let said = text(&dir, "history T3-lever");
    assert!(!said.contains("Changed since the record before"), "{said}");
    assert!(!said.contains("CHANGED since the record before"), "{said}");
    assert!(
        said.contains("CHANGED on 2025-04-11; not measured since: +20.0"),
        "{said}"
    );
    assert!(
        said.contains("Could not be compared with the record before: lever full end was not measured this time."),
        "{said}"
    );
    let list = text(&dir, "history");
    assert!(list.contains("not compared"), "{list}");
    let all = json(&dir, "history T3-lever --json");
    let series = all["series"].as_array().unwrap();
    let full = series
        .iter()
        .find(|series| series["figure"] == "full_code")
        .unwrap();
    assert_eq!(full["change"], Value::Null);
    assert_eq!(full["jumps"][0]["taken"], "2025-04-11T09:30:00Z");
    assert_eq!(full["not_measured_since"], "2025-04-11T09:30:00Z");
    let rest = series
        .iter()
        .find(|series| series["figure"] == "rest_code")
        .unwrap();
    assert_eq!(rest["not_measured_since"], Value::Null);
}

/// The newest test failed, on a computer whose clock was ahead, or behind: no older pass stands in its place.
#[test]
fn a_failure_by_a_wrong_clock_leaves_no_verdict() {
    for (taken, words) in [
        (
            "2099-01-01T00:10:00Z",
            "the record of f3.csv failed and is set aside, for its date, 2099-01-01, has not come yet. Set the clock of the computer \
             it was taken with, and measure again.",
        ),
        (
            "2020-01-01T00:10:00Z",
            "the record of f3.csv failed; it was kept last and is dated 2020-01-01. If that date is wrong, set the clock of the computer \
             it was taken with; then measure again.",
        ),
    ] {
        let dir = kept(&[
            Visit::new("f1", "2024-04-11T09:30:00Z"),
            Visit::new("f2", "2025-04-11T09:30:00Z").code(|_, code| Some(code + code % 2)),
            Visit::new("f3", taken).code(HALF),
        ]);
        let list = text(&dir, "history");
        assert!(
            list.contains("CLOCK?") && !list.contains("pass") && !list.contains("steady"),
            "{list}"
        );
        let said = text(&dir, "history T3-lever");
        assert!(
            said.contains(&format!("No verdict stands: {words}")),
            "{said}"
        );
        assert!(
            !said.contains("teady") && !said.contains("It passed its last test"),
            "{said}"
        );
        let units = json(&dir, "history --json");
        let unit = &units["units"][0];
        assert_eq!(unit["newest"]["verdict"], Value::Null);
        assert_eq!(unit["doubt"]["capture"], "f3.csv");
        assert_eq!(unit["doubt"]["verdict"], "fail");
        assert_eq!(
            json(&dir, "history T3-lever --json")["doubt"],
            unit["doubt"]
        );
        assert!(text(&dir, "history --find fail").contains("T3-lever"));
        // Measured again with a clock that is right, it passes.
        Visit::new("f4", "2026-04-11T09:30:00Z")
            .code(|_, code| Some(code + 1 - code % 2))
            .keep(dir.path());
        let list = text(&dir, "history");
        assert!(
            list.contains("2026-04-11 pass") && !list.contains("CLOCK"),
            "{list}"
        );
    }
}

/// The same recording assessed again, and seasons assessed in one go, raise no doubt of any clock.
#[test]
fn an_old_recording_assessed_again_is_no_wrong_clock() {
    let dir = kept(&[
        Visit::new("f1", "2024-04-11T09:30:00Z"),
        Visit::new("f2", "2025-04-11T09:30:00Z").code(HALF),
    ]);
    let again = pedalproof(
        dir.path(),
        "assess f1.csv --profile lever-shunting --keep --inl-codes 3",
    );
    assert!(stderr(&again).contains("kept:"), "{}", stderr(&again));
    let list = text(&dir, "history");
    assert!(list.contains("2025-04-11 fail"), "{list}");
    let both = pedalproof(dir.path(), "assess f2.csv f1.csv --keep --records other");
    assert!(stderr(&both).contains("kept:"), "{}", stderr(&both));
    let list = text(&dir, "history --records other");
    assert!(list.contains("2025-04-11 fail"), "{list}");
}
