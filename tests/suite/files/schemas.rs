//! Every format that is written, held against its own schema: `schema FORMAT` says what comes.
//!
//! By a validator of Rust here, by one of another language in `.ci/run` (the `PyPI` package `jsonschema`):
//! `PYTHON=... cargo test --test suite schemas:: -- --ignored`.

use crate::support::program::{pedalproof, stderr, stdout};
use crate::support::tools;
use serde_json::Value;
use std::path::Path;
use std::process::Command;

/// How many of them.
#[derive(PartialEq, Eq)]
enum Share {
    /// One or more of each format.
    Quick,
    All,
}

/// Real outputs of the program on its examples, with the format of each.
fn outputs(dir: &Path, share: &Share) -> Vec<(&'static str, String)> {
    let run = |line: &str| {
        let output = pedalproof(dir, line);
        assert!(
            matches!(output.status.code(), Some(0 | 1 | 3)),
            "{line}: {}",
            stderr(&output)
        );
        stdout(&output)
    };
    run("examples .");
    let read = |name: &str| std::fs::read_to_string(dir.join(name)).unwrap();
    let mut all = vec![
        ("assessment/1", run("assess T1-pedal.csv --json")),
        ("assessment/1", run("assess T2-pedal.csv --json --keep")),
        ("assessment/1", run("assess T1-output.csv --json")),
        (
            "blend/1",
            run("blend --block T1.block.json --at pedal=512,dial=300 --at pedal=0 --json"),
        ),
        ("block/2", read("T1.block.json")),
        ("block/2", run("constants --read T1.block.json --json")),
        ("capture/1", read("T4-dial.csv-metadata.json")),
        ("capture/1", read("T1-lever-stations.csv-metadata.json")),
        (
            "constants/1",
            run("constants T1-pedal.csv T1-dial.csv --json"),
        ),
        ("history/1", run("history T2-pedal --json")),
        ("machine/1", read("T1.json")),
        ("machine/1", read("T3.json")),
        (
            "proof/1",
            run("prove --block T1.block.json T1-output.csv --json"),
        ),
        ("proof-marks/2", read("T1-faults.csv.proof.json")),
        ("standing/1", run("machine T1.json --json")),
        ("standing/1", run("machine T3.json --json")),
        ("units/1", run("history --json")),
        ("wiring/1", run("wiring dial-rheostat --json")),
    ];
    if *share == Share::All {
        for season in ["2022", "2024", "2026"] {
            run(&format!("assess T3-lever-{season}.csv --keep"));
        }
        for (format, line) in [
            ("assessment/1", "assess T3-lever-2026.csv --json"),
            ("assessment/1", "assess T1-lever-stations.csv --json"),
            ("history/1", "history T3-lever --json"),
            (
                "proof/1",
                "prove --block T1.block.json T1-faults.csv --json",
            ),
            ("wiring/1", "wiring pedal-hall-two-track --json"),
        ] {
            all.push((format, run(line)));
        }
    }
    for (name, text) in pedalproof::profile::BUILT_IN {
        assert!(!name.is_empty());
        all.push(("profile/1", (*text).to_owned()));
    }
    let records = std::fs::read_dir(dir.join("records")).unwrap();
    for record in records {
        all.push((
            "record/1",
            std::fs::read_to_string(record.unwrap().path()).unwrap(),
        ));
    }
    all
}

fn schema(dir: &Path, format: &str) -> String {
    stdout(&pedalproof(dir, &format!("schema {format}")))
}

#[test]
fn what_is_written_is_what_its_schema_says() {
    let dir = tempfile::tempdir().unwrap();
    let all = outputs(dir.path(), &Share::Quick);
    for (format, text) in &all {
        let schema: Value = serde_json::from_str(&schema(dir.path(), format)).unwrap();
        let validator = jsonschema::validator_for(&schema).unwrap();
        let value: Value = serde_json::from_str(text).unwrap();
        let wrong: Vec<String> = validator
            .iter_errors(&value)
            .map(|e| format!("{}: {e:.200}", e.instance_path))
            .collect();
        assert!(wrong.is_empty(), "{format}: {wrong:#?}");
        // A schema that lets anything through says nothing.
        for nothing in [
            serde_json::json!({}),
            serde_json::json!({ "format": format }),
        ] {
            assert!(!validator.is_valid(&nothing), "{format} takes {nothing}");
        }
    }
    let help = stdout(&pedalproof(dir.path(), "schema --help"));
    let page = include_str!("../../../docs/formats.md");
    let tried = |format: &str| all.iter().any(|(tried, _)| *tried == format);
    for word in help.split_whitespace() {
        let word = word.trim_matches(['-', ':', ',', '[', ']']);
        let named = word
            .split_once('/')
            .is_some_and(|(_, n)| n.parse::<u8>().is_ok());
        assert!(
            !named || tried(word),
            "no output of {word} is held against it"
        );
        assert!(
            !named || page.contains(&format!("`{word}`")),
            "docs/formats.md does not name {word}"
        );
    }
}

/// Says what is wrong with each, and that each without a member that it needs is refused.
const VALIDATE: &str = r#"
import json, pathlib, sys
from jsonschema import validators
for schema in sorted(pathlib.Path(sys.argv[1]).glob("*.schema")):
    schema_value = json.loads(schema.read_text())
    cls = validators.validator_for(schema_value)
    cls.check_schema(schema_value)
    check = cls(schema_value)
    value = json.loads(schema.with_suffix(".json").read_text())
    wrong = [f"{list(e.absolute_path)}: {e.message[:200]}" for e in check.iter_errors(value)]
    assert not wrong, (schema.name, wrong)
    assert not check.is_valid({}), schema.name
    print("held")
"#;

/// By another language's validator.
#[test]
#[ignore = "needs the PyPI package jsonschema; .ci/run has it"]
fn what_is_written_is_what_its_schema_says_in_python() {
    let dir = tempfile::tempdir().unwrap();
    let all = outputs(dir.path(), &Share::All);
    let pairs = dir.path().join("pairs");
    std::fs::create_dir(&pairs).unwrap();
    for (at, (format, text)) in all.iter().enumerate() {
        std::fs::write(pairs.join(format!("{at}.json")), text).unwrap();
        let schema = schema(dir.path(), format);
        std::fs::write(pairs.join(format!("{at}.schema")), schema).unwrap();
    }
    let python = tools::python();
    let ran = Command::new(&python)
        .args(["-c", VALIDATE])
        .arg(&pairs)
        .output()
        .unwrap();
    assert!(ran.status.success(), "{python}: {}", stderr(&ran));
    assert_eq!(stdout(&ran).matches("held").count(), all.len());
}
