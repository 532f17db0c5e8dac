//! Do the 95 % intervals of the figures that live in time cover the truth? Seeded units with known truth.
//!
//! `cargo test --test figures coverage_time:: -- --nocapture` prints the table; `PEDALPROOF_UNITS=4000` makes it a large one.
#![allow(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss
)] // counts of units and samples

use crate::support::bench::{Bench, Noise};
use measure::figure::{Figure, FigureName as Name};
use measure::units::{Role, Step};

fn units() -> u64 {
    std::env::var("PEDALPROOF_UNITS").map_or(200, |n| n.parse().unwrap())
}

/// Counts how often the interval of `name` holds the truth that `play` gives with the capture; 92 to 98 %, widened
/// by 2.6 standard deviations of the count itself, above as well unless `over_is_fine`.
fn covers(what: &str, name: Name, over_is_fine: bool, play: impl Fn(u64) -> (Bench, f64)) {
    let n = units();
    let (mut inside, mut bias, mut width) = (0_u64, 0.0, 0.0);
    for nth in 0..n {
        let (bench, truth) = play(77_000 + nth);
        let measured = bench.measure();
        let figure: &Figure = measured.channels[0]
            .figures
            .get(name)
            .unwrap_or_else(|| panic!("{what}, unit {nth}: no {name}"));
        let (low, high) = (figure.low.unwrap(), figure.high.unwrap());
        inside += u64::from(low <= truth && truth <= high);
        bias += (figure.value - truth) / n as f64;
        width += (high - low) / n as f64;
    }
    let share = inside as f64 / n as f64;
    println!(
        "{what:34} {name:18} {:6.1} %  bias {bias:+.5}  mean width {width:.5}",
        share * 100.0
    );
    let slack = 2.6 * (0.95 * 0.05 / n as f64).sqrt();
    assert!(share >= 0.92 - slack, "{what}: {name} covers {share}");
    assert!(
        share <= 0.98 + slack || over_is_fine,
        "{what}: {name} covers {share}"
    );
}

#[test]
fn drift() {
    for (what, phi, seconds, rate) in [
        ("drift, white, 5 s at 1 kHz", 0.0, 5, 1000.0),
        ("drift, correlated 0.98, 5 s", 0.98, 5, 1000.0),
        ("drift, correlated 0.8, 60 s at 10 Hz", 0.8, 60, 10.0),
    ] {
        covers(what, Name::DriftPerMin, false, |seed| {
            let mut noise = Noise::new(seed, phi);
            let mut bench = Bench::new(12);
            bench.rate_hz = rate;
            let per_minute = 20.0 * noise.white();
            bench.passage(Step::Rest, |b| {
                for i in 0..(seconds * rate as usize) {
                    let t = i as f64 / rate;
                    b.push(2000.0 + per_minute * t / 60.0 + 3.0 * noise.next());
                }
            });
            (bench, per_minute)
        });
    }
}

#[test]
fn hum() {
    for (what, amplitude, phi) in [
        ("no hum, white noise", 0.0, 0.0),
        ("hum 0.3 in noise 2", 0.3, 0.0),
        ("hum 3 in noise 2", 3.0, 0.0),
        ("hum 1 in correlated noise", 1.0, 0.9),
    ] {
        covers(what, Name::Hum50Rms, amplitude == 0.0, |seed| {
            let mut noise = Noise::new(seed, phi);
            let mut bench = Bench::new(10);
            let phase = noise.white() * 3.0;
            bench.passage(Step::Rest, |b| {
                for i in 0..3000 {
                    let t = f64::from(i) * 1e-3;
                    let line = (std::f64::consts::TAU * 50.0 * t + phase).sin();
                    b.push(300.3 + 2.0_f64.sqrt() * amplitude * line + 2.0 * noise.next());
                }
            });
            (bench, amplitude)
        });
    }
}

#[test]
fn release_time() {
    for (what, tau, releases, noisy, jitter_us) in [
        ("one release, tau 40 ms", 0.04, 1, 2.0, 0.0),
        ("six equal releases, tau 40 ms", 0.04, 6, 2.0, 0.0),
        ("one slow release, tau 300 ms", 0.3, 1, 2.0, 0.0),
        ("one fast release, tau 3 ms", 0.003, 1, 1.0, 0.0),
        ("one, tau 40 ms, stamps 250 us off", 0.04, 1, 0.5, 250.0),
    ] {
        covers(what, Name::ReleaseTime, tau < 0.01, |seed| {
            let mut noise = Noise::new(seed, 0.0);
            let mut bench = Bench {
                jitter_us,
                ..Bench::new(10)
            };
            let (rest, full) = (164.0 + noise.white(), 860.0 + noise.white());
            // Several presses: one alone would leave open how far full varies between them, and widen everything.
            for _ in 0..5 {
                bench.passage(Step::Rest, |b| {
                    (0..300).for_each(|_| b.push(rest + noisy * noise.next()));
                });
                bench.passage(Step::Full, |b| {
                    (0..300).for_each(|_| b.push(full + noisy * noise.next()));
                });
            }
            bench.passage(Step::Release, |b| {
                for _ in 0..releases {
                    let hold = 200 + (noise.white().abs() * 20.0) as usize;
                    for _ in 0..hold {
                        b.push(full + noisy * noise.next());
                    }
                    let at = 0.5 + 0.4 * (noise.white() * 5.0).sin();
                    for i in 0..(400 + (tau * 12_000.0) as usize) {
                        let fall = (-(i as f64 + at) * 1e-3 / tau).exp();
                        b.push(rest + (full - rest) * fall + noisy * noise.next());
                    }
                }
            });
            (bench, 9.0_f64.ln() * tau)
        });
    }
}

#[test]
fn ratiometric_error() {
    for (what, error, noisy) in [
        ("ratiometric, noise 2", 0.0, 2.0),
        ("follows by half, noise 2", -0.5, 2.0),
        ("ratiometric, quiet", 0.0, 0.2),
    ] {
        covers(what, Name::RatiometricError, noisy < 0.5, |seed| {
            let mut noise = Noise::new(seed, 0.0);
            let mut bench = Bench::new(10);
            let middle = 420.0 + 10.0 * noise.white();
            let mut supply = Vec::new();
            bench.passage(Step::Supply, |b| {
                for i in 0..6000_u32 {
                    // Down to 0.9, up to 1.1, back, in steps with short ramps, as a person turns a bench supply.
                    let part = f64::from(i) / 6000.0;
                    let step =
                        (part * 8.0).floor() / 8.0 + ((part * 8.0).fract() * 4.0).min(1.0) / 8.0;
                    let v = 1.0 + 0.1 * (std::f64::consts::TAU * step).sin();
                    b.push(middle * v.powf(1.0 + error) + noisy * noise.next());
                    supply.push(800.0 * v + noisy * noise.white());
                }
            });
            bench.add("supply", Role::Supply, &supply);
            (bench, error)
        });
    }
}

#[test]
fn board_figures() {
    for (what, name, noisy) in [
        ("board noise 1.5", Name::BoardNoiseRms, 1.5),
        ("board low, noise 1.5", Name::BoardLowCode, 1.5),
        ("board high, noise 0.1", Name::BoardHighCode, 0.1),
    ] {
        covers(what, name, noisy < 0.5, |seed| {
            let mut noise = Noise::new(seed, 0.0);
            let mut bench = Bench::new(12);
            let (low, high) = (9.0 + noise.white(), 4080.0 + noise.white());
            bench.passage(Step::Ground, |b| {
                (0..1000).for_each(|_| b.push(low + noisy * noise.next()));
            });
            bench.passage(Step::Reference, |b| {
                (0..1000).for_each(|_| b.push(high + noisy * noise.next()));
            });
            let shown = (noisy * noisy + 1.0 / 12.0_f64).sqrt();
            let truth = match name {
                Name::BoardLowCode => low,
                Name::BoardHighCode => high,
                _ => shown,
            };
            (bench, truth)
        });
    }
}
