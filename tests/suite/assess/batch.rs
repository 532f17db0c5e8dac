//! `assess` of many captures through the real program: side by side, bad ones named, the exit code the worst.

use crate::support::program::{changed, example, pedalproof, stderr, stdout};
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;

fn copy(dir: &Path, name: &str) {
    changed(dir, name, name, |text| text, |text| text);
}

#[test]
fn a_folder_gives_a_line_each_and_the_worst_exit_code() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("bench");
    std::fs::create_dir(&folder).unwrap();
    let code = |arguments: &[&str]| {
        let ran = pedalproof(dir.path(), &[&["assess"], arguments].concat());
        (ran.status.code().unwrap(), stdout(&ran), stderr(&ran))
    };
    copy(&folder, "T1-pedal");
    copy(&folder, "T1-dial");
    // A CSV that is no capture is not taken from a folder.
    std::fs::write(folder.join("prices.csv"), "a,b\n1,2\n").unwrap();
    let (rc, table, said) = code(&["bench"]);
    assert_eq!((rc, said.as_str()), (0, ""));
    let lines: Vec<&str> = table.lines().collect();
    assert_eq!(lines[0], "2 recordings: all fit.");
    assert!(lines.contains(&"in bench"), "{table}");
    let line = |name: &str| {
        let mut lines = lines.iter().filter(|line| line.starts_with(name));
        lines.next().unwrap().to_string()
    };
    assert!(line("T1-dial.csv ").contains("FIT IT: "), "{table}");
    assert!(
        line("T1-pedal.csv ").contains("FIT IT: all 14 checks passed"),
        "{table}"
    );
    copy(&folder, "T1-lever-stations");
    let (rc, table, _) = code(&["bench"]);
    assert_eq!(rc, 3);
    assert!(
        table.starts_with("3 recordings: 2 fit. Not decided (1): T1-lever.\n"),
        "{table}"
    );
    copy(&folder, "T4-dial");
    let (rc, table, _) = code(&["bench"]);
    assert_eq!(rc, 1);
    assert!(
        table.contains(" Failed (1): T4-dial.") && table.contains("DO NOT FIT: "),
        "{table}"
    );
}

#[test]
fn one_bad_file_is_named_and_stops_nobody() {
    let dir = tempfile::tempdir().unwrap();
    std::fs::create_dir(dir.path().join("empty")).unwrap();
    copy(dir.path(), "T1-dial");
    copy(dir.path(), "T4-dial");
    changed(
        dir.path(),
        "T1-dial",
        "broken",
        |text| text,
        |text| text.replacen(",rest,", ",nap,", 1),
    );
    let ran = pedalproof(
        dir.path(),
        "assess T4-dial.csv broken.csv nowhere.csv empty T1-dial.csv",
    );
    assert_eq!(ran.status.code(), Some(2), "{}", stderr(&ran));
    for said in [
        "broken.csv",
        "nap",
        "nowhere.csv",
        "empty: there is no recording",
        "3 of 5",
    ] {
        assert!(stderr(&ran).contains(said), "{said}: {}", stderr(&ran));
    }
    let table = stdout(&ran);
    let at = |name: &str| table.find(name).unwrap();
    assert!(
        at("T4-dial.csv") < at("T1-dial.csv"),
        "in the order asked for: {table}"
    );
    assert!(
        table.starts_with("5 recordings: 1 fits. Failed (1): T4-dial. 3 could not be assessed.\n"),
        "{table}"
    );
    // A folder on its own without a capture.
    assert_eq!(
        pedalproof(dir.path(), "assess empty").status.code(),
        Some(2)
    );
}

#[test]
fn json_is_an_assessment_a_line_the_same_as_alone() {
    let names = ["T2-pedal", "T1-dial", "T3-lever-2026"].map(example);
    let paths: Vec<&str> = names.iter().map(|path| path.to_str().unwrap()).collect();
    let dir = tempfile::tempdir().unwrap();
    let ran = pedalproof(dir.path(), &[&["assess", "--json"], &paths[..]].concat());
    assert_eq!(ran.status.code(), Some(1));
    let lines: Vec<Value> = stdout(&ran)
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    assert_eq!(lines.len(), 3);
    for (path, line) in paths.iter().zip(&lines) {
        let alone: Value = serde_json::from_str(&stdout(&pedalproof(
            dir.path(),
            &format!("assess {path} --json"),
        )))
        .unwrap();
        assert_eq!(*line, alone);
    }
}

#[test]
fn records_of_all_are_kept() {
    let dir = tempfile::tempdir().unwrap();
    let captures = Path::new(env!("CARGO_MANIFEST_DIR")).join("captures");
    let ran = pedalproof(
        dir.path(),
        &["assess", captures.to_str().unwrap(), "--keep"],
    );
    assert_eq!(ran.status.code(), Some(1), "{}", stderr(&ran));
    let kept = std::fs::read_dir(dir.path().join("records"))
        .unwrap()
        .count();
    assert_eq!(kept, 10);
    let listed = stdout(&pedalproof(dir.path(), "history"));
    assert!(
        listed.contains("T3-lever") && listed.contains("T2-pedal"),
        "{listed}"
    );
}

/// Every number of the table is that of the JSON, read by another program's reader.
#[test]
fn a_table_for_spreadsheets_says_what_the_json_says() {
    let names = ["T2-pedal", "T1-dial"].map(example);
    let paths: Vec<&str> = names.iter().map(|path| path.to_str().unwrap()).collect();
    let dir = tempfile::tempdir().unwrap();
    let ran = pedalproof(
        dir.path(),
        &[&["assess", "--keep", "--format", "csv"], &paths[..]].concat(),
    );
    assert_eq!(ran.status.code(), Some(1), "{}", stderr(&ran));
    let table = stdout(&ran);
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let rows: Vec<BTreeMap<String, String>> =
        reader.deserialize().collect::<Result<_, _>>().unwrap();
    let json = stdout(&pedalproof(
        dir.path(),
        &[&["assess", "--json"], &paths[..]].concat(),
    ));
    let mut figures = 0;
    for (line, name) in json.lines().zip(["T2-pedal.csv", "T1-dial.csv"]) {
        let all: Value = serde_json::from_str(line).unwrap();
        let parts = ["channels", "pairs"].map(|part| all[part].as_object().unwrap());
        for (channel, part) in parts.into_iter().flatten() {
            for (figure, want) in part["figures"].as_object().unwrap() {
                figures += 1;
                let is = |row: &&BTreeMap<String, String>| {
                    row["capture"] == name && row["channel"] == *channel && row["figure"] == *figure
                };
                let row = rows.iter().find(is).unwrap();
                for key in ["value", "u", "low", "high", "n"] {
                    assert_eq!(
                        row[key].parse().ok(),
                        want[key].as_f64(),
                        "{name} {channel} {figure} {key}"
                    );
                }
                let of = |finding: &&Value| {
                    finding["channel"] == **channel && finding["figure"] == **figure
                };
                let finding = all["findings"].as_array().unwrap().iter().find(of);
                let outcome = finding.map_or("", |finding| finding["outcome"].as_str().unwrap());
                assert_eq!(row["outcome"], outcome, "{name} {channel} {figure}");
                assert_eq!(
                    row["max"].parse().ok(),
                    finding.and_then(|finding| finding["max"].as_f64())
                );
            }
        }
    }
    assert!(
        figures > 60 && rows.len() == figures,
        "{figures} {}",
        rows.len()
    );
    for (line, column, want) in [
        ("history --format csv", "tag", "T1-dial"),
        ("history T2-pedal --format csv", "figure", "return_scatter"),
    ] {
        let table = stdout(&pedalproof(dir.path(), line));
        let mut reader = csv::Reader::from_reader(table.as_bytes());
        let mut rows = reader.deserialize::<BTreeMap<String, String>>();
        assert!(
            rows.any(|row| row.unwrap()[column] == want),
            "{line}: {table}"
        );
    }
    let list = stdout(&pedalproof(dir.path(), "history --json"));
    let list: Value = serde_json::from_str(&list).unwrap();
    assert_eq!(list["format"], "units/1");
    assert_eq!(list["units"].as_array().unwrap().len(), 2);
}

/// A board's output, say, lies among the parts.
#[test]
fn a_recording_of_no_part_is_judged_and_not_kept() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("bench");
    std::fs::create_dir(&folder).unwrap();
    copy(&folder, "T1-dial");
    changed(
        &folder,
        "T1-dial",
        "loose",
        |text| text.replace("\"tag\": \"T1-dial\",", ""),
        |text| text,
    );
    let ran = pedalproof(dir.path(), "assess bench --keep");
    let said = stderr(&ran);
    assert_eq!(ran.status.code(), Some(0), "{said}");
    assert!(
        said.contains("loose.csv: not kept: this recording names no part")
            && said.contains("kept: "),
        "{said}"
    );
    let kept = std::fs::read_dir(dir.path().join("records")).unwrap();
    assert_eq!(kept.count(), 1);
}

#[test]
fn a_figure_is_explained_with_one_capture_only() {
    let dir = tempfile::tempdir().unwrap();
    copy(dir.path(), "T1-dial");
    copy(dir.path(), "T4-dial");
    let ran = pedalproof(
        dir.path(),
        "assess T1-dial.csv T4-dial.csv --explain hysteresis",
    );
    assert_eq!(ran.status.code(), Some(2));
    assert!(stderr(&ran).contains("one recording"), "{}", stderr(&ran));
}
