//! Every start of the program by a test is isolated from whoever runs the tests: it goes through `support::program`.

use super::source::{named, project};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// The one file that knows where the program lies.
const HELPER: &str = "tests/suite/support/program.rs";

fn rust_below(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(rust_below(&path));
        } else if path.extension().is_some_and(|end| end == "rs") {
            found.push(path);
        }
    }
    found
}

/// Words by which a test would find the program.
const WAYS: [&str; 3] = ["CARGO_BIN", "cargo_bin", "current_exe"];

#[test]
fn no_test_starts_the_program_but_through_the_helper() {
    let tests = ["tests", "crates"].map(project);
    let files: Vec<PathBuf> = tests.iter().flat_map(|folder| rust_below(folder)).collect();
    assert!(files.len() > 60, "only {} files", files.len());
    let here = project(file!());
    for file in files.iter().filter(|file| **file != here) {
        let text = std::fs::read_to_string(file).unwrap();
        for way in WAYS {
            assert!(
                named(file) == HELPER || !text.contains(way),
                "{} finds the program by {way}: start it through {HELPER}",
                named(file)
            );
        }
    }
}

/// Every variable by which the program finds what somebody keeps is set or taken away by the helper.
#[test]
fn the_helper_knows_every_variable_that_the_program_reads() {
    let helper = std::fs::read_to_string(project(HELPER)).unwrap();
    let mut read = BTreeSet::new();
    for file in rust_below(&project("src")) {
        let text = std::fs::read_to_string(&file).unwrap();
        for quoted in text.split('"').skip(1).step_by(2) {
            if quoted.starts_with("PEDALPROOF_")
                && quoted.bytes().all(|b| b.is_ascii_uppercase() || b == b'_')
            {
                read.insert(quoted.to_owned());
            }
        }
    }
    assert!(read.contains("PEDALPROOF_CONFIG"), "{read:?}");
    for variable in read {
        assert!(
            helper.contains(&variable),
            "{HELPER} says nothing of {variable}"
        );
    }
}
