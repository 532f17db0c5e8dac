//! Tests only: what `strokes_part` says of simulated controls whose truth is known.

use super::stroke_bench::{Bench, Simulated};
use super::{HoldEvidence, StrokesPart, strokes_part};
use crate::figure::{FigureName, Figures, Scope};
use rand::RngExt;

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
    let part = strokes_part(&recording, &sim.channel(), holds, &mut figures);
    (part, figures)
}

#[test]
fn study() {
    for (name, bench) in kinds() {
        let (mut zones, mut drops, mut wrong_strokes, mut share, mut smooth, mut noise) =
            (0, 0, 0, 0.0, 0.0, 0.0);
        let (mut cover, mut covern) = (0, 0);
        let units = std::env::var("UNITS").map_or(100, |u| u.parse().unwrap());
        for seed in 0..units {
            let bench = Bench {
                seed,
                ..bench.clone()
            };
            let sim = bench.run(|_, _, _| {});
            let (part, figures) = measure(&sim, holds(&bench));
            zones += usize::from(!part.worn_zones.is_empty());
            drops += part.dropouts.len();
            if drops > 0 && drops < 12 {
                for d in &part.dropouts {
                    println!("   {seed} {d:?}");
                }
            }
            wrong_strokes += usize::from(part.strokes.len() != bench.strokes);
            share += figures
                .value(FigureName::InterferenceShare)
                .unwrap_or(f64::NAN);
            if let Some(s) = figures.get(FigureName::Smoothness) {
                smooth += s.value;
                cover += usize::from(s.low.unwrap() <= 0.0);
            }
            let n = figures.get(FigureName::StrokeNoiseRms).unwrap();
            noise += n.value;
            let truth = (bench.noise.powi(2) + 1.0 / 12.0).sqrt();
            covern += usize::from(n.low.unwrap() <= truth && truth <= n.high.unwrap());
        }
        let u = units as f64;
        println!(
            "{name:28} zones {zones:4} drops {drops:4} strokes {wrong_strokes:4} share {:.4} smooth {:.4} cov {cover} noise {:.3} cov {covern}",
            share / u,
            smooth / u,
            noise / u
        );
    }
}

#[test]
fn dropout_study() {
    for (name, bench, width, depth) in [
        ("3 ms deep", Bench::default(), 3, 0.9..1.0),
        ("3 ms 3 %", Bench::default(), 3, 0.03..0.05),
        ("1 sample 3 %", Bench::default(), 1, 0.03..0.05),
        (
            "1 sample fast",
            Bench {
                seconds: [0.4, 0.45],
                ..Bench::default()
            },
            1,
            0.03..0.1,
        ),
        (
            "3 samples fast",
            Bench {
                seconds: [0.4, 0.45],
                ..Bench::default()
            },
            3,
            0.03..0.1,
        ),
        ("20 ms", Bench::default(), 20, 0.05..0.1),
        (
            "60 ms fast",
            Bench {
                seconds: [0.4, 0.45],
                ..Bench::default()
            },
            60,
            0.2..0.4,
        ),
        (
            "100 Hz fast 1 sample",
            Bench {
                seconds: [0.4, 0.5],
                rate_hz: 100.0,
                ..Bench::default()
            },
            1,
            0.04..0.1,
        ),
        (
            "100 Hz 1 sample 3 %",
            Bench {
                rate_hz: 100.0,
                ..Bench::default()
            },
            1,
            0.025..0.04,
        ),
        (
            "2 kHz 3 ms",
            Bench {
                rate_hz: 2000.0,
                ..Bench::default()
            },
            6,
            0.03..0.1,
        ),
        (
            "8 bit 1 sample",
            Bench {
                bits: 8,
                rest: 30.0,
                full: 130.0,
                noise: 0.2,
                ..Bench::default()
            },
            1,
            0.04..0.1,
        ),
        (
            "worn 3 ms",
            Bench {
                worn: Some((40.0..46.0, 5.0)),
                ..Bench::default()
            },
            3,
            0.05..0.1,
        ),
        (
            "bursts 3 ms",
            Bench {
                bursts: Some((1.0, 0.02, 10.0)),
                ..Bench::default()
            },
            3,
            0.2..0.3,
        ),
    ] {
        let (mut placed, mut hit, mut invented) = (0, 0, 0);
        for seed in 0..100 {
            let bench = Bench {
                seed,
                ..bench.clone()
            };
            let mut truth = Vec::new();
            let sim = bench.run(|signal, _, random| {
                let mut at = 20;
                loop {
                    at += random.random_range(100..900) * bench.rate_hz as usize / 1000;
                    if at + 30 + width > signal.len() {
                        break;
                    }
                    let d = random.random_range(depth.clone()) * (bench.full - bench.rest);
                    let up = signal[at] + d < f64::from((1 << bench.bits) - 1)
                        && random.random_bool(0.3);
                    if !up && signal[at] < d + 0.5 {
                        continue;
                    }
                    for v in &mut signal[at..at + width] {
                        *v += if up { d } else { -d }
                    }
                    truth.push(at as f64 / bench.rate_hz);
                    at += width;
                }
            });
            let (part, _) = measure(&sim, holds(&bench));
            placed += truth.len();
            let near = |a: f64, b: f64| (a - b).abs() < 1.5 / bench.rate_hz;
            hit += truth
                .iter()
                .filter(|t| {
                    part.dropouts.iter().any(|d| {
                        near(d.t_s, **t)
                            && (d.duration_ms * bench.rate_hz / 1000.0 - width as f64).abs() < 1.2
                    })
                })
                .count();
            let inv: Vec<_> = part
                .dropouts
                .iter()
                .filter(|d| !truth.iter().any(|t| near(d.t_s, *t)))
                .collect();
            if !inv.is_empty() && invented < 3 {
                println!("{seed} {inv:?}");
            }
            if invented == 0 {
                for t in truth
                    .iter()
                    .filter(|t| !part.dropouts.iter().any(|d| near(d.t_s, **t)))
                    .take(1)
                {
                    let i = (t * bench.rate_hz).round() as usize;
                    println!(
                        "missed {seed} {t} {:?} {:?}",
                        &sim.codes[i - 8..(i + 9).min(sim.codes.len())]
                            .iter()
                            .map(|c| c.0)
                            .collect::<Vec<_>>(),
                        part.dropouts
                            .iter()
                            .filter(|d| (d.t_s - t).abs() < 0.02)
                            .collect::<Vec<_>>()
                    );
                }
            }
            invented += inv.len();
        }
        println!("{name:24} placed {placed} hit {hit} invented {invented}");
    }
}

fn kinds() -> Vec<(&'static str, Bench)> {
    let d = Bench::default();
    vec![
        ("plain", d.clone()),
        (
            "fast 100 Hz",
            Bench {
                rate_hz: 100.0,
                seconds: [0.4, 0.6],
                ..d.clone()
            },
        ),
        (
            "slow 100 Hz",
            Bench {
                rate_hz: 100.0,
                seconds: [1.0, 3.0],
                ..d.clone()
            },
        ),
        (
            "2 kHz",
            Bench {
                rate_hz: 2000.0,
                ..d.clone()
            },
        ),
        (
            "quiet 0.1",
            Bench {
                noise: 0.1,
                ..d.clone()
            },
        ),
        (
            "quiet 8 bit 100 codes",
            Bench {
                noise: 0.2,
                bits: 8,
                rest: 30.0,
                full: 130.0,
                ..d.clone()
            },
        ),
        (
            "silent 8 bit slow",
            Bench {
                noise: 0.0,
                bits: 8,
                rest: 30.0,
                full: 130.0,
                seconds: [1.0, 3.0],
                ..d.clone()
            },
        ),
        (
            "noisy 10 bit falling",
            Bench {
                noise: 3.0,
                bits: 10,
                rest: 900.0,
                full: 120.0,
                ..d.clone()
            },
        ),
        (
            "16 bit",
            Bench {
                noise: 6.0,
                bits: 16,
                rest: 6000.0,
                full: 58000.0,
                ..d.clone()
            },
        ),
        (
            "16 bit fast 100 Hz",
            Bench {
                noise: 6.0,
                bits: 16,
                rest: 6000.0,
                full: 58000.0,
                rate_hz: 100.0,
                seconds: [0.4, 0.5],
                ..d.clone()
            },
        ),
        (
            "tremor",
            Bench {
                tremor: (0.3, 9.0),
                ..d.clone()
            },
        ),
        (
            "3 strokes",
            Bench {
                strokes: 3,
                ..d.clone()
            },
        ),
        (
            "4 strokes 100 Hz fast",
            Bench {
                strokes: 4,
                rate_hz: 100.0,
                seconds: [0.4, 0.5],
                ..d.clone()
            },
        ),
        (
            "worn x5 6 %",
            Bench {
                worn: Some((40.0..46.0, 5.0)),
                ..d.clone()
            },
        ),
        (
            "worn x5 end",
            Bench {
                worn: Some((3.0..9.0, 5.0)),
                ..d.clone()
            },
        ),
        (
            "worn x5 100 Hz fast",
            Bench {
                worn: Some((40.0..46.0, 5.0)),
                rate_hz: 100.0,
                seconds: [0.4, 0.6],
                ..d.clone()
            },
        ),
        (
            "worn x5 100 Hz slow",
            Bench {
                worn: Some((40.0..46.0, 5.0)),
                rate_hz: 100.0,
                seconds: [1.0, 3.0],
                ..d.clone()
            },
        ),
        (
            "worn x5 quiet .3",
            Bench {
                worn: Some((40.0..46.0, 5.0)),
                noise: 0.3,
                ..d.clone()
            },
        ),
        (
            "bursts 1 x10 20ms",
            Bench {
                bursts: Some((1.0, 0.02, 10.0)),
                ..d.clone()
            },
        ),
        (
            "bursts 5 x10 20ms",
            Bench {
                bursts: Some((5.0, 0.02, 10.0)),
                ..d.clone()
            },
        ),
        (
            "bursts 1 x40 20ms",
            Bench {
                bursts: Some((1.0, 0.02, 40.0)),
                ..d.clone()
            },
        ),
        (
            "jitter 20us 1 kHz",
            Bench {
                jitter_us: 20.0,
                ..d.clone()
            },
        ),
    ]
}
