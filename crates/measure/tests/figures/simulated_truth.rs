//! The figures of simulated captures against the truth that the program never sees.
//!
//! Belongs here: whole captures of the ready units and of units with one stated trait, through `measure`.
//! Seeds are fixed. A figure passes when the truth lies within [`WIDE`] standard uncertainties: about one in 16 000 for
//! each comparison if the uncertainty is right, so that a failure means something.
#![allow(clippy::cast_precision_loss)] // microseconds and samples of one minute

use crate::support::simulated::recording;
use measure::figure::{Figure, FigureName as Name};
use measure::{Measured, figures};
use simulator::{SCENARIO_UNITS, SimRun, Simulation, scenario};

/// Standard uncertainties within which the truth must lie.
const WIDE: f64 = 4.0;

fn measured(run: &SimRun) -> Measured {
    figures(&recording(run, run.reference.as_deref(), 0.0))
}

#[track_caller]
fn assert_near(figure: Option<&Figure>, truth: f64, what: &str) {
    let figure = figure.unwrap_or_else(|| panic!("{what}: not measured"));
    let u = figure.u.unwrap_or_else(|| panic!("{what}: no uncertainty"));
    let off = (figure.value - truth).abs();
    assert!(
        u > 0.0 && off <= WIDE * u,
        "{what}: {} +/- {u}, truth {truth}",
        figure.value
    );
}

#[test]
fn levels_and_noise_of_the_ready_units() {
    for (name, _) in SCENARIO_UNITS {
        for seed in 1..=3 {
            let run = Simulation::new(&scenario(name).unwrap(), seed)
                .unwrap()
                .run(46.0);
            for (channel, truth) in measured(&run).channels.iter().zip(&run.truth.channels) {
                let what = |figure: Name| format!("{name} seed {seed} {} {figure:?}", truth.name);
                let figure = |figure: Name| channel.figures.get(figure);
                assert_near(
                    figure(Name::RestCode),
                    truth.rest_code,
                    &what(Name::RestCode),
                );
                assert_near(
                    figure(Name::FullCode),
                    truth.full_code,
                    &what(Name::FullCode),
                );
                assert_near(
                    figure(Name::SpanCode),
                    truth.span_code,
                    &what(Name::SpanCode),
                );
                assert_near(
                    figure(Name::NoiseRestRms),
                    truth.rounded_noise_rms_code(),
                    &what(Name::NoiseRestRms),
                );
                let pressed = truth.rounded_noise_rms_code().hypot(truth.tremor_rms_code);
                assert_near(
                    figure(Name::NoiseFullRms),
                    pressed,
                    &what(Name::NoiseFullRms),
                );
            }
        }
    }
}

#[test]
fn the_sticky_pedal_scatters_and_the_good_one_does_not() {
    let scatter = |name: &str, seed: u64| {
        let run = Simulation::new(&scenario(name).unwrap(), seed)
            .unwrap()
            .run(46.0);
        measured(&run).channels[0]
            .figures
            .get(Name::ReturnScatter)
            .cloned()
            .unwrap()
    };
    for seed in 1..=5 {
        let (good, sticky) = (scatter("T1-pedal", seed), scatter("T2-pedal", seed));
        assert!(good.high.unwrap() < 4.0, "seed {seed}: {good:?}");
        assert!(
            sticky.value > 4.0 && sticky.n >= 5,
            "seed {seed}: {sticky:?}"
        );
    }
}

#[test]
fn wear_is_found_on_the_worn_lever_where_it_is_and_on_no_good_unit() {
    for seed in 1..=5 {
        let mut simulation = Simulation::new(&scenario("T3-lever").unwrap(), seed).unwrap();
        let run = simulation.run(46.0);
        // Without a reference the program knows travel as the part of the span; the pull-down bends that by up to 2 %.
        let part = |travel: f64| {
            let code = simulation.code_at(0, travel).unwrap();
            100.0 * (code - run.truth.channels[0].rest_code) / run.truth.channels[0].span_code
        };
        let zones = &measured(&run).channels[0].worn_zones;
        let worn = &run.truth.channels[0].worn;
        assert_eq!(zones.len(), worn.len(), "seed {seed}: {zones:?}");
        for (zone, (from, to)) in zones.iter().zip(worn) {
            // Half a window of 1 % of travel and half a bin on each side.
            let near = |found: f64, truth: f64| (found - part(truth)).abs() <= 1.5;
            assert!(
                near(zone.from_pct, *from) && near(zone.to_pct, *to),
                "seed {seed}: {zone:?}"
            );
        }
        for name in ["T1-pedal", "T2-pedal", "T1-dial", "T4-dial", "T1-lever"] {
            let run = Simulation::new(&scenario(name).unwrap(), seed)
                .unwrap()
                .run(46.0);
            for channel in &measured(&run).channels {
                assert!(
                    channel.worn_zones.is_empty(),
                    "{name} seed {seed}: {:?}",
                    channel.worn_zones
                );
            }
        }
    }
}

#[test]
fn every_dropout_of_the_loose_dial_is_found_and_none_elsewhere() {
    for seed in 1..=5 {
        for (name, _) in SCENARIO_UNITS {
            let run = Simulation::new(&scenario(name).unwrap(), seed)
                .unwrap()
                .run(46.0);
            let start = run.t_us[0];
            // Every sample tells, whatever its step; what the end of the recording cuts off does not return.
            let told = |t_s: f64, samples: usize| {
                let at = run
                    .t_us
                    .partition_point(|t| ((t - start) as f64) < t_s * 1e6 - 0.5);
                at + samples + 8 < run.t_us.len()
            };
            for (channel, truth) in measured(&run).channels.iter().zip(&run.truth.channels) {
                let asked: Vec<_> = truth
                    .dropouts
                    .iter()
                    .filter(|d| told(d.t_s, usize::try_from(d.samples).unwrap()))
                    .collect();
                let found: Vec<_> = channel.dropouts.iter().filter(|d| told(d.t_s, 0)).collect();
                assert_eq!(
                    found.len(),
                    asked.len(),
                    "{name} seed {seed}: {found:?} of {asked:?}"
                );
                for (found, asked) in found.iter().zip(asked) {
                    assert!(
                        (found.t_s - asked.t_s).abs() < 0.002,
                        "{name} seed {seed}: {found:?}, {asked:?}"
                    );
                    assert!(
                        (found.duration_ms - asked.samples as f64).abs() <= 1.5,
                        "{found:?}, {asked:?}"
                    );
                }
            }
        }
    }
}

#[test]
fn the_release_time_is_that_of_the_spring() {
    for (name, seed) in [("T1-pedal", 1), ("T2-pedal", 2), ("T1-lever", 3)] {
        let run = Simulation::new(&scenario(name).unwrap(), seed)
            .unwrap()
            .run(46.0);
        let figure = measured(&run).channels[0]
            .figures
            .get(Name::ReleaseTime)
            .cloned();
        let ratio = figure.unwrap().value / run.truth.release_time_s;
        // A return that hangs `h` of travel above the mean one meets 10 % of the span later than tau ln 9, by
        // tau ln(1 / (1 - 10 h)). A sticky pedal's does; of a good one nothing is left to see.
        let ends = run.truth.returns.iter().map(|seen| seen.travel);
        let mean = ends.clone().sum::<f64>() / run.truth.returns.len() as f64;
        let hangs = ends.fold(mean, f64::max) - mean;
        let late = 1.0 - (1.0 - 10.0 * hangs).ln() / 9_f64.ln();
        assert!(
            (0.98..late + 0.05).contains(&ratio),
            "{name}: {ratio}, {late} expected"
        );
    }
}
