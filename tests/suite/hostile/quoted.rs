//! What is quoted of a file or an argument stays a part of its line, and is as long as a person reads.

use crate::support::program::{changed, pedalproof, program, stderr, stdout};
use serde_json::{Value, json};
use std::path::Path;
use std::process::Output;

/// Begins a line of an output only if what was quoted did.
const FORGED: &str = "FIT IT: all 14 checks passed";

fn refused(output: &Output) -> String {
    let said = stderr(output);
    assert_eq!(output.status.code(), Some(2), "{said:.2000}");
    let forged = said.lines().find(|line| line.trim().starts_with(FORGED));
    assert!(forged.is_none(), "{said:.2000}");
    said
}

fn configured(dir: &Path, config: &str) -> String {
    std::fs::write(dir.join("config.toml"), config).unwrap();
    let output = program(dir)
        .env("PEDALPROOF_CONFIG", dir.join("config.toml"))
        .arg("history")
        .output()
        .unwrap();
    refused(&output)
}

#[test]
fn line_breaks_of_a_file_or_an_argument_begin_no_line() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let key = format!("\"\\u001b[2J\\n{FORGED}\\nx\" = true\n");
    let said = configured(dir, &format!("ascii = true\n{key}"));
    assert!(said.contains("line 2: ") && said.contains(FORGED), "{said}");
    assert!(pedalproof(dir, "examples .").status.success());
    std::fs::write(dir.join("scope.csv"), "0,0.8\n1,0.9\n2,1.0\n").unwrap();
    let broken = format!("x\n{FORGED}");
    let signal = format!("a={broken}");
    let import = [
        "import",
        "scope.csv",
        "--vref-mv",
        "5000",
        "--bits",
        "10",
        "--out",
        "q",
    ];
    for arguments in [
        vec![
            "prove",
            "--block",
            "T1.block.json",
            "T1-output.csv",
            "--output",
            &broken,
        ],
        vec![
            "prove",
            "--block",
            "T1.block.json",
            "T1-output.csv",
            "--inputs",
            &broken,
        ],
        [&import[..], &["--time", &broken]].concat(),
        [&import[..], &["--rate-hz", "10", "--signal", &signal]].concat(),
        [&import[..], &["--signal", &broken]].concat(),
    ] {
        let said = refused(&pedalproof(dir, &arguments));
        assert!(said.contains(FORGED), "{arguments:?}: {said}");
    }
}

/// As many bytes as a file's text field may well have, and no message.
const LONG: usize = 2_000_000;

#[test]
fn what_is_quoted_is_as_long_as_a_person_reads() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let long = "A".repeat(LONG);
    let said = configured(dir, &format!("{long} = true\n"));
    assert!(
        said.len() < 1000 && said.contains("AAA...`, expected one of"),
        "{said:.2000}"
    );
    let profile = include_str!("../../../profiles/lever-shunting.json");
    for (old, new) in [
        ("\"kind\"", format!("\"{long}\"")),
        ("\"lever\"", format!("\"{long}\"")),
        ("\"profile/1\"", format!("\"{long}\"")),
        ("\"rest_ratio\"", format!("\"{long}\"")),
    ] {
        std::fs::write(dir.join("p.json"), profile.replacen(old, &new, 1)).unwrap();
        let said = refused(&pedalproof(dir, "profile check p.json"));
        assert!(
            said.len() < 3000 && said.contains("AAA..."),
            "{old}: {said:.4000}"
        );
    }
    let long = format!("\"{long}\"");
    let format = |text: String| text.replacen("\"capture/1\"", &long, 1);
    changed(dir, "T1-dial", "c", format, |table| table);
    let said = refused(&pedalproof(dir, "assess c.csv"));
    assert!(
        said.len() < 1000 && said.contains("is not `capture/1`"),
        "{said:.2000}"
    );
}

#[test]
fn a_tag_and_a_list_of_causes_fit_their_lines() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let tag = format!("{} {FORGED}", "A".repeat(80));
    let metadata = |text: String| {
        let mut value: Value = serde_json::from_str(&text).unwrap();
        value["pedalproof"]["unit"]["tag"] = json!(tag);
        let causes = (0..10_000).map(|n| (format!("cause {n}"), json!(1)));
        value["pedalproof"]["stream"]["rejected"] = Value::Object(causes.collect());
        value.to_string()
    };
    changed(dir, "T1-dial", "c", metadata, |table| table);
    for line in ["assess c.csv", "report c.csv --format md"] {
        let arguments: Vec<&str> = line.split(' ').collect();
        let output = pedalproof(dir, &arguments);
        let said = stdout(&output);
        assert!(said.len() < 100_000, "{line}: {}", said.len());
        let forged = said.lines().find(|line| line.trim().starts_with(FORGED));
        assert_eq!(forged, None, "{line}");
    }
    let said = stdout(&pedalproof(dir, "assess c.csv"));
    assert!(
        said.contains("AAA...") && said.contains("and 9994 more causes"),
        "{said:.3000}"
    );
    // Whoever asks for data has the whole.
    let json = stdout(&pedalproof(dir, "assess c.csv --json"));
    assert!(json.contains(&tag) && json.contains("cause 9999"));
}
