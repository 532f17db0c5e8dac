//! A folder with the example machines, and what the program says of a machine.

use crate::support::program::{changed, pedalproof, stderr};
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

/// The machine's evidence as it stands in its file.
pub fn evidence(dir: &Path, change: impl Fn(&mut Vec<Value>)) {
    let file = dir.join("T1.json");
    let text = std::fs::read_to_string(&file).unwrap();
    let mut machine: Value = serde_json::from_str(&text).unwrap();
    change(machine["evidence"].as_array_mut().unwrap());
    std::fs::write(&file, machine.to_string()).unwrap();
}

/// Changes the rows of a recording in its place: `t_us`, the step, then a code for each channel.
pub fn rows(dir: &Path, file: &str, change: impl Fn(u64, &mut Vec<String>)) {
    let path = dir.join(file);
    let text = std::fs::read_to_string(&path).unwrap();
    let mut lines = text.lines();
    let mut out = format!("{}\n", lines.next().unwrap());
    for line in lines {
        let mut row: Vec<String> = line.split(',').map(str::to_owned).collect();
        change(row[0].parse().unwrap(), &mut row);
        out += &(row.join(",") + "\n");
    }
    std::fs::write(path, out).unwrap();
}

/// The state of a link, and words in its reason.
pub fn is(now: &Page, link: &str, state: &str, words: &str) {
    let why = now.why(link);
    assert_eq!(now.state(link), state, "{link}: {why}");
    assert!(why.contains(words), "{link}: {why}");
}

/// A recording with another day in its metadata, its readings changed.
pub fn dated(dir: &Path, name: &str, as_name: &str, day: &str, readings: impl Fn(&str) -> String) {
    changed(
        dir,
        name,
        as_name,
        |meta| {
            assert!(meta.contains("2026-04-11T"));
            meta.replace("2026-04-11T", &format!("{day}T"))
                .replace(&format!("{name}.csv"), &format!("{as_name}.csv"))
        },
        |table| readings(&table),
    );
}

/// The table without its last row: the same part, another file.
pub fn cut(table: &str) -> String {
    let end = table.trim_end().rfind('\n').unwrap();
    table[..=end].to_owned()
}
