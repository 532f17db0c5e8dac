//! What the program is built from: licences that its own allows, one registry, no crate twice without a reason.
//!
//! Advisories are not looked up here: the public advisory database is not a package, so it is not reached from a test.

use serde_json::Value;
use spdx::{Expression, LicenseReq, ParseMode};
use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

/// Licences under which a crate may be taken, one of those it offers: they let the program be MIT OR Apache-2.0.
const ALLOWED: &[&str] = &[
    "Apache-2.0",
    "MIT",
    "MIT-0",
    "Unicode-3.0",
    "Zlib",
    // serialport: binds its own files only, which are used unchanged.
    "MPL-2.0",
];

/// Crates that are there in more than one version, tests and build included, and why.
const TWICE: &[(&str, &str)] = &[
    (
        "bitflags",
        "serialport's nix 0.26 is on 1, everything else on 2",
    ),
    (
        "getrandom",
        "tests: jsonschema's ahash is on 0.3, rand and tempfile on 0.4",
    ),
    ("itertools", "tests: criterion is on 0.13, ratatui on 0.14"),
    (
        "signal-hook",
        "crossterm is on 0.3; 0.4 is the one that is kept up",
    ),
    (
        "syn",
        "derive macros are moving from 2 to 3; not in the program",
    ),
];

/// What cargo prints, from what is on this machine and no network.
fn cargo(arguments: &[&str]) -> Vec<u8> {
    let ran = Command::new(env!("CARGO"))
        .args(arguments)
        .args(["--locked", "--offline"])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap();
    let words = String::from_utf8_lossy(&ran.stderr);
    assert!(ran.status.success(), "cargo {arguments:?}: {words}");
    ran.stdout
}

/// The kind of machine that this is, as the compiler calls it.
fn host() -> String {
    let ran = Command::new("rustc").arg("-vV").output().unwrap();
    let message = String::from_utf8(ran.stdout).unwrap();
    let host = message.lines().find_map(|line| line.strip_prefix("host: "));
    host.unwrap().to_owned()
}

fn metadata() -> Value {
    let host = host();
    let arguments = [
        "metadata",
        "--format-version",
        "1",
        "--filter-platform",
        &host,
    ];
    serde_json::from_slice(&cargo(&arguments)).unwrap()
}

/// Every package but our own.
fn others(metadata: &Value) -> Vec<&Value> {
    let packages = metadata["packages"].as_array().unwrap();
    let ours = metadata["workspace_members"].as_array().unwrap();
    assert_eq!(ours.len(), 3, "{ours:?}");
    let others: Vec<_> = packages
        .iter()
        .filter(|package| !ours.contains(&package["id"]))
        .collect();
    assert!(others.len() > 100, "only {} packages", others.len());
    others
}

fn word<'a>(package: &'a Value, key: &str) -> &'a str {
    package[key].as_str().unwrap_or_default()
}

/// Whether a licence expression offers what is allowed.
fn allowed(licence: &str) -> bool {
    let is = |wanted: &LicenseReq| {
        let name = wanted.license.to_string();
        wanted.addition.is_none() && ALLOWED.contains(&name.as_str())
    };
    Expression::parse_mode(licence, ParseMode::LAX).is_ok_and(|offered| offered.evaluate(is))
}

/// The Rust that is promised is what the newest-minded dependency asks for: not older, and not newer without need. That our own
/// code asks for no more is held by a lint (`incompatible_msrv`), which knows when each function came.
#[test]
fn the_promised_rust_is_the_one_that_is_needed() {
    let number = |version: &str| -> Vec<u32> {
        let parts = version.split('.').map(|part| part.parse().unwrap());
        parts.chain([0, 0]).take(3).collect()
    };
    let metadata = metadata();
    let needed = others(&metadata)
        .into_iter()
        .map(|package| word(package, "rust_version"));
    let needed = needed
        .filter(|version| !version.is_empty())
        .map(number)
        .max();
    let ours = metadata["packages"].as_array().unwrap().iter();
    let ours = ours.filter(|package| word(package, "name").starts_with("pedalproof"));
    for package in ours {
        assert_eq!(
            Some(number(word(package, "rust_version"))),
            needed,
            "{}",
            word(package, "name")
        );
    }
}

#[test]
fn every_licence_is_allowed() {
    let metadata = metadata();
    for package in others(&metadata) {
        let licence = word(package, "license");
        assert!(
            allowed(licence),
            "{} has the licence {licence:?}",
            word(package, "name")
        );
    }
}

#[test]
fn a_licence_that_is_not_allowed_is_seen() {
    assert!(allowed("MIT/Apache-2.0"));
    assert!(allowed("MIT OR GPL-3.0-only"));
    assert!(allowed("(MIT OR Apache-2.0) AND Unicode-3.0"));
    for licence in [
        "",
        "GPL-3.0-only",
        "MIT AND GPL-3.0-only",
        "Apache-2.0 WITH LLVM-exception",
        "my own",
    ] {
        assert!(!allowed(licence), "{licence}");
    }
}

/// Each direct dependency has its row in `docs/dependencies.md`, and each row names one.
#[test]
fn every_direct_dependency_is_accounted_for() {
    let metadata = metadata();
    let ours = metadata["workspace_members"].as_array().unwrap();
    let packages = metadata["packages"].as_array().unwrap();
    let direct: BTreeSet<&str> = packages
        .iter()
        .filter(|package| ours.contains(&package["id"]))
        .flat_map(|package| package["dependencies"].as_array().unwrap())
        .filter(|dependency| dependency["path"].is_null())
        .map(|dependency| word(dependency, "name"))
        .collect();
    let page = include_str!("../../../docs/dependencies.md");
    let rows = page.lines().filter_map(|line| line.strip_prefix("| "));
    let named: BTreeSet<&str> = rows
        .filter_map(|row| row.split(" |").next())
        .flat_map(|cell| cell.split('`').skip(1).step_by(2))
        .collect();
    assert_eq!(direct, named);
}

#[test]
fn every_crate_comes_from_a_registry() {
    let metadata = metadata();
    for package in others(&metadata) {
        assert!(
            word(package, "source").starts_with("registry+"),
            "{} comes from {:?}",
            word(package, "name"),
            package["source"]
        );
    }
}

#[test]
fn no_crate_is_there_twice_without_a_reason() {
    let message = cargo(&["tree", "--duplicates", "--depth", "0", "--prefix", "none"]);
    let message = String::from_utf8(message).unwrap();
    // One crate a line, "name v1.2.3 (proc-macro)"; one of one version may come twice, with other features.
    let mut versions: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for line in message.lines() {
        let mut words = line.split(' ');
        if let (Some(name), Some(version)) = (words.next(), words.next()) {
            versions.entry(name).or_default().insert(version);
        }
    }
    versions.retain(|_, versions| versions.len() > 1);
    let twice: Vec<&str> = versions.into_keys().collect();
    let known: Vec<&str> = TWICE.iter().map(|(name, _)| *name).collect();
    assert_eq!(twice, known, "the list of reasons is out of date");
}
