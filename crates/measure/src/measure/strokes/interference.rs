//! Interference: bursts of noise in time that do not recur at the same travel.
//!
//! Each stroke is cut into blocks of 10 ms (five samples at least); a block whose variance is above four times the
//! stroke's own and above what chance gives one block in ten thousand is loud, and loud neighbours make a burst. Blocks
//! in a worn zone are wear and are left out of both the loud and the whole time.

use crate::figure::{Evidence, Figure, Shrink};
use crate::measure::statistics::moments::real;
use crate::measure::strokes::defects::WornZone;
use crate::measure::strokes::path::{ROUNDING_SD, nearest};
use crate::measure::strokes::stroke_noise::{Residuals, StrokeNoise};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::ops::Range;

/// Seconds of a block.
const BLOCK_S: f64 = 0.01;
/// Fewest samples of a block.
const BLOCK_SAMPLES: usize = 5;
/// Least ratio of variances for a block to be loud.
const LOUD: f64 = 4.0;
/// Normal quantile of the chance of one block in ten thousand.
const CHANCE_Z: f64 = 3.719_016_485_455_709;
/// Seed and number of the resamplings over strokes.
pub const SEED: u64 = 3_0507;
const RESAMPLINGS: usize = 1000;

/// Loud and whole time of one stroke in seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Times {
    loud: f64,
    whole: f64,
}

/// The loudest block of a stroke, worn zones and all: none is loud unless the stroke's variance is below this.
pub(crate) fn loudest(residuals: &Residuals) -> f64 {
    let block = block_of(residuals.period);
    let usual = loud_ratio(block, residuals.independent);
    let squares = residuals.proper().chunks(block).filter_map(|codes| {
        let (mean_square, count) = mean_square(codes)?;
        let ratio = if count == block {
            usual
        } else {
            loud_ratio(count, residuals.independent)
        };
        Some(mean_square / ratio)
    });
    squares.fold(0.0, f64::max)
}

/// Share of stroke time with bursts, in % of time; `common` is the noise of all strokes ([`common_sd`](crate::measure::strokes::stroke_noise::common_sd)),
/// `loudest` what [`loudest`] gave of each, and `residuals` gives a stroke's residuals once more where it must be looked at
/// closely. `None` without strokes.
///
/// Interval: seeded bootstrap over strokes; with no burst at all, zero to three blocks' share of the time (the rule of
/// three: 95 % bound when none was seen).
pub(crate) fn interference_share(
    noises: &[StrokeNoise],
    loudest: &[f64],
    residuals: impl Fn(usize) -> Option<Residuals>,
    common: f64,
    worn: &[WornZone],
) -> Option<Figure> {
    let times: Vec<Times> = (0..)
        .zip(noises.iter().zip(loudest))
        .filter_map(|(stroke, (noise, loudest))| {
            let sd = noise.sd(common, ROUNDING_SD);
            if worn.is_empty() && *loudest <= sd * sd {
                return Some(Times {
                    loud: 0.0,
                    whole: real(noise.count) * noise.period,
                });
            }
            times_of(&residuals(stroke)?, worn, common)
        })
        .collect();
    let share = |times: &mut dyn Iterator<Item = Times>| {
        let (loud, whole) = times.fold((0.0, 0.0), |(l, w), t| (l + t.loud, w + t.whole));
        (whole > 0.0).then(|| 100.0 * loud / whole)
    };
    let value = share(&mut times.iter().copied())?;
    let whole: f64 = times.iter().map(|t| t.whole).sum();
    let block = noises
        .first()
        .map_or(BLOCK_S, |n| BLOCK_S.max(5.0 * n.period));
    let none_seen = (300.0 * block / whole).min(100.0);
    let method = |how: &str| {
        format!(
            "time in bursts above twice the stroke's noise, outside worn zones, over {} strokes; {how}",
            times.len()
        )
    };
    if value <= 0.0 {
        return Some(Figure {
            value,
            u: Some(none_seen / 3.0),
            low: Some(0.0),
            high: Some(none_seen),
            n: times.len() as u64,
            method: method("no burst seen, upper end by the rule of three"),
            shrink: Some(Shrink::mean(Evidence::Strokes, real(times.len()), 0.0)),
        });
    }
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let mut draws: Vec<f64> = (0..RESAMPLINGS)
        .filter_map(|_| {
            share(&mut (0..times.len()).map(|_| times[random.random_range(0..times.len())]))
        })
        .collect();
    draws.sort_by(f64::total_cmp);
    let mean = draws.iter().sum::<f64>() / real(draws.len());
    let square = draws.iter().map(|d| (d - mean).powi(2)).sum::<f64>();
    let at = |p: f64| draws.get(nearest(p * real(draws.len() - 1))).copied();
    Some(Figure {
        value,
        u: Some((square / real(draws.len() - 1)).sqrt()),
        low: at(0.025).map(|low| low.min(value)),
        high: at(0.975).map(|high| high.max(value)),
        n: times.len() as u64,
        method: method(&format!("interval by bootstrap over strokes, seed {SEED}")),
        shrink: Some(Shrink::mean(Evidence::Strokes, real(times.len()), 0.0)),
    })
}

/// Times of a stroke outside worn zones.
fn times_of(residuals: &Residuals, worn: &[WornZone], common: f64) -> Option<Times> {
    let in_zone = |pct: f64| {
        // A bin's width on both sides: what the zone's edge leaks is not interference.
        worn.iter()
            .any(|z| (z.from_pct - 1.0..z.to_pct + 1.0).contains(&pct))
    };
    let mut outside = residuals.clone();
    for (code, travel) in outside.code.iter_mut().zip(&residuals.travel_pct) {
        if in_zone(*travel) {
            *code = f64::NAN;
        }
    }
    let noise = StrokeNoise::of(&outside)?;
    let sd = noise.sd(common, ROUNDING_SD);
    let (outside, block) = (outside.proper(), block_of(residuals.period));
    let is_loud = |codes: &[f64]| {
        mean_square(codes).is_some_and(|(mean_square, count)| {
            mean_square / (sd * sd) > loud_ratio(count, residuals.independent)
        })
    };
    let mut loud = 0;
    let mut burst: Option<Range<usize>> = None;
    for start in (0..outside.len()).step_by(block) {
        let range = start..(start + block).min(outside.len());
        if is_loud(&outside[range.clone()]) {
            burst = Some(burst.map_or(range.clone(), |b| b.start..range.end));
        } else if let Some(burst) = burst.take() {
            loud += extent(outside, burst, block, sd);
        }
    }
    loud += burst.map_or(0, |burst| extent(outside, burst, block, sd));
    Some(Times {
        loud: real(loud) * noise.period,
        whole: real(noise.count) * noise.period,
    })
}

/// Samples of a block.
fn block_of(period: f64) -> usize {
    nearest(BLOCK_S / period).max(BLOCK_SAMPLES)
}

/// Mean square and number of a block's residuals; `None` below two.
fn mean_square(block: &[f64]) -> Option<(f64, usize)> {
    let (mut squares, mut count) = (0.0, 0);
    for residual in block.iter().filter(|r| !r.is_nan()) {
        squares += residual * residual;
        count += 1;
    }
    (count >= 2).then(|| (squares / real(count), count))
}

/// Least ratio of variances for a block of so many residuals to be loud.
fn loud_ratio(count: usize, independent: f64) -> f64 {
    let part = 2.0 / (9.0 * (real(count) * independent).max(1.0));
    LOUD.max((1.0 - part + CHANCE_Z * part.sqrt()).powi(3))
}

/// Samples from the first to the last one above three standard deviations, half a block around a burst looked at too.
fn extent(residual: &[f64], burst: Range<usize>, block: usize, sd: f64) -> usize {
    let from = burst.start.saturating_sub(block / 2);
    let to = (burst.end + block / 2).min(residual.len());
    let wild = |i: &usize| residual[*i].abs() > 3.0 * sd;
    let first = (from..to).find(wild);
    let last = (from..to).rev().find(wild);
    match (first, last) {
        (Some(first), Some(last)) => (first..=last).filter(|&i| !residual[i].is_nan()).count(),
        _ => 0,
    }
}
