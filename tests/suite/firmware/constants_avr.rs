//! One command line takes the demo pedal's and dial's captures to a HEX file, and the board's firmware, loaded with that
//! HEX in a simulated part, puts out on its two wires what the twin predicts, bit for bit.
#![cfg(target_os = "linux")]
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // of known range, and a test

use super::support::bench::{Bench, Part, codes};
use super::support::captures;
use crate::support::program::program;
use pedalproof::constants::formats::from_ihex;
use pedalproof::twin::{State, Twin, blend, settled};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::fmt::Write as _;
use std::path::Path;

/// Steps that the filter and the limits have settled after.
const SETTLED: usize = 120;

fn hex(dir: &Path, more: &[&str]) -> String {
    let (pedal, dial) = (
        captures::write_unit(dir, "T1-pedal", 3),
        captures::write_unit(dir, "T1-dial", 3),
    );
    let ran = program(dir)
        .args([
            "constants",
            &pedal,
            &dial,
            "--format",
            "ihex",
            "--out",
            "T1.hex",
        ])
        .args(more)
        .output()
        .unwrap();
    assert!(
        ran.status.success(),
        "{}",
        String::from_utf8_lossy(&ran.stderr)
    );
    std::fs::read_to_string(dir.join("T1.hex")).unwrap()
}

fn pair(rng: &mut ChaCha8Rng) -> [(usize, u16); 2] {
    [
        (0, rng.random_range(100..920)),
        (2, rng.random_range(0..860)),
    ]
}

#[test]
fn settled_outputs_are_the_twins_for_hundreds_of_pairs() {
    let Some(bench) = Bench::build(Part::Mega, &[]) else {
        return;
    };
    let dir = tempfile::tempdir().unwrap();
    let image = hex(dir.path(), &["--rise-s", "0", "--fall-s", "0"]);
    let block = from_ihex(&image).unwrap();
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    let start = usize::from(block.numbers().start.samples);
    let rest = blend::codes(&block, &[(0, blend::axis(&block, 0, 1)[0])]);
    let mut script = String::new();
    codes(&mut script, Part::Mega, &rest);
    writeln!(script, "quiet {}", start + 1).unwrap();
    let mut expected = Vec::new();
    for _ in 0..300 {
        let row = blend::codes(&block, &pair(&mut rng));
        codes(&mut script, Part::Mega, &row);
        writeln!(script, "quiet {}\nsteps 1", SETTLED - 1).unwrap();
        expected.push((row.clone(), settled(&block, &row).unwrap()));
    }
    let answers = bench.run_image(Some(&image), &script);
    assert_eq!(answers.steps.len(), expected.len());
    for (seen, (row, shown)) in answers.steps.iter().zip(&expected) {
        assert_eq!(
            (seen.state, seen.dac),
            (State::Running as u8, shown.dac),
            "{row:?}"
        );
    }
    let moving = expected.iter().filter(|(_, shown)| shown.dac > 0).count();
    assert!(moving > 200, "{moving} of the pairs command anything");
}

#[test]
fn step_by_step_with_its_limits_and_a_fault_at_the_end() {
    let Some(bench) = Bench::build(Part::Mega, &[]) else {
        return;
    };
    let dir = tempfile::tempdir().unwrap();
    let image = hex(dir.path(), &[]);
    let block = from_ihex(&image).unwrap();
    let mut rng = ChaCha8Rng::seed_from_u64(6);
    let rest = blend::codes(&block, &[(0, blend::axis(&block, 0, 1)[0])]);
    let mut rows = vec![rest; usize::from(block.numbers().start.samples) + 2];
    for _ in 0..40 {
        let row = blend::codes(&block, &pair(&mut rng));
        rows.extend(std::iter::repeat_n(row, 60));
    }
    // The pedal's signal wire touches the supply: within the persistence the board stops.
    let mut fault = rows.last().unwrap().clone();
    fault[0] = 1023;
    let persistence = usize::from(block.numbers().persistence);
    rows.extend(std::iter::repeat_n(fault, persistence + 2));
    let mut script = String::new();
    for row in &rows {
        codes(&mut script, Part::Mega, row);
        script.push_str("steps 1\n");
    }
    let answers = bench.run_image(Some(&image), &script);
    let mut twin = Twin::new(&block);
    for (n, (row, seen)) in rows.iter().zip(&answers.steps).enumerate() {
        let shown = twin.step(row);
        assert_eq!(
            (seen.dac, seen.state),
            (shown.dac, shown.state as u8),
            "step {n}, {row:?}"
        );
    }
    assert!(answers.steps.iter().any(|seen| seen.dac > 200));
    let last = answers.steps.last().unwrap();
    assert_eq!((last.state, last.dac), (State::Stopped as u8, 0));
}
