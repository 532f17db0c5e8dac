//! The SQL of `docs/workshop.md`, run by an existing engine (the `PyPI` package `duckdb`) on the records and captures of the trolleys.
//!
//! Ignored by plain `cargo test`, since it needs that package; `.ci/run` installs it and runs this with
//! `PYTHON=... cargo test --test suite duckdb:: -- --ignored`.

mod mess;

use crate::support::program::{pedalproof, stderr};
use crate::support::tools;
use serde_json::{Value, json};
use std::path::Path;
use std::process::Command;

/// Prints the rows of each query as JSON, and nothing else: a slow query would draw its progress on the same stdout.
const ASK: &str = r"
import duckdb, json, sys
duckdb.sql('SET enable_progress_bar = false')
print(json.dumps([duckdb.sql(query).fetchall() for query in json.load(sys.stdin)], default=str))
";

/// The SQL blocks of the page, in order.
fn queries() -> Vec<&'static str> {
    let blocks = include_str!("../../../docs/workshop.md")
        .split("```sql\n")
        .skip(1);
    blocks
        .map(|rest| rest.split("```").next().unwrap())
        .collect()
}

/// The rows of the first so many queries.
fn ask(dir: &Path, first: usize) -> Vec<Vec<Value>> {
    let python = tools::python();
    let queries = &queries()[..first];
    std::fs::write(
        dir.join("queries.json"),
        serde_json::to_string(queries).unwrap(),
    )
    .unwrap();
    let ran = Command::new(&python)
        .args(["-c", ASK])
        .current_dir(dir)
        .stdin(std::fs::File::open(dir.join("queries.json")).unwrap())
        .output()
        .unwrap();
    assert!(
        ran.status.success(),
        "{python}: {}",
        String::from_utf8_lossy(&ran.stderr)
    );
    serde_json::from_slice(&ran.stdout).unwrap()
}

#[test]
#[ignore = "needs the PyPI package duckdb: .ci/run installs it"]
fn the_sql_of_the_readme_answers() {
    let dir = tempfile::tempdir().unwrap();
    assert!(pedalproof(dir.path(), "examples trolleys").status.success());
    // Parts are kept; what was recorded of T1's flashed board is no part.
    let is_part = |name: &str| {
        let csv = Path::new(name).extension().is_some_and(|end| end == "csv");
        csv && !name.starts_with("T1-output") && !name.starts_with("T1-faults")
    };
    let entries = std::fs::read_dir(dir.path().join("trolleys")).unwrap();
    let names = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap());
    let parts = names.filter(|name| is_part(name));
    let parts: Vec<String> = parts.map(|name| format!("trolleys/{name}")).collect();
    let assess = ["assess"]
        .into_iter()
        .chain(parts.iter().map(String::as_str));
    let kept = pedalproof(dir.path(), &assess.chain(["--keep"]).collect::<Vec<_>>());
    assert_eq!(kept.status.code(), Some(1), "{}", stderr(&kept));
    let answers = ask(dir.path(), queries().len());
    // By the scenario: T2's pedal sticks, T4's dial is loose, T3's lever is worn by 2026 (its newest record).
    assert_eq!(
        answers[0],
        [
            json!(["hall pedal, two tracks, half slope", 2, 1]),
            json!(["rheostat dial with pull-up", 2, 1]),
            json!(["shunting lever, three-wire", 2, 1]),
        ]
    );
    // Only the lever of T3 has more than one record: five seasons. The slope against one worked out here.
    assert_eq!(answers[1].len(), 1, "{:?}", answers[1]);
    assert_eq!(answers[1][0][0], "t3-lever");
    assert_eq!(answers[1][0][2], 5);
    let slope = slope(&points(dir.path()));
    let answered = answers[1][0][3].as_f64().unwrap();
    assert!(
        (answered - slope).abs() < 1e-9 * slope.abs().max(1.0),
        "{answered} {slope}"
    );
    // Every sample of the capture, counted by step.
    let csv = std::fs::read_to_string(dir.path().join("trolleys/T3-lever-2026.csv")).unwrap();
    for row in &answers[2] {
        let step = format!(",{},", row[0].as_str().unwrap());
        let samples = csv.lines().filter(|line| line.contains(&step)).count();
        assert_eq!(row[1].as_u64().unwrap(), samples as u64, "{step}");
    }
    assert_eq!(answers[2].len(), 6);
}

/// (years since 1970, return scatter) of each record of T3's lever.
fn points(dir: &Path) -> Vec<(f64, f64)> {
    let files = std::fs::read_dir(dir.join("records")).unwrap();
    let records = files.map(|file| std::fs::read(file.unwrap().path()).unwrap());
    let records = records.map(|bytes| serde_json::from_slice::<Value>(&bytes).unwrap());
    let lever = records.filter(|record| record["assessment"]["unit"]["tag"] == "T3-lever");
    lever
        .map(|record| {
            let taken: jiff::Timestamp = record["taken"].as_str().unwrap().parse().unwrap();
            // 31 556 952 s: the mean year of the Gregorian calendar, 365.2425 days.
            let years = f64::from(u32::try_from(taken.as_second()).unwrap()) / 31_556_952.0;
            let figure = &record["assessment"]["channels"]["lever"]["figures"]["return_scatter"];
            (years, figure["value"].as_f64().unwrap())
        })
        .collect()
}

/// Least-squares slope.
fn slope(points: &[(f64, f64)]) -> f64 {
    let n = f64::from(u32::try_from(points.len()).unwrap());
    let mean = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / n;
    let (x, y) = (mean(|p| p.0), mean(|p| p.1));
    let up: f64 = points.iter().map(|p| (p.0 - x) * (p.1 - y)).sum();
    up / points.iter().map(|p| (p.0 - x).powi(2)).sum::<f64>()
}
