//! Tests only: tracks of a known gain, offset, delay and bow.

#![allow(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss
)]

use super::*;
use crate::measure::reference_file::reference;
use crate::measure::strokes::figures::ready;
use crate::measure::strokes::test_bench::Bench;
use crate::units::{Code, Track};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// Parts of a code: the reference's tracks are not rounded.
const FINE: f64 = 1_048_576.0;

fn path(values: &[f64], rate_hz: f64) -> Path<'static> {
    let codes = values.iter().map(|v| Code((v * FINE).round() as u32));
    Path::of_codes(0, 1.0 / rate_hz, codes.collect::<Vec<_>>().leak())
}

fn ends(rest: f64, full: f64) -> Ends {
    Ends::from_holds(Some(rest * FINE), Some(full * FINE)).unwrap()
}

/// The tracks of `tests/reference/26` at a delay in ms.
fn reference_tracks(delay_ms: f64) -> (Vec<f64>, Vec<f64>) {
    let a = |t: f64| 500.0 + 3000.0 * (0.5 - 0.5 * (std::f64::consts::TAU * 0.8 * t).cos());
    let times = (0..5000).map(|i| f64::from(i) / 1000.0);
    let b = times
        .clone()
        .map(|t| 120.0 + 0.5 * a(t - delay_ms / 1000.0));
    (times.map(a).collect(), b.collect())
}

/// Two tracks at 1 kHz, a from 500 to 3500 and b from 370 to 1870, and what a's strokes are.
fn pair_of(a: &[f64], b: &[f64]) -> (ChannelPair<'static, 'static>, PreparedStrokes<'static>) {
    let ends_a = ends(500.0, 3500.0);
    let (path_a, path_b) = (path(a, 1000.0), path(b, 1000.0));
    let strokes = crate::measure::strokes::segment::strokes_of(&path_a, ends_a, 0.3);
    let moving = PreparedStrokes {
        paths: vec![path_a.clone()],
        strokes: vec![strokes],
        ends: ends_a,
        dropouts: Vec::new(),
        bounce_pct: None,
        sigma: 0.3,
    };
    let both = ChannelPair {
        paths_a: vec![path_a].into(),
        paths_b: vec![path_b].into(),
        ends_b: Some(ends(370.0, 1870.0)),
    };
    (both, moving)
}

#[test]
fn reference_tracks_give_their_delay_gain_and_offset() {
    // tests/reference/26: by construction. Lag to 1e-6 ms (phase), gain and offset to 1e-8.
    let file = reference("26-track-pair.json");
    for (key, want) in file["expected"]["tracks_by_delay_ms"].as_object().unwrap() {
        let delay_ms: f64 = key.parse().unwrap();
        let (a, b) = reference_tracks(delay_ms);
        let (both, moving) = pair_of(&a, &b);
        assert_eq!(moving.strokes[0].len(), 8);
        let ends_a = moving.ends;
        let tracks = both.tracks(&moving).unwrap();
        let delay = lag::delay(&tracks).unwrap();
        let ms = delay.samples;
        assert!((ms - delay_ms).abs() < 1e-6, "lag {ms} for {delay_ms}");
        let line = Line::of(&tracks, Some(&delay), 1.0).unwrap();
        let gain = want["gain_by_construction"].as_f64().unwrap();
        let offset = want["offset_by_construction"].as_f64().unwrap();
        assert!((line.slope / gain - 1.0).abs() < 1e-8, "{}", line.slope);
        assert!(
            (line.intercept / FINE / offset - 1.0).abs() < 1e-6,
            "{}",
            line.intercept
        );
        // The largest departure: of averages over 1 % of travel, so a little below that of single samples.
        let largest = want["largest_departure_pct_of_span_b"].as_f64().unwrap();
        let got = both.disagreement(&tracks, &line, ends_a, 0.0).unwrap();
        assert!(
            (got.value - largest).abs() < 1e-3 * largest + 1e-6,
            "{got:?} {largest}"
        );
    }
}

#[test]
fn what_b_does_while_a_stands_is_not_averaged_out() {
    // Up in a second, two seconds at 99.5 % where b sags by 150 of its 1500 codes for a tenth of a second, and down; four times.
    let way = |t: f64| 0.5 - 0.5 * (std::f64::consts::PI * t.clamp(0.0, 1.0)).cos();
    let travel = |t: f64| 0.995 * if t < 3.0 { way(t) } else { way(4.0 - t) };
    let times = || (0..16_000).map(|i| f64::from(i % 4000) / 1000.0);
    let a: Vec<f64> = times().map(|t| 500.0 + 3000.0 * travel(t)).collect();
    let sag = |t: f64| 150.0 * (-0.5 * ((t - 2.013) / 0.05).powi(2)).exp();
    let b: Vec<f64> = times()
        .zip(&a)
        .map(|(t, a)| 120.0 + 0.5 * a - sag(t))
        .collect();
    let (both, moving) = pair_of(&a, &b);
    let tracks = both.tracks(&moving).unwrap();
    let line = Line::of(&tracks, None, 1.0).unwrap();
    let got = both.disagreement(&tracks, &line, moving.ends, 0.0).unwrap();
    // By hand: the mean of the normal curve over one standard deviation beside its peak is 0.856 of it, of 10 % of span.
    assert!((8.0..10.2).contains(&got.value), "{got:?}");
}

#[test]
fn overlap_correlation_peaks_at_the_delay() {
    // tests/reference/26: peaks by whole samples of the normalised overlap.
    let file = reference("26-track-pair.json");
    for (key, want) in file["expected"]["tracks_by_delay_ms"].as_object().unwrap() {
        let (a, b) = reference_tracks(key.parse().unwrap());
        let peak = want["overlap_correlation_peak_samples"].as_i64().unwrap();
        let got = lag::overlap_delay(&a, &b, 40, 1, 1).unwrap();
        assert_eq!(i64::try_from(got).unwrap(), peak);
    }
}

struct Pair {
    gain: f64,
    offset: f64,
    delay_ms: f64,
    bow_pct: f64,
    play_pct: f64,
    noise_b: f64,
}

/// Figures of a simulated pair, and the true disagreement in %.
fn measure(bench: &Bench, pair: &Pair) -> (Figures, f64) {
    let mut random = ChaCha8Rng::seed_from_u64(bench.seed + 77_000);
    let sim = bench.run(|_, _, _| {});
    let delay = (pair.delay_ms / 1000.0 * bench.rate_hz * 64.0).round() as usize;
    // The same hand at 64 times the rate gives delays of a fraction of a sample.
    let at = |i: usize| -> f64 {
        let back = delay as f64 / 64.0;
        let place = (i as f64 - back).max(0.0);
        let low = place.floor() as usize;
        let next = (low + 1).min(sim.travel.len() - 1);
        sim.travel[low] + (place - place.floor()) * (sim.travel[next] - sim.travel[low])
    };
    let mut worst = 0.0_f64;
    let span_b = pair.gain * (bench.full - bench.rest);
    let codes: Vec<Code> = (0..sim.travel.len())
        .map(|i| {
            let x = at(i) / 100.0;
            let way = at(i) - if i > 0 { at(i - 1) } else { at(i) };
            let play = pair.play_pct / 200.0 * if way.abs() < 1e-9 { 0.0 } else { way.signum() };
            let bow = pair.bow_pct / 100.0 * 4.0 * x * (1.0 - x);
            let clean = pair.offset + pair.gain * bench.rest + span_b * (x + bow + play);
            let ideal = pair.offset
                + pair.gain * (bench.rest + (bench.full - bench.rest) * sim.travel[i] / 100.0);
            worst = worst.max((clean - ideal).abs() / span_b.abs() * 100.0);
            let noise: f64 = StandardNormal.sample(&mut random);
            Code((clean + pair.noise_b * noise).round().max(0.0) as u32)
        })
        .collect();
    let mut recording = sim.recording();
    let b = Channel::signal("lever_b", Track::Two, &codes);
    recording.channels.push(b);
    let hold = |rest: f64, full: f64, noise| HoldEvidence {
        rest: Some(rest),
        full: Some(full),
        noise: Some(noise),
    };
    let ends = |code: f64| pair.offset + pair.gain * code;
    let a = sim.channel();
    let holds_a = hold(bench.rest, bench.full, bench.noise);
    let holds_b = hold(ends(bench.rest), ends(bench.full), pair.noise_b);
    let ready_a = ready(&recording, &a, holds_a);
    let ready_b = ready(&recording, &b, holds_b);
    let figures = pair_part(
        &recording,
        (&a, ready_a.as_ref()),
        (&b, ready_b.as_ref()),
        holds_b,
    );
    (figures, worst)
}

const USUAL: Pair = Pair {
    gain: 0.5,
    offset: 120.0,
    delay_ms: 3.0,
    bow_pct: 0.0,
    play_pct: 0.0,
    noise_b: 2.0,
};

/// Units whose interval holds the truth: gain, offset, disagreement, lag; and how many were drawn.
fn covered(name: &str, bench: &Bench, pair: &Pair) -> ([f64; 4], f64) {
    let units: u64 = std::env::var("PEDALPROOF_UNITS").map_or(40, |units| units.parse().unwrap());
    let mut covered = [0.0; 4];
    for seed in 0..units {
        let bench = Bench {
            seed,
            ..bench.clone()
        };
        let (figures, disagreement) = measure(&bench, pair);
        let truths = [
            (FigureName::TrackGain, pair.gain),
            (FigureName::TrackOffset, pair.offset),
            (FigureName::TrackDisagreement, disagreement),
            (FigureName::TrackLag, pair.delay_ms),
        ];
        for (count, (name, truth)) in covered.iter_mut().zip(truths) {
            let figure = figures.get(name).unwrap();
            let holds = figure.low.unwrap() <= truth && truth <= figure.high.unwrap();
            *count += if holds { 1.0 } else { 0.0 };
        }
    }
    println!("{name:20} covered {covered:?} of {units}");
    (covered, units as f64)
}

#[test]
fn intervals_hold_the_truth() {
    let falling = Pair {
        gain: -0.5,
        offset: 2000.0,
        ..USUAL
    };
    let at_once = Pair {
        delay_ms: 0.0,
        ..USUAL
    };
    let slow_board = Bench {
        rate_hz: 100.0,
        ..Bench::default()
    };
    let mut all = [0.0; 4];
    let mut drawn = 0.0;
    for (name, bench, pair) in [
        ("delay 3 ms", Bench::default(), &USUAL),
        ("no delay", Bench::default(), &at_once),
        ("falling", Bench::default(), &falling),
        ("100 Hz", slow_board, &USUAL),
    ] {
        let (covered, units) = covered(name, &bench, pair);
        for (sum, one) in all.iter_mut().zip(covered) {
            *sum += one;
        }
        drawn += units;
    }
    for share in all.map(|covered| covered / drawn) {
        assert!(share >= 0.92, "{all:?} of {drawn}");
    }
}

#[test]
fn play_between_the_tracks_is_no_delay() {
    let pair = Pair {
        delay_ms: 2.0,
        play_pct: 0.5,
        ..USUAL
    };
    let (figures, _) = measure(&Bench::default(), &pair);
    let lag = figures.value(FigureName::TrackLag).unwrap();
    assert!((lag - 2.0).abs() < 0.1, "{lag}");
    let disagreement = figures.value(FigureName::TrackDisagreement).unwrap();
    assert!(
        disagreement > 0.25,
        "half the play at least: {disagreement}"
    );
}

#[test]
fn tracks_that_do_not_move_together_have_no_figures() {
    let bench = Bench::default();
    let dead = Pair {
        gain: 0.0,
        offset: 700.0,
        ..USUAL
    };
    let (figures, _) = measure(&bench, &dead);
    assert!(figures.iter().all(|(_, figure)| figure.is_none()));
    let one_stroke = Bench {
        strokes: 1,
        ..bench
    };
    let (figures, _) = measure(&one_stroke, &USUAL);
    assert!(figures.iter().all(|(_, figure)| figure.is_none()));
}
