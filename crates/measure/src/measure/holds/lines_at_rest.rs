//! What the noise of a control that stands still is made of, hertz by hertz: for a picture. The figures of the mains' lines are
//! `spectrum`'s, which fits them.

use crate::measure::statistics::moments::{mean, real};
use crate::units::{maths, seconds_from_us};
use std::f64::consts::{SQRT_2, TAU};
use std::ops::Range;

/// Seconds of a piece: lines a hertz apart are told from each other two hertz apart (the window's main lobe).
const PIECE_S: f64 = 1.0;
/// Most pieces that are looked at: a picture is firm by then.
const MOST_PIECES: usize = 8;
/// The highest frequency that is looked at, hertz: twice the mains and a little beyond.
const HIGHEST_HZ: u32 = 130;
/// Largest departure of a piece's length from so many sample periods: beyond it, samples are missing.
const UNEVEN: f64 = 0.01;

/// Rms of each whole hertz, in codes, from 1 Hz on.
#[derive(Debug, Clone, PartialEq)]
pub struct NoiseLines {
    /// `rms[k]` belongs to `k + 1` hertz.
    pub rms: Vec<f64>,
    /// Pieces of a second that were averaged.
    pub pieces: usize,
}

/// Rms at every whole hertz over the first seconds of the holds; `None` without a whole second of evenly taken samples.
///
/// Each second, its straight line taken out, is seen through a Hann window (coherent gain 1/2: F. J. Harris, Proc. IEEE 66, 1978,
/// table I) and its powers are averaged (P. D. Welch, IEEE Trans. AU-15, 1967). A sine of amplitude A at a whole hertz reads
/// A / sqrt 2; noise of white spectrum reads sd * sqrt(3 / n) (Harris's equivalent noise bandwidth of 1.5 bins).
#[must_use]
pub fn noise_lines(t_us: &[u64], codes: &[f64], holds: &[Range<usize>]) -> Option<NoiseLines> {
    let mut powers: Vec<f64> = Vec::new();
    let mut pieces = 0;
    for hold in holds {
        let (Some(times), Some(codes)) = (t_us.get(hold.clone()), codes.get(hold.clone())) else {
            continue;
        };
        let (Some(first), Some(last)) = (times.first(), times.last()) else {
            continue;
        };
        let period = seconds_from_us(last.saturating_sub(*first)) / real(times.len().max(2) - 1);
        if period <= 0.0 {
            continue;
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // positive, saturates
        let length = (PIECE_S / period).round() as usize;
        if length < 8 {
            continue;
        }
        for (times, codes) in times.chunks_exact(length).zip(codes.chunks_exact(length)) {
            if pieces == MOST_PIECES {
                break;
            }
            let (Some(first), Some(last)) = (times.first(), times.last()) else {
                continue;
            };
            let took = seconds_from_us(last.saturating_sub(*first)) / real(length - 1);
            if (took / period - 1.0).abs() > UNEVEN || codes.iter().any(|code| !code.is_finite()) {
                continue;
            }
            let windowed = windowed(codes);
            let top = HIGHEST_HZ.min(
                u32::try_from(length / 2)
                    .unwrap_or(HIGHEST_HZ)
                    .saturating_sub(1),
            );
            let seen = (1..=top).map(|hz| power(&windowed, f64::from(hz) * took));
            powers.resize(usize::try_from(top).unwrap_or(0).max(powers.len()), 0.0);
            for (sum, power) in powers.iter_mut().zip(seen) {
                *sum += power;
            }
            pieces += 1;
        }
    }
    (pieces > 0).then(|| NoiseLines {
        rms: powers
            .iter()
            .map(|sum| (sum / real(pieces)).sqrt())
            .collect(),
        pieces,
    })
}

/// The codes without their straight line, under a Hann window of gain 1. The line is fitted under the same window: there a sine
/// of whole cycles pulls it nowhere.
fn windowed(y: &[f64]) -> Vec<f64> {
    let n = real(y.len());
    let window = |k: usize| 1.0 - maths::cos(TAU * (real(k) + 0.5) / n);
    let at = |k: usize| real(k) - (n - 1.0) / 2.0;
    let weighted: Vec<f64> = y.iter().enumerate().map(|(k, y)| y * window(k)).collect();
    let level = mean(&weighted);
    let spread: f64 = (0..y.len()).map(|k| window(k) * at(k) * at(k)).sum();
    let slope = weighted
        .iter()
        .enumerate()
        .map(|(k, y)| y * at(k))
        .sum::<f64>()
        / spread;
    let flat = weighted.iter().enumerate();
    flat.map(|(k, y)| y - window(k) * (level + slope * at(k)))
        .collect()
}

/// Mean square of the sine at so many cycles a sample, by Goertzel's recurrence (G. Goertzel, Amer. Math. Monthly 65, 1958).
fn power(y: &[f64], cycles: f64) -> f64 {
    let turn = 2.0 * maths::cos(TAU * cycles);
    let (mut one, mut two) = (0.0, 0.0);
    for y in y {
        (one, two) = (y + turn * one - two, one);
    }
    let magnitude = (one * one + two * two - turn * one * two).max(0.0).sqrt();
    let rms = SQRT_2 * magnitude / real(y.len());
    rms * rms
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::slice::from_ref;

    /// 1 kHz, about code 2000, so that rounding to codes is small beside the sine.
    fn seconds(n: u64, code: impl Fn(f64) -> f64) -> (Vec<u64>, Vec<f64>) {
        let t_us: Vec<u64> = (0..n * 1000).map(|k| k * 1000).collect();
        let codes = t_us
            .iter()
            .map(|t| code(seconds_from_us(*t)).round())
            .collect();
        (t_us, codes)
    }

    /// By hand: amplitude 40 is 28.28 rms, at its hertz and nowhere else but the window's two neighbours, which carry half of it.
    #[test]
    fn a_sine_stands_at_its_hertz_with_its_rms() {
        let (t, codes) = seconds(2, |t| {
            2000.0 + 12.0 * t + 40.0 * (TAU * 50.0 * t + 0.7).cos()
        });
        let lines = noise_lines(&t, &codes, from_ref(&(0..2000))).unwrap();
        assert_eq!((lines.rms.len(), lines.pieces), (130, 2));
        let at = |hz: usize| lines.rms[hz - 1];
        assert!((at(50) - 28.284).abs() < 0.05, "{}", at(50));
        for beside in [49, 51] {
            assert!((at(beside) - 14.142).abs() < 0.05, "{}", at(beside));
        }
        let elsewhere = (1..=130).filter(|hz| !(49..=51).contains(hz));
        assert!(elsewhere.map(at).all(|rms| rms < 0.1));
    }

    /// By Harris's noise bandwidth: white noise of sd 10 over 1000 samples reads 10 sqrt(3/1000) = 0.548 at each hertz. Mean of the
    /// powers of 130 lines and 8 pieces: within 10 %.
    #[test]
    fn white_noise_is_spread_evenly() {
        let mut state = 7_u64;
        let mut uniform = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            f64::from(u32::try_from(state >> 32).unwrap()) / f64::from(u32::MAX) - 0.5
        };
        // Twelve uniforms of variance 1/12 make variance 1.
        let noise: Vec<f64> = (0..8000)
            .map(|_| 10.0 * (0..12).map(|_| uniform()).sum::<f64>())
            .collect();
        let (t, _) = seconds(8, |_| 0.0);
        let codes: Vec<f64> = noise.iter().map(|y| (2000.0 + y).round()).collect();
        let lines = noise_lines(&t, &codes, from_ref(&(0..8000))).unwrap();
        let power = lines.rms[2..].iter().map(|rms| rms * rms).sum::<f64>() / 128.0;
        assert!(
            (power.sqrt() / 0.5477 - 1.0).abs() < 0.1,
            "{}",
            power.sqrt()
        );
    }

    #[test]
    fn a_slow_board_has_fewer_lines_and_too_little_has_none() {
        let t: Vec<u64> = (0..200).map(|k| k * 10_000).collect();
        let codes = vec![100.0; 200];
        let lines = noise_lines(&t, &codes, from_ref(&(0..200))).unwrap();
        assert_eq!(lines.rms.len(), 49);
        assert!(lines.rms.iter().all(|rms| *rms < 1e-9));
        assert_eq!(noise_lines(&t, &codes, from_ref(&(0..60))), None);
        assert_eq!(noise_lines(&[], &[], &[]), None);
        // Half a second is missing in the middle of the only second.
        let gap: Vec<u64> = (0..150)
            .map(|k| k * 10_000 + if k < 50 { 0 } else { 700_000 })
            .collect();
        assert_eq!(
            noise_lines(&gap, &codes[..150], from_ref(&(0..150))).map(|lines| lines.pieces),
            None
        );
    }
}
