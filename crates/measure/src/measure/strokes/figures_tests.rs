//! Tests only: what `strokes_part` says of simulated controls whose truth is known.
//!
//! `PEDALPROOF_UNITS=400 cargo test -p pedalproof-measure --lib strokes::figures -- --nocapture` draws more units and prints the rates.
#![allow(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss
)]

use crate::figure::{FigureName, Figures, Scope};
use crate::measure::strokes::defects::{Dropout, Towards};
use crate::measure::strokes::figures::{HoldEvidence, StrokesPart, ready, strokes_part};
use crate::measure::strokes::segment::{Direction, EndsFrom};
use crate::measure::strokes::test_bench::{Bench, Simulated};
use crate::measure::strokes::wear::shared_zones;
use crate::units::{Code, Passage, Step};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::ops::Range;

pub fn holds(bench: &Bench) -> HoldEvidence {
    HoldEvidence {
        rest: Some(bench.rest),
        full: Some(bench.full),
        noise: Some(bench.noise.max(0.29)),
    }
}

pub fn measure(sim: &Simulated, holds: HoldEvidence) -> (StrokesPart, Figures) {
    let mut figures = Figures::new(Scope::Channel);
    let recording = sim.recording();
    let channel = sim.channel();
    let ready = ready(&recording, &channel, holds);
    let part = strokes_part(&recording, &channel, holds, ready.as_ref(), &mut figures);
    (part, figures)
}

/// Units to draw: `normal`, or as many as the environment asks for.
fn units(normal: u64) -> u64 {
    std::env::var("PEDALPROOF_UNITS").map_or(normal, |units| units.parse().unwrap())
}

fn clean_kinds() -> Vec<(&'static str, Bench)> {
    let usual = Bench::default();
    let with = |change: fn(&mut Bench)| {
        let mut bench = usual.clone();
        change(&mut bench);
        bench
    };
    vec![
        ("12 bits, 1 kHz", usual.clone()),
        (
            "100 Hz, fast",
            with(|b| (b.rate_hz, b.seconds) = (100.0, [0.4, 0.6])),
        ),
        (
            "100 Hz, slow",
            with(|b| (b.rate_hz, b.seconds) = (100.0, [1.0, 3.0])),
        ),
        ("2 kHz", with(|b| b.rate_hz = 2000.0)),
        ("noise 0.1 code", with(|b| b.noise = 0.1)),
        (
            "8 bits, span 100, noise 0.2",
            with(|b| (b.bits, b.rest, b.full, b.noise) = (8, 30.0, 130.0, 0.2)),
        ),
        (
            "8 bits, span 100, no noise, slow",
            with(|b| {
                (b.bits, b.rest, b.full, b.noise, b.seconds) = (8, 30.0, 130.0, 0.0, [1.0, 3.0]);
            }),
        ),
        (
            "10 bits, falling, noise 3",
            with(|b| (b.bits, b.rest, b.full, b.noise) = (10, 900.0, 120.0, 3.0)),
        ),
        (
            "16 bits",
            with(|b| (b.bits, b.rest, b.full, b.noise) = (16, 6000.0, 58_000.0, 6.0)),
        ),
        ("trembling hand", with(|b| b.tremor = (0.3, 9.0))),
        ("three strokes", with(|b| b.strokes = 3)),
        ("jitter 20 us", with(|b| b.jitter_us = 20.0)),
    ]
}

#[test]
fn clean_units_are_clean() {
    let mut drawn = 0;
    let (mut zones, mut covered, mut untold) = (0, 0, 0);
    for (name, bench) in clean_kinds() {
        let mut here = 0;
        let mut share = 0.0;
        for seed in 0..units(25) {
            let bench = Bench {
                seed,
                ..bench.clone()
            };
            let (part, figures) = measure(&bench.run(|_, _, _| {}), holds(&bench));
            assert_eq!(part.dropouts, [], "{name}, seed {seed}: none placed");
            assert_eq!(part.strokes.len(), bench.strokes, "{name}, seed {seed}");
            assert!(part.strokes.iter().all(|stroke| stroke.complete));
            here += u64::from(!part.worn_zones.is_empty());
            // Some are too fast to tell: missing, and none the less clean.
            match figures.value(FigureName::InterferenceShare) {
                Some(value) => share += value,
                None => untold += 1,
            }
            // Truth: the noise and the rounding together.
            let truth = bench.noise.hypot(1.0 / 12.0_f64.sqrt());
            let noise = figures.get(FigureName::StrokeNoiseRms).unwrap();
            covered += u64::from(noise.low.unwrap() <= truth && truth <= noise.high.unwrap());
            drawn += 1;
        }
        let mean = share / units(25) as f64;
        println!("{name:34} worn {here} interference {mean:.4} %");
        assert!(
            mean < 0.05,
            "{name}: interference {mean} % where there is none"
        );
        zones += here;
    }
    println!("worn {zones} of {drawn}; noise covered {covered}; no share {untold}");
    assert!(untold * 50 <= drawn, "no share: {untold} of {drawn}");
    assert!(zones * 100 <= drawn, "false worn zones: {zones} of {drawn}");
    let coverage = covered as f64 / drawn as f64;
    assert!((0.92..=0.99).contains(&coverage), "coverage {coverage}");
}

#[test]
fn a_worn_zone_is_found_where_it_is() {
    for zone in [40.0..46.0, 3.0..9.0, 88.0..94.0] {
        let mut found = 0;
        for seed in 0..units(60) {
            let bench = Bench {
                seed,
                worn: Some((zone.clone(), 5.0)),
                ..Bench::default()
            };
            let (part, figures) = measure(&bench.run(|_, _, _| {}), holds(&bench));
            if let [worn] = part.worn_zones[..] {
                found += 1;
                assert!((worn.from_pct - zone.start).abs() <= 2.0, "{worn:?}");
                assert!((worn.to_pct - zone.end).abs() <= 2.0, "{worn:?}");
                assert!((2.5..7.0).contains(&worn.noise_ratio), "{worn:?}");
                assert!(worn.strokes_seen >= 4 && worn.strokes == 6, "{worn:?}");
                assert_eq!(figures.value(FigureName::WornZonesCount), Some(1.0));
                let share = figures.value(FigureName::InterferenceShare).unwrap();
                assert!(share < 0.5, "wear called interference: {share} %");
                let map = part.map.unwrap();
                let middle = &map.bins[44.min(zone.end as usize - 3)];
                if zone.start > 39.0 && zone.end < 50.0 {
                    assert!(middle.both.median.unwrap() > 2.5 * map.overall);
                    assert_eq!(middle.both.strokes, 6);
                    assert_eq!(middle.up.strokes + middle.down.strokes, 6);
                }
            }
        }
        println!("worn {zone:?}: {found} of {}", units(60));
        assert!(found * 100 >= units(60) * 99, "{zone:?}: only {found}");
    }
}

#[test]
fn interference_is_not_wear_and_is_measured() {
    let (mut zones, mut drawn) = (0, 0);
    for bursts in [(1.0, 0.02, 10.0), (4.0, 0.02, 10.0), (2.0, 0.05, 6.0)] {
        let (mut said, mut true_share) = (0.0, 0.0);
        for seed in 0..units(40) {
            let bench = Bench {
                seed,
                bursts: Some(bursts),
                ..Bench::default()
            };
            let sim = bench.run(|_, _, _| {});
            let (part, figures) = measure(&sim, holds(&bench));
            zones += u64::from(!part.worn_zones.is_empty());
            drawn += 1;
            said += figures.value(FigureName::InterferenceShare).unwrap();
            let inside = || part.strokes.iter().flat_map(|s| s.range.clone());
            let noisy = inside().filter(|&i| sim.in_burst[i]).count();
            true_share += 100.0 * noisy as f64 / inside().count() as f64;
        }
        println!("bursts {bursts:?}: said {said:.1} true {true_share:.1}");
        assert!(
            (said / true_share - 1.0).abs() < 0.15,
            "{bursts:?}: {said} {true_share}"
        );
    }
    assert!(
        zones * 100 <= drawn,
        "bursts called wear: {zones} of {drawn}"
    );
}

/// Dropouts placed in a unit: how long in samples, how deep as a share of the span.
struct Placed {
    name: &'static str,
    bench: Bench,
    samples: usize,
    depth: Range<f64>,
}

impl Placed {
    /// A capture with dropouts at random times, 0.1 s apart or more, and when each began.
    fn run(&self, seed: u64) -> (Bench, Simulated, Vec<f64>) {
        let bench = Bench {
            seed,
            ..self.bench.clone()
        };
        let top = f64::from((1_u32 << bench.bits) - 1);
        let mut truth = Vec::new();
        let sim = bench.run(|signal, _, random| {
            let mut at = 20;
            loop {
                let seconds: f64 = random.random_range(0.1..0.9);
                at += crate::measure::strokes::path::nearest(seconds * bench.rate_hz);
                if at + 30 + self.samples > signal.len() {
                    break;
                }
                let depth = random.random_range(self.depth.clone()) * (bench.full - bench.rest);
                let up = signal[at] + depth < top && random.random_bool(0.3);
                if !up && signal[at] < depth + 0.5 {
                    continue;
                }
                for value in &mut signal[at..at + self.samples] {
                    *value += if up { depth } else { -depth };
                }
                truth.push(at as f64 / bench.rate_hz);
                at += self.samples;
            }
        });
        (bench, sim, truth)
    }

    fn check(&self) {
        let (mut placed, mut found, mut invented) = (0, 0, 0);
        for seed in 0..units(25) {
            let (bench, sim, truth) = self.run(seed);
            let (part, _) = measure(&sim, holds(&bench));
            let ms = 1000.0 / bench.rate_hz;
            let is = |t: f64, d: &Dropout| {
                let wanted = self.samples as f64 * ms;
                (d.t_s - t).abs() * 1000.0 < 0.5 * ms && (d.duration_ms - wanted).abs() < 0.5 * ms
            };
            placed += truth.len();
            found += truth
                .iter()
                .filter(|&&t| part.dropouts.iter().any(|d| is(t, d)))
                .count();
            invented += part
                .dropouts
                .iter()
                .filter(|d| !truth.iter().any(|&t| is(t, d)))
                .count();
        }
        println!(
            "{:30} placed {placed} found {found} invented {invented}",
            self.name
        );
        assert!(placed > 50);
        assert_eq!((found, invented), (placed, 0), "{}", self.name);
    }
}

#[test]
fn every_dropout_is_found_and_none_invented() {
    let usual = Bench::default();
    let fast = Bench {
        seconds: [0.4, 0.45],
        ..usual.clone()
    };
    let at = |rate_hz: f64, bench: &Bench| Bench {
        rate_hz,
        ..bench.clone()
    };
    let worn = Bench {
        worn: Some((40.0..46.0, 5.0)),
        ..usual.clone()
    };
    for (name, bench, samples, depth) in [
        ("3 ms to the rail", &usual, 3, 0.9..1.0),
        ("3 ms, 3 to 5 %", &usual, 3, 0.03..0.05),
        ("one sample, 3 to 5 %", &usual, 1, 0.03..0.05),
        ("one sample, fast strokes", &fast, 1, 0.03..0.1),
        ("3 ms, fast strokes", &fast, 3, 0.03..0.1),
        ("20 ms", &usual, 20, 0.05..0.1),
        ("60 ms, fast strokes", &fast, 60, 0.2..0.4),
        ("100 Hz, one sample", &at(100.0, &usual), 1, 0.03..0.1),
        ("100 Hz, one sample, fast", &at(100.0, &fast), 1, 0.04..0.1),
        ("2 kHz, 3 ms", &at(2000.0, &usual), 6, 0.03..0.1),
        ("3 ms, worn track", &worn, 3, 0.05..0.1),
    ] {
        Placed {
            name,
            bench: bench.clone(),
            samples,
            depth,
        }
        .check();
    }
}

#[test]
fn a_wiper_that_lifts_at_one_place_tells_its_travel() {
    for (rest, full) in [(410.0, 3600.0), (3600.0, 410.0)] {
        let bench = Bench {
            rest,
            full,
            ..Bench::default()
        };
        let sim = bench.run(|signal, travel, _| {
            for (value, at) in signal.iter_mut().zip(travel) {
                if (60.0..60.8).contains(at) {
                    *value = 0.0;
                }
            }
        });
        let (part, figures) = measure(&sim, holds(&bench));
        assert_eq!(part.dropouts.len(), 6);
        assert_eq!(figures.value(FigureName::DropoutsCount), Some(6.0));
        for dropout in &part.dropouts {
            assert!((dropout.travel_pct.unwrap() - 60.4).abs() < 1.0);
            assert_eq!(dropout.towards, Towards::Ground);
        }
        assert_eq!(part.strokes.len(), 6, "dropouts make no strokes");
        assert_eq!(part.strokes[0].direction, Direction::Up);
        assert_eq!(part.worn_zones, [], "a dropout is not noise");
    }
}

#[test]
fn a_plug_that_is_shaken_drops_out_where_the_control_stands() {
    let bench = Bench {
        strokes: 0,
        ..Bench::default()
    };
    let mut sim = bench.run(|_, _, _| {});
    sim.codes = (0..3000)
        .map(|i| match i {
            700..703 => Code(0),
            1500..2100 => Code(4095),
            _ => Code(410 + (i * 7 % 5)),
        })
        .collect();
    sim.t_us = (0..3000).map(|i| i * 1000).collect();
    let part_of = |step: Step, sim: &mut Simulated, holds: HoldEvidence| {
        sim.passages = vec![Passage {
            step,
            range: 0..3000,
        }];
        measure(sim, holds)
    };
    let (part, figures) = part_of(Step::Shake, &mut sim, holds(&bench));
    let [short, long] = part.dropouts[..] else {
        panic!("{:?}", part.dropouts)
    };
    assert!((short.t_s - 0.7).abs() < 1e-9 && (short.duration_ms - 3.0).abs() < 1e-6);
    assert_eq!(
        (short.towards, long.towards),
        (Towards::Ground, Towards::Supply)
    );
    assert!((long.duration_ms - 600.0).abs() < 1e-6);
    assert!((long.depth_pct - 100.0 * (4095.0 - 412.0) / 3190.0).abs() < 0.2);
    assert!(short.travel_pct.unwrap().abs() < 0.3);
    assert_eq!(figures.value(FigureName::DropoutsCount), Some(2.0));
    assert_eq!(figures.get(FigureName::StrokeNoiseRms), None);
    // The same in a hold counts: contact was lost. A hold in which it is not lost is no evidence that it never is.
    let (part, figures) = part_of(Step::Rest, &mut sim, holds(&bench));
    assert_eq!(part.dropouts.len(), 2);
    assert_eq!(figures.value(FigureName::DropoutsCount), Some(2.0));
    let lost = std::mem::replace(&mut sim.codes, vec![Code(410); 3000]);
    let (part, figures) = part_of(Step::Rest, &mut sim, holds(&bench));
    assert_eq!(part.dropouts, []);
    assert_eq!(figures.get(FigureName::DropoutsCount), None);
    sim.codes = lost;
    // Without a span there is no percent of it.
    let (part, figures) = part_of(Step::Shake, &mut sim, HoldEvidence::default());
    assert_eq!(part.dropouts, []);
    assert_eq!(figures.get(FigureName::DropoutsCount), None);
}

#[test]
fn a_level_that_does_not_return_is_no_dropout() {
    let bench = Bench {
        strokes: 4,
        ..Bench::default()
    };
    let sim = bench.run(|signal, _, _| {
        let middle = signal.len() / 2;
        for value in &mut signal[middle..] {
            *value -= 300.0;
        }
    });
    let (part, _) = measure(&sim, holds(&bench));
    assert_eq!(part.dropouts, []);
}

#[test]
fn contact_lost_for_long_or_for_good_is_lost_contact() {
    let bench = Bench::default();
    let of = |lost: Range<usize>| {
        let sim = bench.run(|signal, _, _| signal[lost].fill(0.0));
        let (part, figures) = measure(&sim, holds(&bench));
        let count = figures.get(FigureName::DropoutsCount).unwrap();
        assert_eq!(
            (count.value, count.low),
            (1.0, Some(1.0)),
            "{}",
            count.method
        );
        part.dropouts[0].duration_ms
    };
    let all = bench.run(|_, _, _| {}).codes.len();
    assert!((of(2000..4500) - 2500.0).abs() < 2.0);
    assert!((of(2000..all) - (all - 2000) as f64).abs() < 2.0);
    of(all - 20..all);
}

#[test]
fn a_level_that_changes_at_once_under_the_shake_is_lost_contact() {
    let bench = Bench::default();
    let shaken = |code: u32, back: bool| {
        let mut sim = bench.run(|_, _, _| {});
        let from = sim.codes.len();
        let level = |k: usize| {
            if k < 500 || (back && k >= 4500) {
                410
            } else {
                code
            }
        };
        sim.codes.extend((0..5000).map(|k| Code(level(k))));
        sim.t_us = (0..sim.codes.len() as u64).map(|k| 1000 * k).collect();
        sim.passages.push(Passage {
            step: Step::Shake,
            range: from..sim.codes.len(),
        });
        let (part, figures) = measure(&sim, holds(&bench));
        let count = figures.get(FigureName::DropoutsCount).unwrap();
        (part.dropouts.len(), count.low)
    };
    for code in [0, 1000, 4095] {
        assert_eq!(shaken(code, true), (1, Some(1.0)), "{code}");
        assert_eq!(shaken(code, false), (1, Some(1.0)), "{code}, for good");
    }
    // A twentieth of the span is no contact lost for long.
    assert_eq!(shaken(570, false), (0, Some(0.0)));
}

#[test]
fn without_holds_the_strokes_give_the_span_and_say_so() {
    let bench = Bench::default();
    let sim = bench.run(|_, _, _| {});
    let (part, figures) = measure(&sim, HoldEvidence::default());
    let ends = part.ends.unwrap();
    assert_eq!(ends.origin(), EndsFrom::Strokes);
    assert!((ends.span() - 3190.0).abs() < 10.0, "{}", ends.span());
    assert_eq!(part.strokes.len(), 6);
    for name in [FigureName::StrokeNoiseRms, FigureName::DropoutsCount] {
        let method = &figures.get(name).unwrap().method;
        assert!(method.contains("no rest and full holds"), "{method}");
    }
}

#[test]
fn incomplete_strokes_are_used_and_said() {
    let bench = Bench {
        covers: 20.0..70.0,
        worn: Some((40.0..46.0, 5.0)),
        ..Bench::default()
    };
    let (part, figures) = measure(&bench.run(|_, _, _| {}), holds(&bench));
    assert_eq!(part.strokes.len(), 6);
    assert!(part.strokes.iter().all(|stroke| !stroke.complete));
    assert_eq!(part.worn_zones.len(), 1);
    let map = part.map.unwrap();
    assert_eq!((map.bins[10].both.rms, map.bins[10].both.count), (None, 0));
    let method = &figures.get(FigureName::WornZonesCount).unwrap().method;
    assert!(
        method.contains("0 complete strokes and 6 incomplete"),
        "{method}"
    );
    assert_eq!(
        figures.get(FigureName::Smoothness),
        None,
        "half the travel is not enough for the roughest place of all"
    );
}

#[test]
fn two_strokes_say_nothing_of_recurrence() {
    let bench = Bench {
        strokes: 2,
        worn: Some((40.0..46.0, 5.0)),
        ..Bench::default()
    };
    let (part, figures) = measure(&bench.run(|_, _, _| {}), holds(&bench));
    assert_eq!(part.worn_zones, []);
    assert_eq!(figures.get(FigureName::WornZonesCount), None);
    assert_eq!(figures.get(FigureName::Smoothness), None);
    assert!(figures.get(FigureName::StrokeNoiseRms).is_some());
    assert_eq!(figures.value(FigureName::DropoutsCount), Some(0.0));
}

/// Only samples that arrived.
fn keep(sim: &mut Simulated, mut arrived: impl FnMut(usize) -> bool) {
    let kept: Vec<usize> = (0..sim.codes.len()).filter(|at| arrived(*at)).collect();
    sim.codes = kept.iter().map(|&at| sim.codes[at]).collect();
    sim.t_us = kept.iter().map(|&at| sim.t_us[at]).collect();
    sim.passages[0].range = 0..kept.len();
}

#[test]
fn missing_samples_are_neither_dropouts_nor_wear() {
    let bench = Bench {
        rate_hz: 100.0,
        seconds: [0.5, 0.8],
        ..Bench::default()
    };
    let mut sim = bench.run(|_, _, _| {});
    // Every 17th sample and its neighbour never arrived.
    keep(&mut sim, |at| at % 17 > 1);
    let (part, figures) = measure(&sim, holds(&bench));
    assert_eq!(part.dropouts, []);
    assert_eq!(part.worn_zones, []);
    assert_eq!(part.strokes.len(), 6);
    let noise = figures.value(FigureName::StrokeNoiseRms).unwrap();
    assert!((noise - 2.02).abs() < 0.8, "{noise}");
}

#[test]
fn a_bump_of_the_track_is_its_smoothness() {
    // A triangle 0.6 % of travel wide and 1 % of span high at 42 %: 1 % peak to peak. Some of it is taken for movement.
    let (mut sum, mut covered) = (0.0, 0);
    for seed in 0..units(40) {
        let bench = Bench {
            seed,
            seconds: [1.0, 2.0],
            ..Bench::default()
        };
        let sim = bench.run(|signal, travel, _| {
            for (value, at) in signal.iter_mut().zip(travel) {
                *value += 31.9 * (1.0 - (at - 42.0).abs() / 0.3).max(0.0);
            }
        });
        let (_, figures) = measure(&sim, holds(&bench));
        let figure = figures.get(FigureName::Smoothness).unwrap();
        sum += figure.value;
        covered += u64::from(figure.low.unwrap() <= 1.0 && 1.0 <= figure.high.unwrap());
    }
    let mean = sum / units(40) as f64;
    println!("bump of 1 %: {mean:.3} %, covered {covered}");
    assert!((0.75..1.05).contains(&mean), "{mean}");
}

/// One sample in a hundred never arrived, here and there.
#[test]
fn samples_that_never_arrived_hide_no_bump() {
    let means = [0.0, 0.01].map(|lost| {
        let each = (0..12).map(|seed| {
            let bench = Bench {
                seed,
                seconds: [1.0, 2.0],
                ..Bench::default()
            };
            let mut sim = bench.run(|signal, travel, _| {
                for (value, at) in signal.iter_mut().zip(travel) {
                    *value += 31.9 * (1.0 - (at - 42.0).abs() / 0.3).max(0.0);
                }
            });
            let mut random = ChaCha8Rng::seed_from_u64(1000 + seed);
            keep(&mut sim, |_| !random.random_bool(lost));
            let (_, figures) = measure(&sim, holds(&bench));
            figures.value(FigureName::Smoothness).unwrap_or(0.0)
        });
        each.sum::<f64>() / 12.0
    });
    println!("bump of 1 %: {means:.3?} %, without and with a lost sample in a hundred");
    assert!(means[1] > 0.9 * means[0], "{means:?}");
}

/// What a board reads whose codes are so wide: the number of edges below the signal.
fn read_by(edges: &[f64], signal: &mut [f64]) {
    for value in signal {
        *value = edges.partition_point(|edge| edge <= value) as f64;
    }
}

/// Codes of half to one and a half of the usual width, by chance: their sum walks some codes off, and a quiet track looks rough where it
/// does. That is no wear for sure; wear on such a board is.
#[test]
fn uneven_codes_of_the_board_are_no_wear_for_sure() {
    let mut worn_by_eye = 0;
    for seed in 0..6 {
        let mut random = ChaCha8Rng::seed_from_u64(500 + seed);
        let mut edge = -0.5;
        let edges: Vec<f64> = (0..4095)
            .map(|_| {
                edge += random.random_range(0.5..1.5);
                edge
            })
            .collect();
        let sure = |worn: Option<(Range<f64>, f64)>| {
            let bench = Bench {
                seed,
                noise: 0.3,
                strokes: 20,
                seconds: [0.7, 1.6],
                worn,
                ..Bench::default()
            };
            let sim = bench.run(|signal, _, _| read_by(&edges, signal));
            let (part, figures) = measure(&sim, holds(&bench));
            let count = figures.get(FigureName::WornZonesCount).unwrap();
            (part.worn_zones.len(), count.low)
        };
        let (seen, low) = sure(None);
        worn_by_eye += seen;
        assert_eq!(low, Some(0.0), "seed {seed}");
        let (_, low) = sure(Some((40.0..46.0, 12.0)));
        assert!(low >= Some(1.0), "seed {seed}: {low:?}");
    }
    assert!(worn_by_eye > 0, "no zone stood out: that shows nothing");
}

#[test]
fn nothing_moves_nothing_is_said() {
    let bench = Bench::default();
    let mut sim = bench.run(|_, _, _| {});
    for code in &mut sim.codes {
        *code = Code(512);
    }
    for hold in [holds(&bench), HoldEvidence::default()] {
        let (part, figures) = measure(&sim, hold);
        assert!(part.strokes.is_empty() && part.map.is_none());
        // A still signal tells of spikes alone.
        let mut rows = figures
            .iter()
            .filter(|(name, _)| *name != FigureName::SpikesPerMin);
        assert!(rows.all(|(_, figure)| figure.is_none()));
    }
    sim.codes.truncate(2);
    sim.t_us.truncate(2);
    sim.passages[0].range = 0..2;
    let (part, _) = measure(&sim, holds(&bench));
    assert!(part.strokes.is_empty());
    sim.passages.clear();
    let (part, figures) = measure(&sim, holds(&bench));
    assert!(part.dropouts.is_empty() && figures.get(FigureName::DropoutsCount).is_none());
    let nan = HoldEvidence {
        rest: Some(f64::NAN),
        full: Some(1.0),
        noise: Some(f64::NAN),
    };
    let sim = bench.run(|_, _, _| {});
    let (part, _) = measure(&sim, nan);
    assert_eq!(part.ends.unwrap().origin(), EndsFrom::Strokes);
}

#[test]
fn a_track_at_its_rail_is_no_wear() {
    // The last fifth of the travel reads the largest code: no noise there, and the rest is not called worn for it.
    let bench = Bench {
        full: 4900.0,
        ..Bench::default()
    };
    let hold = HoldEvidence {
        full: Some(4095.0),
        ..holds(&bench)
    };
    let (part, _) = measure(&bench.run(|_, _, _| {}), hold);
    assert_eq!(part.worn_zones, []);
    assert_eq!(part.dropouts, []);
}

#[test]
fn zones_on_both_tracks_are_shared() {
    let zone = |from_pct: f64, to_pct: f64| crate::measure::strokes::defects::WornZone {
        from_pct,
        to_pct,
        noise_ratio: 5.0,
        strokes_seen: 6,
        strokes: 6,
    };
    let a = [zone(10.0, 14.0), zone(40.0, 46.0)];
    let b = [zone(14.0, 16.0), zone(45.0, 50.0)];
    assert_eq!(
        shared_zones(&a, &b),
        [(1, 1)],
        "touching is not overlapping"
    );
    assert_eq!(shared_zones(&a, &[]), []);
}
