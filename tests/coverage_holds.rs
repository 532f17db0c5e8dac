//! Do the 95 % intervals of the figures from holds cover the truth? Seeded units with known truth.
//!
//! `cargo test --test coverage_holds -- --nocapture` prints the table; `PEDALPROOF_UNITS=4000` makes it a large one.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use pedalproof::figure::FigureName as Name;
use pedalproof::units::Step;
use std::collections::BTreeMap;
use support::{Bench, Noise};

/// What a simulated unit is made of, in codes and seconds.
#[derive(Clone, Copy)]
struct Unit {
    bits: u32,
    noise: f64,
    phi: f64,
    scatter: f64,
    hum: f64,
}

const REST: f64 = 164.3;
const FULL: f64 = 860.2;
const TAU_S: f64 = 0.04;
const RELEASES: usize = 6;

/// Rest, full, then one release passage with several presses and releases.
/// Gives back the levels the control returned to.
fn play(unit: Unit, seed: u64) -> (Bench, Vec<f64>) {
    let mut noise = Noise::new(seed, unit.phi);
    let mut bench = Bench::new(unit.bits);
    let factor = f64::from(1 << (unit.bits - 10));
    let (rest, full) = (REST * factor, FULL * factor);
    // Where between two codes the levels lie differs from unit to unit.
    let (rest, full) = (rest + noise.white(), full + noise.white());
    let phase = noise.white();
    let levels: Vec<f64> = (0..=RELEASES)
        .map(|_| rest + unit.scatter * noise.white())
        .collect();
    let mut put = |bench: &mut Bench, level: f64| {
        let t = bench.codes.len() as f64 / bench.rate_hz;
        let hum = unit.hum * 2.0_f64.sqrt() * (std::f64::consts::TAU * 50.0 * t + phase).sin();
        bench.push(level + hum + unit.noise * noise.next());
    };
    bench.passage(Step::Rest, |b| (0..1500).for_each(|_| put(b, levels[0])));
    bench.passage(Step::Full, |b| (0..1500).for_each(|_| put(b, full)));
    bench.passage(Step::Release, |b| {
        for level in &levels[1..] {
            (0..150).for_each(|_| put(b, full));
            for i in 0..1000 {
                let fall = (-f64::from(i) * 1e-3 / TAU_S).exp();
                put(b, level + (full - level) * fall);
            }
            for i in 0..200 {
                // A minimum-jerk press.
                let x = f64::from(i) / 200.0;
                let s = x * x * x * (10.0 - 15.0 * x + 6.0 * x * x);
                put(b, level + (full - level) * s);
            }
        }
        for i in 0..1000 {
            let level = levels[RELEASES];
            let fall = (-f64::from(i) * 1e-3 / TAU_S).exp();
            put(b, level + (full - level) * fall);
        }
    });
    let mut truth = levels;
    truth.push(full);
    truth.push(rest);
    (bench, truth)
}

fn truths(unit: Unit, drawn: &[f64]) -> BTreeMap<Name, f64> {
    let (rest, full) = (drawn[RELEASES + 2], drawn[RELEASES + 1]);
    // The last level is used twice: the passage ends in a return of its own.
    let returned = &drawn[1..=RELEASES];
    let low = returned.iter().copied().fold(f64::INFINITY, f64::min);
    let high = returned.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let shown = (unit.noise.powi(2) + unit.hum.powi(2) + 1.0 / 12.0).sqrt();
    let codes = f64::from(1 << unit.bits);
    BTreeMap::from([
        (Name::RestCode, rest),
        (Name::FullCode, full),
        (Name::RestRatio, rest / codes),
        (Name::FullRatio, full / codes),
        (Name::SpanCode, full - rest),
        (Name::NoiseRestRms, shown),
        (Name::NoiseFullRms, shown),
        (Name::NoiseFreeBits, ((full - rest) / 6.6 / shown).log2()),
        (Name::ReturnScatter, unit.scatter),
        (Name::ReturnRange, high - low),
    ])
}
