//! The arrows of DESIGN section 3: which room may know which, and what it must never know.
//!
//! Tests inside a room may touch files, processes and clocks.

use super::source::{File, PACKAGES, code, files, named, paths, project};
use std::collections::BTreeSet;

/// Where a room is.
#[derive(PartialEq)]
enum Package {
    Measure,
    Simulator,
    Program,
}
use Package::{Measure, Program, Simulator};

/// Package, room, the rooms it may know, and outside names it must never mention.
type Room = (
    Package,
    &'static str,
    &'static [&'static str],
    &'static [&'static str],
);

const ROOMS: &[Room] = &[
    (Measure, "units", &[], OUTSIDE),
    (Measure, "figure", &["units"], OUTSIDE),
    (Measure, "measure", &["units", "figure"], OUTSIDE),
    (Measure, "judge", &["units", "figure", "measure"], OUTSIDE),
    (Simulator, "simulator", &["units"], OUTSIDE),
    (Program, "wiring", &["units"], OUTSIDE),
    (
        Program,
        "constants",
        &[
            "outlet", "units", "figure", "measure", "judge", "wiring", "profile", "capture",
            "record",
        ],
        SCREENS,
    ),
    (Program, "twin", &["constants"], OUTSIDE),
    (
        Program,
        "proof",
        &[
            "outlet",
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
    (Program, "files", &["outlet"], SCREENS),
    (
        Program,
        "capture",
        &["outlet", "files", "units", "measure"],
        SCREENS,
    ),
    (
        Program,
        "profile",
        &["outlet", "files", "units", "figure", "judge", "wiring"],
        SCREENS,
    ),
    // A diagnosis names what it is held against, by profile; a record keeps what was said.
    (
        Program,
        "diagnose",
        &["units", "figure", "measure", "judge", "wiring", "profile"],
        OUTSIDE,
    ),
    (
        Program,
        "record",
        &[
            "outlet", "files", "units", "figure", "measure", "judge", "diagnose",
        ],
        SCREENS,
    ),
    (Program, "link", &["outlet", "units", "simulator"], SCREENS),
    // What a machine's evidence says is handed in: see `bench::machine`.
    (
        Program,
        "machine",
        &["outlet", "files", "judge", "profile"],
        SCREENS,
    ),
    (
        Program,
        "bench",
        &[
            "files",
            "outlet",
            "units",
            "figure",
            "measure",
            "judge",
            "simulator",
            "wiring",
            "constants",
            "twin",
            "proof",
            "capture",
            "profile",
            "diagnose",
            "record",
            "link",
            "machine",
        ],
        SCREENS,
    ),
    // `report` may name the kinds of result it writes, not the code that computes them: see COMPUTING.
    (
        Program,
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
            "machine",
        ],
        FILES,
    ),
    (
        Program,
        "tui",
        &[
            "outlet",
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
            "machine",
        ],
        FILES,
    ),
    (Program, "outlet", &[], SCREENS),
    (Program, "import", &["files", "units"], SCREENS),
    (Program, "firmware", &["outlet", "files"], SCREENS),
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

fn room(name: &str) -> &'static Room {
    ROOMS.iter().find(|(_, room, ..)| *room == name).unwrap()
}

/// The room that a path leads into, seen from a package; none for what is outside or within the room.
fn leads_into(path: &[String], from: &Package) -> Option<String> {
    let next = path[1].as_str();
    match (path[0].as_str(), from) {
        ("crate", Simulator) => None,
        ("crate", _) => Some(next.to_owned()),
        ("measure", Program | Simulator) => {
            let room = ["units", "figure", "judge"]
                .into_iter()
                .find(|room| *room == next);
            Some(room.unwrap_or("measure").to_owned())
        }
        ("simulator", Program | Measure) => Some("simulator".to_owned()),
        _ => None,
    }
}

fn rooms_known(code: &str, from: &Package) -> BTreeSet<String> {
    let paths = paths(code);
    paths
        .iter()
        .filter_map(|path| leads_into(path, from))
        .collect()
}

/// What is wrong with the code of one file of a room.
fn faults(name: &str, code: &str) -> Vec<String> {
    let (package, _, may_know, never) = room(name);
    let strangers = rooms_known(code, package)
        .into_iter()
        .filter(|known| known != name && !may_know.contains(&known.as_str()));
    let mut faults: Vec<String> = strangers
        .map(|known| format!("knows room `{known}`"))
        .collect();
    faults.extend(
        never
            .iter()
            .filter(|name| code.contains(**name))
            .map(|name| format!("mentions `{name}`")),
    );
    if matches!(name, "report" | "tui") {
        faults.extend(
            COMPUTING
                .iter()
                .filter(|name| code.contains(**name))
                .map(|name| format!("calls `{name}`")),
        );
    }
    faults
}

fn files_of((package, name, ..): &Room) -> Vec<File> {
    files(&project(&match package {
        Measure => format!("crates/measure/src/{name}"),
        Simulator => "crates/simulator/src".to_owned(),
        Program => format!("src/{name}"),
    }))
}

#[test]
fn every_room_knows_only_what_it_may() {
    let mut found = Vec::new();
    let mut read = 0;
    for room in ROOMS {
        for file in &files_of(room) {
            read += 1;
            for fault in faults(room.1, &file.code) {
                found.push(format!("{}: {fault}", named(&file.path)));
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
    for room in ROOMS {
        let (package, name, may_know, _) = room;
        let known: BTreeSet<String> = files_of(room)
            .iter()
            .flat_map(|file| rooms_known(&file.code, package))
            .collect();
        let slack = may_know.iter().filter(|other| !known.contains(**other));
        unused.extend(slack.map(|other| format!("{name} -> {other}")));
    }
    assert!(unused.is_empty(), "nothing goes along: {unused:?}");
}

/// No room comes to know itself through others.
#[test]
fn the_arrows_have_no_circle() {
    let mut left: Vec<_> = ROOMS
        .iter()
        .map(|(_, room, know, _)| (*room, *know))
        .collect();
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
    for (folder, package) in PACKAGES {
        if package == "simulator" {
            continue; // one room
        }
        for entry in std::fs::read_dir(project(folder)).unwrap() {
            let entry = entry.unwrap();
            let name = entry.file_name().into_string().unwrap();
            if entry.path().is_dir() && name != "cli" {
                assert!(
                    ROOMS.iter().any(|(_, room, ..)| *room == name),
                    "room `{name}` has no arrows here"
                );
            }
        }
    }
}

#[test]
fn only_one_file_of_a_format_room_touches_the_disk() {
    for name in ["capture", "profile", "record", "machine", "import"] {
        let touching: Vec<_> = files_of(room(name))
            .into_iter()
            .filter(|file| file.code.contains("std::fs"))
            .map(|file| file.path)
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
    let faults = |room, text| faults(room, &code(text));
    assert_eq!(
        faults("measure", "use crate::link::Source;"),
        ["knows room `link`"]
    );
    assert_eq!(
        faults("measure", "use simulator::SimRun;"),
        ["knows room `simulator`"]
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
        faults("wiring", "use measure::{units::Code, judge::Limit};"),
        ["knows room `judge`"]
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
            "// use crate::link::Source;\nlet words = \"crate::tui\";\nuse crate::units::Code;"
        )
        .is_empty()
    );
    assert!(faults("units", "#[cfg(test)]\nmod tests { use std::fs; }").is_empty());
}
