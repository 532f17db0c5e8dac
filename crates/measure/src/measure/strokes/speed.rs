//! Tests only: what two million samples cost.

use crate::measure::strokes::figures_tests::{holds, measure};
use crate::measure::strokes::test_bench::Bench;
use std::time::Instant;

#[test]
#[ignore = "a measurement of time, not of right and wrong"]
fn two_million_samples() {
    let kinds = [
        ("clean", Bench::default()),
        (
            "8 bit",
            Bench {
                bits: 8,
                rest: 30.0,
                full: 130.0,
                noise: 0.2,
                ..Bench::default()
            },
        ),
        (
            "noisy",
            Bench {
                noise: 30.0,
                ..Bench::default()
            },
        ),
        (
            "bursts",
            Bench {
                bursts: Some((1.0, 0.02, 40.0)),
                ..Bench::default()
            },
        ),
    ];
    for (name, bench) in kinds {
        let bench = Bench {
            strokes: 1700,
            ..bench
        };
        let sim = bench.run(|_, _, _| {});
        let start = Instant::now();
        let (part, _) = measure(&sim, holds(&bench));
        let all = start.elapsed();
        println!(
            "{name:8} {} samples {} strokes {} dropouts: {all:?}",
            sim.codes.len(),
            part.strokes.len(),
            part.dropouts.len()
        );
    }
}
