//! Holds the arrows of DESIGN section 3: which room may know which, and what it must never know.
//!
//! Reads the source as text: `crate::ROOM` and the names of outside things, in code (comments and string literals
//! apart). Tests inside a room are held to the same arrows, but may touch files, processes and clocks.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Room, the rooms it may know, and outside names it must never mention.
const ROOMS: &[(&str, &[&str], &[&str])] = &[
    ("units", &[], OUTSIDE),
    ("figure", &["units"], OUTSIDE),
    ("measure", &["units", "figure"], OUTSIDE),
    ("judge", &["figure", "measure"], OUTSIDE),
    ("wiring", &["units"], OUTSIDE),
    (
        "constants",
        &[
            "units", "figure", "measure", "judge", "wiring", "profile", "capture", "record",
        ],
        SCREENS,
    ),
    ("twin", &["constants"], OUTSIDE),
    (
        "proof",
        &[
            "units",
            "figure",
            "measure",
            "judge",
            "constants",
            "twin",
            "record",
        ],
        OUTSIDE,
    ),
    ("files", &[], SCREENS),
    ("capture", &["files", "units", "measure"], SCREENS),
    (
        "profile",
        &["files", "units", "figure", "judge", "wiring"],
        SCREENS,
    ),
    ("record", &["files", "figure", "measure", "judge"], SCREENS),
    ("link", &["units"], SCREENS),
    (
        "bench",
        &[
            "units",
            "figure",
            "measure",
            "judge",
            "wiring",
            "constants",
            "twin",
            "proof",
            "capture",
            "profile",
            "record",
            "link",
        ],
        SCREENS,
    ),
    // `report` may name the kinds of result it writes, not the code that computes them: see COMPUTING.
    (
        "report",
        &[
            "units",
            "figure",
            "measure",
            "judge",
            "wiring",
            "constants",
            "twin",
            "capture",
            "profile",
            "record",
            "proof",
        ],
        FILES,
    ),
    (
        "tui",
        &[
            "units",
            "figure",
            "measure",
            "judge",
            "constants",
            "twin",
            "proof",
            "profile",
            "record",
            "report",
            "bench",
        ],
        FILES,
    ),
    ("firmware", &["files"], SCREENS),
];

const FILES: &[&str] = &[
    "std::fs",
    "std::net",
    "std::process",
    "serialport",
    "std::env",
];
const SCREENS: &[&str] = &["ratatui", "crossterm", "clap"];
const OUTSIDE: &[&str] = &[
    "std::fs",
    "std::io",
    "std::net",
    "std::time",
    "std::thread",
    "std::process",
    "std::env",
    "SystemTime",
    "Instant",
    "rand::rng",
    "from_os_rng",
    "println",
    "eprintln",
    "serialport",
    "ratatui",
    "crossterm",
    "clap",
    "jiff",
];
/// What only `bench` (and `measure`, `judge` and `proof` themselves) may call: `report` and `tui` show results.
const COMPUTING: &[&str] = &[
    "measure::figures",
    "judge::decide",
    "judge::verdict",
    "proof::prove",
];

fn sources(room: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![room.to_owned()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                found.push(path);
            }
        }
    }
    found
}

/// The code of a file: without comments and string literals; and, second, without its tests.
fn code(text: &str) -> (String, String) {
    let mut all = String::new();
    let mut outside_tests = String::new();
    let mut in_tests = false;
    for line in text.lines() {
        in_tests |= line.trim_start().starts_with("#[cfg(test)]");
        let line = without_strings(line);
        let line = line.split("//").next().unwrap_or_default();
        all.push_str(line);
        all.push('\n');
        if !in_tests {
            outside_tests.push_str(line);
            outside_tests.push('\n');
        }
    }
    (all, outside_tests)
}

/// Names of the modules that a room declares for its tests only: `#[cfg(test)] mod NAME;`.
fn test_modules(files: &[PathBuf]) -> BTreeSet<String> {
    let mut names = BTreeSet::new();
    for file in files {
        let text = std::fs::read_to_string(file).unwrap();
        let lines: Vec<&str> = text.lines().map(str::trim).collect();
        for at in lines
            .iter()
            .enumerate()
            .filter(|(_, line)| **line == "#[cfg(test)]")
            .map(|(at, _)| at)
        {
            let mut rest = lines[at + 1..].iter();
            // `#[path = "NAME.rs"]` names the file where the module is called otherwise.
            let path = |line: &str| {
                let name = line.strip_prefix("#[path = \"")?.strip_suffix(".rs\"]")?;
                Some(name.to_owned())
            };
            let next = rest.next().copied().unwrap_or_default();
            if let Some(name) = path(next) {
                names.insert(name);
            } else if let Some(name) = next
                .strip_prefix("mod ")
                .and_then(|rest| rest.strip_suffix(';'))
            {
                names.insert(name.to_owned());
            }
        }
    }
    names
}

fn without_strings(line: &str) -> String {
    line.split('"').step_by(2).collect::<Vec<_>>().join("\"\"")
}

fn rooms_known(code: &str) -> BTreeSet<String> {
    let mut known = BTreeSet::new();
    for (at, _) in code.match_indices("crate::") {
        let rest = &code[at + "crate::".len()..];
        let list = rest
            .strip_prefix('{')
            .map_or(rest, |inner| inner.split('}').next().unwrap_or(inner));
        let items: Vec<&str> = if rest.starts_with('{') {
            list.split(',').collect()
        } else {
            vec![list]
        };
        for item in items {
            let name: String = item
                .trim()
                .chars()
                .take_while(|c| c.is_alphanumeric() || *c == '_')
                .collect();
            if !name.is_empty() {
                known.insert(name);
            }
        }
    }
    known
}

/// What is wrong with one file of a room.
fn faults(room: &str, text: &str) -> Vec<String> {
    let (_, may_know, never) = ROOMS.iter().find(|(name, ..)| *name == room).unwrap();
    let (_, code) = code(text);
    let strangers = rooms_known(&code)
        .into_iter()
        .filter(|known| known != room && !may_know.contains(&known.as_str()));
    let mut faults: Vec<String> = strangers
        .map(|known| format!("knows room `{known}`"))
        .collect();
    faults.extend(
        never
            .iter()
            .filter(|name| code.contains(**name))
            .map(|name| format!("mentions `{name}`")),
    );
    if matches!(room, "report" | "tui") {
        faults.extend(
            COMPUTING
                .iter()
                .filter(|name| code.contains(**name))
                .map(|name| format!("calls `{name}`")),
        );
    }
    faults
}

/// The files of a room that are not there for its tests only.
fn files_of(room: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src").join(room);
    let mut files = sources(&folder);
    let for_tests = test_modules(&files);
    files.retain(|file| {
        let mut names = file.strip_prefix(&folder).unwrap().with_extension("");
        if names.ends_with("mod") {
            names.pop();
        }
        !names
            .iter()
            .any(|name| for_tests.contains(name.to_str().unwrap()))
    });
    files
}

#[test]
fn every_room_knows_only_what_it_may() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut found = Vec::new();
    let mut read = 0;
    for (room, ..) in ROOMS {
        for file in &files_of(room) {
            read += 1;
            for fault in faults(room, &std::fs::read_to_string(file).unwrap()) {
                found.push(format!(
                    "{}: {fault}",
                    file.strip_prefix(&src).unwrap().display()
                ));
            }
        }
    }
    assert!(read > 20, "only {read} files were read");
    assert!(
        found.is_empty(),
        "arrows of DESIGN section 3 broken:\n{}",
        found.join("\n")
    );
}

/// An arrow that no code goes along is no arrow: the list says what the rooms are, not what they might be.
#[test]
fn every_arrow_is_gone_along() {
    let mut unused = Vec::new();
    for (room, may_know, _) in ROOMS {
        let known: BTreeSet<String> = files_of(room)
            .iter()
            .flat_map(|file| rooms_known(&code(&std::fs::read_to_string(file).unwrap()).1))
            .collect();
        let slack = may_know.iter().filter(|other| !known.contains(**other));
        unused.extend(slack.map(|other| format!("{room} -> {other}")));
    }
    assert!(unused.is_empty(), "nothing goes along: {unused:?}");
}

/// No room comes to know itself through others.
#[test]
fn the_arrows_have_no_circle() {
    let mut left: Vec<_> = ROOMS.iter().map(|(room, know, _)| (*room, *know)).collect();
    while let Some(at) = left.iter().position(|(_, know)| {
        know.iter()
            .all(|other| left.iter().all(|(room, _)| room != other))
    }) {
        left.remove(at);
    }
    assert!(left.is_empty(), "these know each other: {left:?}");
}

#[test]
fn no_room_is_left_out() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    for entry in std::fs::read_dir(src).unwrap() {
        let entry = entry.unwrap();
        let name = entry.file_name().into_string().unwrap();
        if entry.path().is_dir() && name != "cli" {
            assert!(
                ROOMS.iter().any(|(room, ..)| *room == name),
                "room `{name}` has no arrows here"
            );
        }
    }
}

#[test]
fn only_one_file_of_a_format_room_touches_the_disk() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    for room in ["capture", "profile", "record"] {
        let touching: Vec<_> = sources(&src.join(room))
            .into_iter()
            .filter(|file| {
                code(&std::fs::read_to_string(file).unwrap())
                    .1
                    .contains("std::fs")
            })
            .collect();
        assert!(
            touching.iter().all(|f| f.file_name().unwrap() == "disk.rs"),
            "{touching:?}"
        );
    }
}

/// The check can fail: each kind of fault, seen on made-up code.
#[test]
fn the_check_can_fail() {
    assert_eq!(
        faults("measure", "use crate::link::Source;"),
        ["knows room `link`"]
    );
    assert_eq!(
        faults("measure", "fn f() { let t = std::time::Instant::now(); }"),
        ["mentions `std::time`", "mentions `Instant`"]
    );
    assert_eq!(
        faults("judge", "use crate::{figure::Figure, tui};"),
        ["knows room `tui`"]
    );
    assert_eq!(
        faults("tui", "let m = measure::figures(&r);"),
        ["calls `measure::figures`"]
    );
    assert_eq!(
        faults("capture", "use ratatui::Frame;"),
        ["mentions `ratatui`"]
    );
    assert!(
        faults(
            "measure",
            "// use crate::link::Source;\nlet words = \"crate::tui\";\nuse measure::units::Code;"
        )
        .is_empty()
    );
    assert!(faults("units", "#[cfg(test)]\nmod tests { use std::fs; }").is_empty());
}
