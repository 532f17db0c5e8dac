//! The real program, run in a folder of a test's own with no configuration but what the test gives.
#![allow(dead_code)] // each test file uses its own part

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// Runs the program in `dir`; records go to `dir/records`.
pub fn pedalproof(dir: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_pedalproof"))
        .args(arguments)
        .current_dir(dir)
        .env("PEDALPROOF_RECORDS", dir.join("records"))
        .env_remove("PEDALPROOF_CONFIG")
        .env("XDG_CONFIG_HOME", dir.join("no-config"))
        .output()
        .unwrap()
}

pub fn told(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

pub fn words(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// One of the example captures of the repository.
pub fn example(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("captures")
        .join(format!("{name}.csv"))
}

/// Copies an example capture into `dir` as `as_name.csv`, its metadata and its table changed.
pub fn changed(
    dir: &Path,
    name: &str,
    as_name: &str,
    metadata: impl Fn(String) -> String,
    table: impl Fn(String) -> String,
) -> PathBuf {
    let beside = |csv: &Path| PathBuf::from(format!("{}-metadata.json", csv.display()));
    let (from, to) = (example(name), dir.join(format!("{as_name}.csv")));
    let text = |path: &Path| std::fs::read_to_string(path).unwrap();
    std::fs::write(&to, table(text(&from))).unwrap();
    std::fs::write(beside(&to), metadata(text(&beside(&from)))).unwrap();
    to
}
