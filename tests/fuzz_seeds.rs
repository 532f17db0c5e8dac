//! What fuzzing asks of each reader, on the seeds and on changed copies of them: the short run, with no tool but cargo.
//!
//! `PEDALPROOF_MUTATIONS` says how many changed copies each target gets, `PEDALPROOF_SEED` which ones. The long runs are
//! libFuzzer's: DEVELOPERS.md, "Fuzzing".
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "support/fuzzed/mod.rs"]
mod fuzzed;
#[path = "support/mutate.rs"]
mod mutate;

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

fn number(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).map_or(otherwise, |text| text.parse().expect(name))
}

/// Changed copies for one target: fewer for the two whose one look takes milliseconds.
fn share(target: &str, all: u64) -> u64 {
    match target {
        "assess" => all / 50,
        "wiring" => all / 50,
        _ => all,
    }
}

fn run(target: &str) {
    let (_, check) = fuzzed::TARGETS
        .into_iter()
        .find(|(name, _)| *name == target)
        .unwrap();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/fuzz_seeds")
        .join(target);
    let mut files: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    files.sort();
    let seeds: Vec<Vec<u8>> = files
        .iter()
        .map(|file| std::fs::read(file).unwrap())
        .collect();
    assert!(seeds.len() >= 4, "{target} has {} seeds", seeds.len());
    for (file, seed) in files.iter().zip(&seeds) {
        held(check, seed, &file.display().to_string());
    }
    let seed = number("PEDALPROOF_SEED", 1);
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    for n in 0..share(target, number("PEDALPROOF_MUTATIONS", 4000)) {
        let changed = mutate::mutated(&mut rng, &seeds);
        held(check, &changed, &format!("{target}, seed {seed}, copy {n}"));
    }
}

/// A panic says which bytes it was.
fn held(check: fn(&[u8]), data: &[u8], what: &str) {
    if let Err(panic) = catch_unwind(AssertUnwindSafe(|| check(data))) {
        eprintln!("{what}:\n{}\n{data:?}", String::from_utf8_lossy(data));
        std::panic::resume_unwind(panic);
    }
}

#[test]
fn assess() {
    run("assess");
}

#[test]
fn block() {
    run("block");
}

#[test]
fn capture() {
    run("capture");
}

#[test]
fn metadata() {
    run("metadata");
}

#[test]
fn profile() {
    run("profile");
}

#[test]
fn record() {
    run("record");
}

#[test]
fn stream() {
    run("stream");
}

#[test]
fn wiring() {
    run("wiring");
}

/// Changed copies are changed, and most of the bytes stay.
#[test]
fn copies_are_changed_here_and_there() {
    let seeds = vec![b"1000,rest,512\n".repeat(20)];
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    let copies: Vec<Vec<u8>> = (0..1000)
        .map(|_| mutate::mutated(&mut rng, &seeds))
        .collect();
    let same = copies.iter().filter(|copy| **copy == seeds[0]).count();
    assert!(same < 100, "{same}");
    let whole = copies
        .iter()
        .filter(|copy| copy.len().abs_diff(280) < 30)
        .count();
    assert!(whole > 600, "{whole}");
}
