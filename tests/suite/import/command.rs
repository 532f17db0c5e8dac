//! The command: what it writes, tells and refuses, and who offers it.

use crate::support::program::{pedalproof, stderr, stdout};
use serde_json::Value;
use std::fmt::Write as _;
use std::path::Path;

const BOARD: [&str; 4] = ["--vref-mv", "5000", "--bits", "10"];

fn import(dir: &Path, more: &[&str]) -> std::process::Output {
    pedalproof(
        dir,
        &[&["import", "x.csv"], more, &BOARD, &["--out", "y"]].concat(),
    )
}

fn quiet(dir: &Path) {
    let mut text = "Time (s),CH1 (V)\n".to_owned();
    for k in 0..1000 {
        writeln!(
            text,
            "{:.3},{}",
            f64::from(k) * 0.004,
            0.8 + f64::from(k % 3) * 0.005
        )
        .unwrap();
    }
    std::fs::write(dir.join("x.csv"), text).unwrap();
}

#[test]
fn a_capture_says_what_it_was_made_from_and_nothing_is_overwritten() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    quiet(dir);
    let made = import(dir, &["--tag", "T9"]);
    assert_eq!(made.status.code(), Some(0), "{}", stderr(&made));
    let said = stderr(&made);
    assert!(
        said.contains("guessed: column `Time (s)` is the time")
            && said.contains("strokes: not found"),
        "{said}"
    );
    let meta = std::fs::read_to_string(dir.join("y.csv-metadata.json")).unwrap();
    let meta: Value = serde_json::from_str(&meta).unwrap();
    let ours = &meta["pedalproof"];
    // sha256sum of the file, by the crate that the program does not hash captures by in tests.
    let bytes = std::fs::read(dir.join("x.csv")).unwrap();
    assert_eq!(
        ours["imported"]["sha256"],
        pedalproof::files::sha256(&bytes).as_str()
    );
    assert_eq!(ours["imported"]["file"], "x.csv");
    assert_eq!(ours["unit"]["tag"], "T9");
    assert!(ours["note"].as_str().unwrap().contains("guessed"), "{ours}");
    // 0.8 V of 5 V on ten bits: 164 (units/board.rs).
    let table = std::fs::read_to_string(dir.join("y.csv")).unwrap();
    assert!(
        table.starts_with("t_us,step,ch1\r\n0,") && table.lines().nth(1).unwrap().ends_with(",164"),
        "{table:.80}"
    );
    let again = import(dir, &[]);
    assert_eq!(again.status.code(), Some(2));
    assert!(
        stderr(&again).contains("never overwritten"),
        "{}",
        stderr(&again)
    );
    let assessed = pedalproof(dir, "assess y.csv");
    assert_eq!(assessed.status.code(), Some(0), "{}", stdout(&assessed));
}

#[test]
fn what_cannot_be_is_refused_with_what_to_do() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    quiet(dir);
    for (more, says) in [
        (
            &["--time", "when"][..],
            &["`when`", "1 `Time (s)`", "2 `CH1 (V)`"][..],
        ),
        (&["--signal", "a=CH2"], &["--signal", "`CH2`"]),
        (&["--signal", "a b=CH1"], &["`a b`", "letters"]),
        (&["--signal", "a=CH1", "--signal", "a=1"], &["`a` twice"]),
        (&["--unit", "A"], &["V, mV or code"]),
        (
            &["--unit", "code"],
            &["the heading of CH1 says V, --unit says code. Leave --unit out"],
        ),
        (
            &["--unit", "mV", "--signal", "lever=CH1"],
            &[
                "x.csv: the heading of CH1 says V, --unit says mV. Leave --unit out, or correct the heading.",
            ],
        ),
        (&["--time-unit", "us"], &["--time-unit"]),
        (&["--time", "CH1"], &["goes back", "CH1"]),
    ] {
        let output = import(dir, more);
        let said = stderr(&output);
        assert_eq!(output.status.code(), Some(2), "{more:?}: {said}");
        for word in says {
            assert!(said.contains(word), "{more:?}: {word} in {said}");
        }
        assert!(!dir.join("y.csv").exists(), "{more:?}");
    }
    let mut text = "t,u\n".to_owned();
    for k in 0..500 {
        writeln!(text, "{:.3},{}", f64::from(k) * 0.004, 800 + k % 3).unwrap();
    }
    std::fs::write(dir.join("x.csv"), text).unwrap();
    let unknown = import(dir, &[]);
    assert!(
        stderr(&unknown).contains("--unit V, --unit mV or --unit code"),
        "{}",
        stderr(&unknown)
    );
    let volts = import(dir, &["--unit", "V"]);
    assert!(
        stderr(&volts).contains("--unit") && stderr(&volts).contains("5000 mV"),
        "{}",
        stderr(&volts)
    );
    let fractions = std::fs::read_to_string(dir.join("x.csv")).unwrap();
    std::fs::write(dir.join("x.csv"), fractions.replace(",800", ",0.8")).unwrap();
    let codes = stderr(&import(dir, &["--unit", "code"]));
    assert!(
        ["`u`", "0.8", "--unit V"]
            .iter()
            .all(|word| codes.contains(word)),
        "{codes}"
    );
}

#[test]
fn a_reference_that_no_recording_may_have_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    quiet(dir);
    for (mv, code) in [
        ("0.001", 2),
        ("1e7", 2),
        ("1e308", 2),
        ("1e-320", 2),
        ("1000000", 0),
    ] {
        let line = [
            "import",
            "x.csv",
            "--bits",
            "10",
            "--vref-mv",
            mv,
            "--out",
            "y",
        ];
        let output = pedalproof(dir, &line);
        let said = stderr(&output);
        assert_eq!(output.status.code(), Some(code), "{mv}: {said}");
        assert!(code == 0 || said.contains("from 1 to 1000000"), "{said}");
        assert_eq!(dir.join("y.csv").exists(), code == 0, "{mv}");
    }
    let output = pedalproof(dir, "assess y.csv");
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
}

#[test]
fn assess_offers_it_for_a_file_that_is_no_capture() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    quiet(dir);
    let output = pedalproof(dir, "assess x.csv");
    let said = stderr(&output);
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(
        said.contains("pedalproof import x.csv") && said.contains("2 columns"),
        "{said}"
    );
}
