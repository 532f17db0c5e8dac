//! What of a hold's noise is the room's: lines in its spectrum, and bursts.
//!
//! A line is a sine of steady frequency: mains and their rectified multiples, or a switched supply that the board's rate folds
//! down. A contact makes none. What is left without lines and without bursts is what the part and the board make.

use crate::measure::holds::hold::Hold;
use crate::measure::statistics::least_squares::Moments;
use crate::measure::statistics::moments::real;
use crate::measure::statistics::robust::median;
use crate::units::Code;
use crate::units::maths;
use std::f64::consts::TAU;

/// Most samples of a hold that are looked at.
const MOST: usize = 8192;
/// Most samples that are transformed, and fewest; powers of two.
const MOST_TRANSFORMED: usize = 2048;
const FEWEST: usize = 256;
/// Bins below this are drift and slow noise, not lines.
const LOWEST: usize = 6;
/// Bins on each side in which a line's power stands (Hann window), and up to which the floor beside it is taken.
const WIDTH: usize = 2;
const BESIDE: usize = 24;
/// Least power of a line over the floor: in noise e^40 to one, by a floor that is known to a fifth e^25 (own choice).
const STANDS_OUT: f64 = 40.0;
/// Most lines of one hold.
const MOST_LINES: usize = 12;
/// Samples of a block that may be in a burst, and its least variance over the usual one: chance gives it one block in ten
/// thousand at twenty samples.
const BLOCK: usize = 20;
const LOUD: f64 = 4.0;
/// A mains frequency or a multiple of it is met this closely, as a share.
const MAINS: f64 = 0.012;

/// A line in the noise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Its frequency as the board sees it, Hz.
    pub hz: f64,
    /// Its rms, codes.
    pub rms: f64,
}

impl Line {
    /// The mains, 50 or 60 Hz, of which it is the wave or a low multiple.
    #[must_use]
    pub fn mains(self) -> Option<f64> {
        let of = |mains: f64| {
            let times = (self.hz / mains).round();
            (1.0..=6.0).contains(&times) && (self.hz / mains / times - 1.0).abs() < MAINS
        };
        [50.0, 60.0].into_iter().find(|mains| of(*mains))
    }
}

/// Noise of one end without the room's part.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Room {
    /// Noise in all, codes rms.
    pub all: f64,
    /// What is left without lines and bursts, codes rms.
    pub without: f64,
    /// The lines, strongest first.
    pub lines: Vec<Line>,
    /// Share of the time in bursts, 0 to 1.
    pub bursts: f64,
}

impl Room {
    /// Whether there is anything of the room in it.
    #[must_use]
    pub fn speaks(&self) -> bool {
        !self.lines.is_empty() || self.bursts > 0.0
    }

    /// What the room does, in words.
    #[must_use]
    pub fn describe(&self) -> String {
        let line = |line: &Line| {
            let what = line.mains().map_or("no mains line", |_| "mains");
            format!("{:.1} Hz ({what}) {:.2} code", line.hz, line.rms)
        };
        let lines = self.lines.iter().take(2).map(line);
        let bursts = (self.bursts > 0.0).then(|| {
            format!(
                "bursts in {:.0} % of the time",
                (100.0 * self.bursts).max(1.0)
            )
        });
        lines.chain(bursts).collect::<Vec<_>>().join(", ")
    }
}

/// What the room does to the holds of one channel, at rest and at full.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Rooms {
    /// At rest.
    pub rest: Option<Room>,
    /// At full.
    pub full: Option<Room>,
}

impl Rooms {
    /// Of the holds of one channel.
    #[must_use]
    pub fn of(codes: &[Code], rest: &[&Hold], full: &[&Hold], rate_hz: f64) -> Self {
        Self {
            rest: of_holds(codes, rest, rate_hz),
            full: of_holds(codes, full, rate_hz),
        }
    }
}

/// The room's part in the longest of some holds. `None` without a hold that is long enough.
fn of_holds(codes: &[Code], holds: &[&Hold], rate_hz: f64) -> Option<Room> {
    let hold = holds.iter().max_by_key(|hold| hold.n())?;
    let values = straightened(codes.get(hold.range.clone())?)?;
    let all = mean_square(&values);
    let (quiet, bursts) = without_bursts(&values);
    let transformed = 1 << values.len().min(MOST_TRANSFORMED).checked_ilog2()?;
    let lines = if rate_hz > 0.0 {
        lines(&values[..transformed], rate_hz)
    } else {
        Vec::new()
    };
    let of_lines: f64 = lines.iter().map(|line| line.rms * line.rms).sum();
    Some(Room {
        all: all.sqrt(),
        without: (quiet - of_lines).max(0.0).sqrt(),
        lines,
        bursts,
    })
}

/// The first samples about their straight line.
fn straightened(codes: &[Code]) -> Option<Vec<f64>> {
    let n = codes.len().min(MOST);
    if n < FEWEST {
        return None;
    }
    let points = || {
        let codes = codes[..n].iter().enumerate();
        codes.map(|(i, code)| (real(i), code.as_f64()))
    };
    let line = Moments::of(points()).line()?;
    Some(points().map(|(x, y)| y - line.at(x)).collect())
}

fn mean_square(values: &[f64]) -> f64 {
    values.iter().map(|v| v * v).sum::<f64>() / real(values.len().max(1))
}

/// Mean square outside bursts, and the share of the time in them. A block is loud by its scatter about its own mean: what
/// moves slowly is none.
fn without_bursts(values: &[f64]) -> (f64, f64) {
    let scatter = |block: &[f64]| {
        let mean = block.iter().sum::<f64>() / real(block.len());
        block.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / real(block.len())
    };
    let blocks: Vec<f64> = values.chunks_exact(BLOCK).map(scatter).collect();
    // A still signal has blocks without any scatter, and rounding makes 1/12 of what is moved at all.
    let usual = median(&mut blocks.clone()).unwrap_or(0.0).max(1.0 / 12.0);
    let loud: Vec<bool> = blocks.iter().map(|block| *block > LOUD * usual).collect();
    // A burst begins and ends within a block: its neighbours go with it.
    let near = |at: usize| loud[at.saturating_sub(1)..(at + 2).min(loud.len())].contains(&true);
    let kept: Vec<&[f64]> = values
        .chunks_exact(BLOCK)
        .enumerate()
        .filter(|(at, _)| !near(*at))
        .map(|(_, block)| block)
        .collect();
    let share = real(loud.iter().filter(|loud| **loud).count()) / real(loud.len().max(1));
    if kept.is_empty() || share == 0.0 {
        return (mean_square(values), 0.0);
    }
    let quiet = kept.iter().map(|block| mean_square(block)).sum::<f64>() / real(kept.len());
    (quiet, share)
}

/// The lines of a series, strongest first: what stands out of the spectrum's floor beside it.
fn lines(values: &[f64], rate_hz: f64) -> Vec<Line> {
    let n = values.len();
    let power = spectrum(values);
    let mut taken = vec![false; power.len()];
    let mut lines = Vec::new();
    let mut order: Vec<usize> = (LOWEST..power.len().saturating_sub(WIDTH)).collect();
    order.sort_by(|a, b| power[*b].total_cmp(&power[*a]));
    for peak in order.into_iter().take(4 * MOST_LINES) {
        if taken[peak] || lines.len() == MOST_LINES {
            continue;
        }
        let beside = peak.saturating_sub(BESIDE).max(2)..(peak + BESIDE + 1).min(power.len());
        let away = |k: &usize| k.abs_diff(peak) > WIDTH + 1 && !taken[*k];
        let mut floor: Vec<f64> = beside.filter(away).map(|k| power[k]).collect();
        // Of an exponential law the median is ln 2 of the mean.
        let Some(floor) = median(&mut floor).map(|m| m / std::f64::consts::LN_2) else {
            continue;
        };
        let own = peak - WIDTH..peak + WIDTH + 1;
        if power[peak] <= STANDS_OUT * floor.max(f64::MIN_POSITIVE) {
            continue;
        }
        let (mut sum, mut moment) = (0.0, 0.0);
        for k in own.clone() {
            sum += power[k];
            moment += power[k] * real(k);
        }
        let square = sum - floor * real(own.len());
        lines.push(Line {
            hz: moment / sum * rate_hz / real(n),
            rms: square.max(0.0).sqrt(),
        });
        taken[peak.saturating_sub(2 * WIDTH)..(peak + 2 * WIDTH + 1).min(power.len())].fill(true);
    }
    lines.sort_by(|a, b| b.rms.total_cmp(&a.rms));
    lines
}

/// Power in each bin up to half the rate, their sum the mean square: a periodogram under a Hann window.
fn spectrum(values: &[f64]) -> Vec<f64> {
    let n = values.len();
    let window = |i: usize| 0.5 - 0.5 * maths::cos(TAU * (real(i) + 0.5) / real(n));
    let mut wave: Vec<(f64, f64)> = values
        .iter()
        .enumerate()
        .map(|(i, v)| (v * window(i), 0.0))
        .collect();
    transform(&mut wave);
    // Mean square of the window 3/8; both halves of the spectrum.
    let scale = 2.0 / (real(n) * real(n) * 0.375);
    wave[..n / 2]
        .iter()
        .map(|(re, im)| scale * (re * re + im * im))
        .collect()
}

/// Fast Fourier transform in place, a power of two of values (Cooley and Tukey 1965).
fn transform(wave: &mut [(f64, f64)]) {
    let n = wave.len();
    let bits = n.trailing_zeros();
    for i in 0..n {
        let j = i.reverse_bits() >> (usize::BITS - bits);
        if i < j {
            wave.swap(i, j);
        }
    }
    let roots: Vec<(f64, f64)> = (0..n / 2)
        .map(|k| maths::sin_cos(-TAU * real(k) / real(n)))
        .map(|(s, c)| (c, s))
        .collect();
    let mut size = 2;
    while size <= n {
        let (half, stride) = (size / 2, n / size);
        for block in wave.chunks_exact_mut(size) {
            let (low, high) = block.split_at_mut(half);
            for (k, (a, b)) in low.iter_mut().zip(high).enumerate() {
                let (c, s) = roots[k * stride];
                let turned = (b.0 * c - b.1 * s, b.0 * s + b.1 * c);
                (*a, *b) = (
                    (a.0 + turned.0, a.1 + turned.1),
                    (a.0 - turned.0, a.1 - turned.1),
                );
            }
        }
        size *= 2;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, StandardNormal};

    fn noise(seed: u32, n: usize) -> Vec<f64> {
        let mut random = ChaCha8Rng::seed_from_u64(u64::from(seed));
        (0..n).map(|_| StandardNormal.sample(&mut random)).collect()
    }

    #[test]
    fn the_transform_of_one_wave_is_one_bin() {
        // By hand: cos(2 pi 3 i / 16) has 8 in bins 3 and 13 and nothing elsewhere.
        let mut wave: Vec<(f64, f64)> = (0..16)
            .map(|i| ((TAU * 3.0 * f64::from(i) / 16.0).cos(), 0.0))
            .collect();
        transform(&mut wave);
        for (k, (re, im)) in wave.iter().enumerate() {
            let want = if k == 3 || k == 13 { 8.0 } else { 0.0 };
            assert!(
                (re - want).abs() < 1e-12 && im.abs() < 1e-12,
                "{k}: {re} {im}"
            );
        }
    }

    #[test]
    fn the_powers_sum_up_to_the_mean_square() {
        let values = noise(1, 2048);
        let sum: f64 = spectrum(&values).iter().sum();
        assert!((sum / mean_square(&values) - 1.0).abs() < 0.1, "{sum}");
    }

    #[test]
    fn a_line_is_found_with_its_frequency_and_size_and_noise_has_none() {
        let mut found = 0;
        for seed in 0..200 {
            let mut values = noise(seed, 2048);
            found += lines(&values, 1000.0).len();
            for (i, v) in values.iter_mut().enumerate() {
                *v += 2.0_f64.sqrt() * (TAU * 123.4 * real(i) / 1000.0 + f64::from(seed)).sin();
            }
            let lines = lines(&values, 1000.0);
            let [line] = lines[..] else {
                panic!("{lines:?}")
            };
            assert!(
                (line.hz - 123.4).abs() < 0.2 && (line.rms - 1.0).abs() < 0.15,
                "{line:?}"
            );
            assert_eq!(line.mains(), None);
        }
        assert!(found <= 1, "{found} lines in noise");
        let at = |hz| Line { hz, rms: 1.0 };
        assert_eq!(
            [
                at(50.2).mains(),
                at(120.0).mains(),
                at(100.0).mains(),
                at(75.0).mains()
            ],
            [Some(50.0), Some(60.0), Some(50.0), None]
        );
    }

    #[test]
    fn bursts_are_left_out_and_quiet_is_all_there_is_otherwise() {
        let mut values = noise(3, 2000);
        let calm = mean_square(&values);
        assert_eq!(without_bursts(&values), (calm, 0.0));
        for v in &mut values[400..580] {
            *v *= 10.0;
        }
        let (quiet, share) = without_bursts(&values);
        assert!(
            (quiet / calm - 1.0).abs() < 0.1 && (share - 0.09).abs() < 0.02,
            "{quiet} {share}"
        );
        assert!(of_holds(&[Code(5); 100], &[], 1000.0).is_none());
        assert!(straightened(&[Code(5); 100]).is_none() && straightened(&[]).is_none());
    }
}
