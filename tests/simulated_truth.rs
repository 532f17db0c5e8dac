//! The figures of simulated captures against the truth that the program never sees.
//!
//! Belongs here: whole captures of the ready units and of units with one stated trait, through `capture` and `measure`.
//! Seeds are fixed. A figure passes when the truth lies within [`WIDE`] standard uncertainties: about one in 16 000 for
//! each comparison if the uncertainty is right, so that a failure means something.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use pedalproof::capture::{Board, Capture, ChannelMeta, Metadata, RefMeta, StreamCounts, UnitMeta};
use pedalproof::figure::{Figure, FigureName as Name};
use pedalproof::link::simulated::{SCENARIO_UNITS, SimRun, Simulation, scenario};
use pedalproof::measure::{Measured, figures};

/// Standard uncertainties within which the truth must lie.
const WIDE: f64 = 4.0;

/// A simulated run as the capture that a perfect operator would have taken: every step labelled as it was.
fn capture(run: &SimRun) -> Capture {
    let channels = run.channels.iter().map(|(name, role, track)| {
        let meta = ChannelMeta {
            role: *role,
            track: Some(*track),
        };
        (name.clone(), meta)
    });
    Capture {
        meta: Metadata {
            board: Board {
                name: "simulated".to_owned(),
                bits: run.board.bits,
                vref_mv: run.board.vref_mv,
                rate_hz: run.board.rate_hz,
                inl_code: None,
                clock: None,
            },
            unit: UnitMeta {
                tag: Some(run.tag.clone()),
                profile: None,
            },
            channels: channels.collect(),
            reference: run.reference.as_ref().map(|_| RefMeta {
                unit: "deg".to_owned(),
                low: None,
                high: None,
                u: None,
            }),
            started: None,
            stream: StreamCounts::default(),
            note: None,
        },
        t_us: run.t_us.clone(),
        passages: run.passages.clone(),
        codes: run.codes.clone(),
        reference: run.reference.clone(),
        lost: None,
    }
}

fn measured(run: &SimRun) -> Measured {
    figures(&capture(run).recording().unwrap())
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
