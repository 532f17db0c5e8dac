//! A folder with the example machines, and what the program says of a machine.

use crate::support::program::{pedalproof, stderr};
use serde_json::Value;
use std::path::Path;
use std::sync::OnceLock;
use tempfile::TempDir;

/// A day on which the example's next check is not due yet, and one on which it is.
pub const IN_TIME: &str = "2026-06-01";
pub const TOO_LATE: &str = "2027-04-12";

/// A copy of the examples, made once.
pub fn examples() -> TempDir {
    static MADE: OnceLock<TempDir> = OnceLock::new();
    let made = MADE.get_or_init(|| {
        let dir = tempfile::tempdir().unwrap();
        let ran = pedalproof(dir.path(), "examples .");
        assert!(ran.status.success(), "{}", stderr(&ran));
        dir
    });
    let copy = tempfile::tempdir().unwrap();
    for entry in std::fs::read_dir(made.path()).unwrap() {
        let entry = entry.unwrap();
        if entry.path().is_file() {
            std::fs::copy(entry.path(), copy.path().join(entry.file_name())).unwrap();
        }
    }
    copy
}

/// What `machine FILE --json` says.
pub struct Page {
    pub code: i32,
    pub json: Value,
    pub words: String,
}

pub fn page_on(dir: &Path, file: &str, day: &str) -> Page {
    let ran = pedalproof(dir, &format!("machine {file} --json --on {day}"));
    Page {
        code: ran.status.code().unwrap(),
        json: serde_json::from_slice(&ran.stdout).unwrap_or_default(),
        words: stderr(&ran),
    }
}

pub fn page(dir: &Path, file: &str) -> Page {
    page_on(dir, file, IN_TIME)
}

impl Page {
    pub fn part(&self, link: &str, key: &str) -> String {
        let links = self.json["links"].as_array().unwrap();
        let found = links.iter().find(|one| one["link"] == link);
        let found = found.unwrap_or_else(|| panic!("no link {link}: {}", self.json));
        found[key].as_str().unwrap_or("null").to_owned()
    }

    pub fn state(&self, link: &str) -> String {
        self.part(link, "state")
    }

    pub fn why(&self, link: &str) -> String {
        self.part(link, "why")
    }

    /// The states in order, e.g. `done done stale`.
    pub fn states(&self) -> String {
        let links = self.json["links"].as_array().unwrap();
        let states: Vec<_> = links
            .iter()
            .map(|one| one["state"].as_str().unwrap())
            .collect();
        states.join(" ")
    }

    pub fn next(&self) -> String {
        self.json["next"].as_str().unwrap().to_owned()
    }
}

/// `machine add T1.json ...`; its words.
pub fn add(dir: &Path, machine: &str, files: &[&str]) -> (i32, String) {
    let ran = pedalproof(dir, &[&["machine", "add", machine], files].concat());
    (ran.status.code().unwrap(), stderr(&ran))
}
