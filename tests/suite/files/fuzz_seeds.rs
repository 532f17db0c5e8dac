//! What fuzzing asks of each reader, on the seeds and on changed copies of them: the short run, with no tool but cargo.
//!
//! `PEDALPROOF_MUTATIONS` says how many changed copies each target gets, `PEDALPROOF_SEED` which ones. The long runs are
//! libFuzzer's: docs/fuzzing.md.

use super::fuzzed;
use super::mutate;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

fn number(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).map_or(otherwise, |text| text.parse().expect(name))
}

/// Changed copies for one target: fewer for the two whose one look takes milliseconds.
fn share(target: &str, all: u64) -> u64 {
    match target {
        "assess" | "wiring" => all / 50,
        _ => all,
    }
}

/// An input, with where it lies.
type Seed = (String, Vec<u8>);

/// The inputs that are kept of a target: those written by hand, a file each, and those that fuzzing found, a line each: a JSON
/// string whose letters are the bytes.
fn seeds(target: &str) -> (Vec<Seed>, Vec<Seed>) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz_seeds");
    let files = std::fs::read_dir(folder.join(target)).unwrap();
    let mut files: Vec<PathBuf> = files.map(|entry| entry.unwrap().path()).collect();
    files.sort();
    let by_hand = files
        .iter()
        .map(|file| (file.display().to_string(), std::fs::read(file).unwrap()));
    let found = std::fs::read_to_string(folder.join(format!("{target}.jsonl"))).unwrap();
    let found = found.lines().enumerate().map(|(n, line)| {
        let letters: String = serde_json::from_str(line).unwrap();
        let bytes = letters.chars().map(|letter| u8::try_from(letter).unwrap());
        (format!("{target}.jsonl:{}", n + 1), bytes.collect())
    });
    (by_hand.collect(), found.collect())
}

fn run(target: &str) {
    let (_, check) = fuzzed::TARGETS
        .into_iter()
        .find(|(name, _)| *name == target)
        .unwrap();
    let (by_hand, found) = seeds(target);
    assert!(by_hand.len() >= 4, "{target} has {} seeds", by_hand.len());
    for (what, seed) in by_hand.iter().chain(&found) {
        held(check, seed, what);
    }
    // Half of the copies are of what was written by hand: whole files, which most of what was found is not.
    let seeds: Vec<Vec<u8>> = std::iter::repeat_n(&by_hand, found.len() / by_hand.len() + 1)
        .flatten()
        .chain(&found)
        .map(|(_, seed)| seed.clone())
        .collect();
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
fn import() {
    run("import");
}

#[test]
fn machine() {
    run("machine");
}

#[test]
fn marks() {
    run("marks");
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
