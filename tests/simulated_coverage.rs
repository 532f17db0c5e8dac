//! Coverage of 95 % intervals over units of the simulated board: each unit has its own seed, its own defects within a
//! kind, and a truth that the program never sees.
//!
//! `PEDALPROOF_UNITS=400 cargo test --test simulated_coverage -- --nocapture` prints the table; the usual size is 60.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
#![allow(clippy::cast_precision_loss)]
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // positions of 0 to 40 degrees

#[path = "support/simulated.rs"]
mod simulated;

use pedalproof::figure::{Figure, FigureName as Name};
use pedalproof::link::simulated::{
    Curve, Script, SimRun, SimUnit, Simulation, scenario, with_script,
};
use pedalproof::measure::{MeasuredChannel, figures};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use simulated::capture;

/// Standard uncertainty of a station's mark: 0.05 % of 40 degrees. The hand's scatter about the mark (`place_sd` of the
/// script) is another thing: it differs from visit to visit, is seen in them, and is not stated.
const MARK_DEG: f64 = 0.02;

fn units() -> u64 {
    std::env::var("PEDALPROOF_UNITS")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(60)
}

fn first_channel(unit: &SimUnit, seed: u64, s: f64) -> (MeasuredChannel, SimRun) {
    let run = Simulation::new(unit, seed).unwrap().run(s);
    let mut taken = capture(&run, Some(MARK_DEG));
    misread(taken.reference.as_mut(), seed);
    let measured = figures(&taken.recording().unwrap());
    (measured.channels[0].clone(), run)
}

/// Each mark is off by an amount of its own, the same at every visit: what is stated is not quite where it is.
fn misread(stated: Option<&mut Vec<f64>>, seed: u64) {
    for position in stated.into_iter().flatten().filter(|p| p.is_finite()) {
        let mark = u64::from(position.abs().mul_add(1000.0, 0.5) as u32);
        let mut chance = ChaCha8Rng::seed_from_u64(seed * 1_000_003 + mark);
        *position += MARK_DEG * chance.sample::<f64, _>(StandardNormal);
    }
}

/// Counts how often the interval holds the truth.
#[derive(Default)]
struct Tally {
    held: u64,
    of: u64,
}

impl Tally {
    fn add(&mut self, figure: Option<&Figure>, truth: f64) {
        let figure = figure.expect("the script supports it");
        let above = figure.low.is_none_or(|low| low <= truth);
        let below = figure.high.is_none_or(|high| truth <= high);
        self.held += u64::from(above && below);
        self.of += 1;
    }

    /// At least 92 %, less what chance does to so few units: 2.6 standard deviations of the count (one in 200).
    fn check(&self, what: &str) {
        let n = self.of as f64;
        let least = n * 0.92 - 2.6 * (n * 0.92 * 0.08).sqrt();
        println!(
            "{what:<40} {:>5.1} % of {}",
            100.0 * self.held as f64 / n,
            self.of
        );
        assert!(
            self.held as f64 >= least,
            "{what}: {} of {}",
            self.held,
            self.of
        );
    }
}

#[test]
fn linearity_and_hysteresis_from_stations() {
    let mut tallies: [Tally; 3] = Default::default();
    let names = [
        Name::LinearityTerminal,
        Name::LinearityIndependent,
        Name::Hysteresis,
    ];
    for seed in 0..units() {
        let mut unit = scenario("T1-pedal").unwrap();
        for channel in &mut unit.control.channels {
            // Bows of 0.5 to 2.4 % and gaps of 0.4 to 1.2 %, no two units alike.
            channel.curve = Curve::Bow(0.5 + 0.1 * (seed % 20) as f64);
            channel.hysteresis_pct = 0.4 + 0.1 * (seed % 9) as f64;
        }
        let unit = with_script(unit, Script::stations(0.0, 40.0));
        let (channel, run) = first_channel(&unit, 1000 + seed, 120.0);
        let truth = &run.truth.channels[0];
        let truths = [
            Some(truth.linearity_terminal_pct),
            truth.linearity_independent_pct,
            Some(truth.hysteresis_pct),
        ];
        for ((tally, name), truth) in tallies.iter_mut().zip(names).zip(truths) {
            if let Some(truth) = truth {
                tally.add(channel.figures.get(name), truth);
            }
        }
    }
    for (tally, name) in tallies.iter().zip(names) {
        tally.check(name.word());
    }
}

#[test]
fn levels_noise_and_strokes_from_a_card() {
    let names = [
        Name::FullCode,
        Name::NoiseRestRms,
        Name::StrokeNoiseRms,
        Name::ReturnScatter,
    ];
    let mut tallies: [Tally; 4] = Default::default();
    for seed in 0..units() {
        let mut unit = scenario("T1-lever").unwrap();
        for channel in &mut unit.control.channels {
            channel.noise_rms_code = 0.8 + 0.2 * (seed % 8) as f64;
        }
        let (channel, run) = first_channel(&unit, 2000 + seed, 50.0);
        let truth = &run.truth.channels[0];
        let noise = truth.rounded_noise_rms_code();
        let truths = [truth.full_code, noise, noise, truth.return_scatter_code];
        for ((tally, name), truth) in tallies.iter_mut().zip(names).zip(truths) {
            tally.add(channel.figures.get(name), truth);
        }
    }
    for (tally, name) in tallies.iter().zip(names) {
        tally.check(name.word());
    }
}
