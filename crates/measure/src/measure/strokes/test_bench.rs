//! Tests only: a seeded hand that moves a seeded control.
//!
//! Minimum-jerk strokes (10 t^3 - 15 t^4 + 6 t^5), dwell at the ends, normal noise, rounding to codes, a worn zone (noise
//! partly locked to the position, partly free), dropouts at stated samples, bursts at random times.

#![allow(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss
)]

use crate::measure::recording::{BoardFacts, Channel, Recording};
use crate::units::{Code, Passage, Scale, Step, Track};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use std::ops::Range;

/// What a simulated control and its hand do.
#[derive(Debug, Clone)]
pub struct Bench {
    pub seed: u64,
    pub rate_hz: f64,
    pub bits: u32,
    pub rest: f64,
    pub full: f64,
    /// Noise in codes before rounding.
    pub noise: f64,
    pub strokes: usize,
    /// Seconds of a stroke, drawn evenly.
    pub seconds: [f64; 2],
    /// Worn travel in % and its noise over the rest's.
    pub worn: Option<(Range<f64>, f64)>,
    /// Bursts: how many a stroke, how long in seconds, noise over the usual.
    pub bursts: Option<(f64, f64, f64)>,
    /// Bow of the signal in % of span.
    pub bow_pct: f64,
    /// Tremor of the hand: % of travel, Hz.
    pub tremor: (f64, f64),
    /// Travel that a stroke covers, %.
    pub covers: Range<f64>,
    /// Standard deviation of the sampling time in microseconds, in `t_us` and in truth.
    pub jitter_us: f64,
}

impl Default for Bench {
    fn default() -> Self {
        Self {
            seed: 1,
            rate_hz: 1000.0,
            bits: 12,
            rest: 410.0,
            full: 3600.0,
            noise: 2.0,
            strokes: 6,
            seconds: [0.5, 1.5],
            worn: None,
            bursts: None,
            bow_pct: 0.0,
            tremor: (0.0, 9.0),
            covers: 0.0..100.0,
            jitter_us: 0.0,
        }
    }
}

/// A simulated capture of one strokes passage.
pub struct Simulated {
    pub codes: Vec<Code>,
    pub t_us: Vec<u64>,
    pub passages: Vec<Passage>,
    /// True travel of each sample in %.
    pub travel: Vec<f64>,
    /// Samples in bursts, outside the dwell.
    pub in_burst: Vec<bool>,
    pub scale: Scale,
    pub rate_hz: f64,
}

impl Bench {
    /// True travel in % at evenly spaced times.
    pub fn travel(&self, random: &mut ChaCha8Rng) -> Vec<f64> {
        let dt = 1.0 / self.rate_hz;
        let mut travel = Vec::new();
        let (low, high) = (self.covers.start, self.covers.end);
        let dwell = |travel: &mut Vec<f64>, at: f64, random: &mut ChaCha8Rng| {
            let seconds: f64 = random.random_range(0.05..0.3);
            let count = (seconds / dt).round() as usize;
            travel.extend(std::iter::repeat_n(at, count.max(1)));
        };
        dwell(&mut travel, low, random);
        for stroke in 0..self.strokes {
            let (from, to) = if stroke % 2 == 0 {
                (low, high)
            } else {
                (high, low)
            };
            let seconds: f64 = random.random_range(self.seconds[0]..=self.seconds[1]);
            let count = (seconds / dt).round() as usize;
            for i in 0..count {
                let t = i as f64 / count as f64;
                let part = t.powi(3) * (10.0 - 15.0 * t + 6.0 * t * t);
                travel.push(from + (to - from) * part);
            }
            dwell(&mut travel, to, random);
        }
        let phase: f64 = random.random_range(0.0..std::f64::consts::TAU);
        for (i, at) in travel.iter_mut().enumerate() {
            let inside = (*at / 10.0).min((100.0 - *at) / 10.0).clamp(0.0, 1.0);
            *at += inside
                * self.tremor.0
                * (std::f64::consts::TAU * self.tremor.1 * i as f64 * dt + phase).sin();
        }
        travel
    }

    /// The signal in codes, not rounded, over a travel.
    pub fn signal(&self, travel: &[f64], random: &mut ChaCha8Rng) -> (Vec<f64>, Vec<bool>) {
        let gauss = |random: &mut ChaCha8Rng| -> f64 { StandardNormal.sample(random) };
        // Locked to the position: one value a 0.05 % of travel.
        let locked: Vec<f64> = (0..2001).map(|_| gauss(random)).collect();
        let mut burst_left = 0_usize;
        let mut in_burst = vec![false; travel.len()];
        let mean_stroke = f64::midpoint(self.seconds[0], self.seconds[1]) * self.rate_hz;
        let signal = travel
            .iter()
            .enumerate()
            .map(|(i, &at)| {
                let x = at / 100.0;
                let mut value = self.rest
                    + (self.full - self.rest) * (x + self.bow_pct / 100.0 * 4.0 * x * (1.0 - x));
                let mut noise = self.noise * gauss(random);
                if let Some((zone, ratio)) = &self.worn
                    && zone.contains(&at)
                {
                    let extra = (ratio * ratio - 1.0).sqrt() * self.noise / 2.0_f64.sqrt();
                    let cell = (at * 20.0).clamp(0.0, 2000.0) as usize;
                    noise += extra * (locked[cell] + gauss(random));
                }
                if let Some((each, seconds, ratio)) = self.bursts {
                    if burst_left == 0 && random.random_bool((each / mean_stroke).min(1.0)) {
                        burst_left = (seconds * self.rate_hz).round() as usize;
                    }
                    if burst_left > 0 {
                        burst_left -= 1;
                        in_burst[i] = true;
                        noise += ratio * self.noise * gauss(random);
                    }
                }
                value += noise;
                value
            })
            .collect();
        (signal, in_burst)
    }

    /// A capture; `spoil` may change the unrounded signal (dropouts) before it is rounded.
    pub fn run(&self, spoil: impl FnOnce(&mut Vec<f64>, &[f64], &mut ChaCha8Rng)) -> Simulated {
        let mut random = ChaCha8Rng::seed_from_u64(self.seed);
        let travel = self.travel(&mut random);
        let (mut signal, in_burst) = self.signal(&travel, &mut random);
        spoil(&mut signal, &travel, &mut random);
        self.capture(&signal, travel, in_burst, &mut random)
    }

    fn capture(
        &self,
        signal: &[f64],
        travel: Vec<f64>,
        in_burst: Vec<bool>,
        random: &mut ChaCha8Rng,
    ) -> Simulated {
        let scale = Scale::new(self.bits, 5000.0).unwrap();
        let top = scale.max_code().as_f64();
        let step = 1e6 / self.rate_hz;
        let t_us: Vec<u64> = (0..signal.len())
            .map(|i| {
                let late: f64 = StandardNormal.sample(random);
                (5_000_000.0 + i as f64 * step + late * self.jitter_us).round() as u64
            })
            .collect();
        Simulated {
            codes: signal
                .iter()
                .map(|v| Code(v.round().clamp(0.0, top) as u32))
                .collect(),
            t_us,
            passages: vec![Passage {
                step: Step::Strokes,
                range: 0..signal.len(),
            }],
            travel,
            in_burst,
            scale,
            rate_hz: self.rate_hz,
        }
    }
}

impl Simulated {
    pub fn recording(&self) -> Recording<'_> {
        let board = BoardFacts::new(self.scale, self.rate_hz);
        let recording = Recording::new(board, &self.t_us, &self.passages);
        Recording {
            channels: vec![self.channel()],
            ..recording
        }
    }

    pub fn channel(&self) -> Channel<'_> {
        Channel::signal("lever", Track::One, &self.codes)
    }
}
