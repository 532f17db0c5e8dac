//! The outside references are used: every file of `tests/reference/` has a row in docs/references.md that names the tests that
//! read it and the parts that none reads.

use serde_json::Value;
use std::path::Path;

struct Row {
    tests: Vec<String>,
    unused: String,
}

/// The row `| NN-name | what is checked | tests | not used |` of a file.
fn row(table: &str, stem: &str) -> Row {
    let start = format!("| {stem} |");
    let line = table.lines().find(|line| line.starts_with(&start));
    let line = line.unwrap_or_else(|| panic!("no row for {stem}"));
    let cells: Vec<&str> = line.split('|').map(str::trim).collect();
    let quoted = cells[3].split('`').skip(1).step_by(2);
    Row {
        tests: quoted.map(str::to_owned).collect(),
        unused: cells[4].to_owned(),
    }
}

#[test]
fn every_reference_is_checked_or_said_not_to_be() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let read = |path: &str| {
        std::fs::read_to_string(root.join(path)).unwrap_or_else(|why| panic!("{path}: {why}"))
    };
    let table = read("docs/references.md");
    let mut seen = 0;
    for entry in std::fs::read_dir(root.join("tests/reference")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|extension| extension != "json") {
            continue;
        }
        let stem = path.file_stem().unwrap().to_str().unwrap();
        let row = row(&table, stem);
        let sources: Vec<String> = row.tests.iter().map(|test| read(test)).collect();
        for (test, source) in row.tests.iter().zip(&sources) {
            assert!(source.contains(stem), "{test} does not read {stem}");
        }
        if row.tests.is_empty() {
            assert!(row.unused.len() > 20, "{stem}: say why no test reads it");
        } else {
            let file = serde_json::from_str(&std::fs::read_to_string(&path).unwrap()).unwrap();
            every_part(stem, &file, &row, &sources.concat());
        }
        seen += 1;
    }
    assert!(seen >= 33, "{seen}");
}

/// Every part of `expected` is named in the tests or in the row, and not in both. Parts named after a data set of `inputs`
/// or after a number are walked through by the tests.
fn every_part(stem: &str, file: &Value, row: &Row, source: &str) {
    let inputs = file["inputs"].to_string();
    let Some(parts) = file["expected"].as_object() else {
        return;
    };
    for part in parts.keys() {
        let word = part
            .bytes()
            .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_');
        if !word || part.as_bytes()[0].is_ascii_digit() || inputs.contains(&format!("\"{part}\"")) {
            continue;
        }
        let used = source.contains(&format!("\"{part}\""));
        let said = row.unused.contains(&format!("`{part}`"));
        assert!(
            used != said,
            "{stem} {part}: used {used}, said not to be used {said}"
        );
    }
}
