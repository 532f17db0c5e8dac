//! Captures held against CSV on the Web by an outside validator: the `PyPI` package `csvw`.
//!
//! Ignored by plain `cargo test`, since it needs that package; `.ci/run` installs it and runs this with
//! `PYTHON=... cargo test --test suite csvw:: -- --ignored`.

use crate::support::recording::signal;
use crate::support::tools;
use measure::units::{Code, Step, Track};
use pedalproof::capture::{BoardMeta, CaptureWriter, Metadata, RefMeta, StreamCounts, UnitMeta};
use std::path::Path;
use std::process::Command;

/// Prints `valid|invalid` and each complaint; then the same without the one object of ours. The standard asks a
/// validator to complain of a property that it does not know; DESIGN 4.2 fixes that one, so it is the only
/// complaint allowed.
const VALIDATE: &str = r#"
import json, sys
from csvw import CSVW
path = sys.argv[1] + "-metadata.json"
def told():
    table = CSVW(path, validate=True)
    print("valid" if table.is_valid else "invalid", [str(w.message) for w in table.warnings])
told()
meta = json.load(open(path))
del meta["pedalproof"]
json.dump(meta, open(path, "w"))
told()
"#;

fn validated(csv: &Path) -> String {
    let python = tools::python();
    let ran = Command::new(&python)
        .args(["-c", VALIDATE])
        .arg(csv)
        .output()
        .unwrap();
    assert!(
        ran.status.success(),
        "{python}: {}",
        String::from_utf8_lossy(&ran.stderr)
    );
    String::from_utf8(ran.stdout).unwrap()
}

fn written(dir: &Path) -> std::path::PathBuf {
    let path = dir.join("T1.csv");
    let meta = Metadata {
        unit: UnitMeta {
            tag: Some("T1".into()),
            profile: None,
        },
        reference: Some(RefMeta {
            unit: "deg".into(),
            low: Some(0.0),
            high: Some(40.0),
            u: None,
        }),
        started: Some("2026-11-25T09:00:00Z".into()),
        ..Metadata::new(
            BoardMeta::new("b", 10, 5000.0, 1000.0),
            vec![("pedal_a".into(), signal(Track::One))],
        )
    };
    let mut writer = CaptureWriter::create(&path, meta).unwrap();
    writer
        .push(1000, Step::Rest, [Code(164)].into_iter(), Some(0.5))
        .unwrap();
    writer
        .push(2000, Step::Idle, [Code(165)].into_iter(), None)
        .unwrap();
    writer.finish(&StreamCounts::default()).unwrap()
}

#[test]
#[ignore = "needs the PyPI package csvw: .ci/run installs it"]
fn a_written_capture_validates() {
    let dir = tempfile::tempdir().unwrap();
    let told = validated(&written(dir.path()));
    assert_eq!(
        told,
        "invalid ['Invalid property pedalproof for Table']\nvalid []\n"
    );
}

#[test]
#[ignore = "needs the PyPI package csvw: .ci/run installs it"]
fn the_validator_sees_a_bad_row() {
    let dir = tempfile::tempdir().unwrap();
    let path = written(dir.path());
    let text = std::fs::read_to_string(&path).unwrap();
    std::fs::write(&path, text.replace(",164,", ",sixty,")).unwrap();
    assert!(
        validated(&path)
            .lines()
            .nth(1)
            .unwrap()
            .starts_with("invalid")
    );
}
