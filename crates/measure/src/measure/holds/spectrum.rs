//! The mains line in holds: `hum_50_rms`, `hum_60_rms`.

use crate::figure::{Evidence, Figure, Shrink};
use crate::measure::holds::hold::Hold;
use crate::measure::recording::Recording;
use crate::measure::statistics::interval::coverage_factor;
use crate::measure::statistics::linear_system::{Equations, solve};
use crate::measure::statistics::moments::{mean, real};
use crate::measure::statistics::quantise::least_input_sd;
use crate::units::maths;
use crate::units::{Code, seconds_from_us};
use std::f64::consts::TAU;
use std::ops::Range;

/// Slower boards would fold the line onto others.
const SLOWEST_HZ: f64 = 200.0;

/// A hold is cut into pieces of this length, each with a phase of its own: 25 cycles of 50 Hz, 30 of 60 Hz, and short
/// enough that a board's clock 0.5 % off costs less than 3 % of the amplitude.
const PIECE_S: f64 = 0.5;

/// Most samples looked at: the figure is firm long before.
const ENOUGH: usize = 1 << 17;

/// Frequencies at which the noise beside the line is measured, in multiples of 1 / [`PIECE_S`] away from it. 50 and
/// 60 Hz are 5 multiples separable and their side lines are left out.
const BESIDE: [f64; 6] = [-3.0, -2.0, -1.0, 1.0, 2.0, 3.0];

/// Cosine and sine at some times, and their normal equations with an offset and a slope about the mean time: what does not depend
/// on the values.
#[derive(Default)]
struct Model {
    waves: Vec<[f64; 2]>,
    normal: Equations,
}

impl Model {
    fn new(t: &[f64], frequency: f64) -> Self {
        let middle = mean(t);
        let term = |t: &f64| {
            let (sin, cos) = maths::sin_cos(TAU * frequency * t);
            [cos, sin, 1.0, t - middle]
        };
        let mut normal = Equations::default();
        let mut waves = Vec::with_capacity(t.len());
        for basis in t.iter().map(term) {
            waves.push([basis[0], basis[1]]);
            for (row, one) in normal.iter_mut().zip(basis) {
                for (cell, other) in row.iter_mut().zip(basis) {
                    *cell += one * other;
                }
            }
        }
        Self { waves, normal }
    }

    /// Least squares, four parameters: the sine fit of IEEE 1057 at a known frequency with a slope. `None` when there are too
    /// few values or the parameters cannot be told separable.
    fn fit(&self, values: &Values) -> Option<[f64; 4]> {
        if self.waves.len() != values.y.len() || values.y.len() <= 4 {
            return None;
        }
        let (mut by_cos, mut by_sin) = (0.0, 0.0);
        for ([cos, sin], y) in self.waves.iter().zip(&values.y) {
            by_cos += cos * y;
            by_sin += sin * y;
        }
        let mut equations = self.normal;
        let right = [by_cos, by_sin, values.sum, values.by_time];
        for (row, right) in equations.iter_mut().zip(right) {
            row[4] = right;
        }
        solve(&equations, 4)
    }
}

/// Values about their mean, their sum, and that of their products with the time about its mean.
struct Values {
    y: Vec<f64>,
    sum: f64,
    by_time: f64,
}

impl Values {
    /// Of values at some times about their mean.
    fn new(mut y: Vec<f64>, t: &[f64]) -> Self {
        let level = mean(&y);
        for y in &mut y {
            *y -= level;
        }
        let by_time = t.iter().zip(&y).map(|(t, y)| t * y).sum();
        let sum = y.iter().sum();
        Self { y, sum, by_time }
    }
}

/// Rms of a mains line over the holds, in codes. `None` below 200 samples a second or without half a second of hold.
///
/// Every half second is fitted by itself with a line taken out; the power that noise alone puts there, measured at
/// six frequencies beside, is taken off (a figure of 0 means: nothing beyond the noise). Interval: the fitted powers
/// over that noise follow a non-central chi-square; its centre is bounded by the normal approximation.
pub fn hum(
    recording: &Recording<'_>,
    codes: &[Code],
    holds: &[&Hold],
    mains_hz: f64,
) -> Option<Figure> {
    // A hair slower than 200 a second is still 200 a second; twice the mains needs more, lest it be folded onto the lines beside.
    let slowest_hz = SLOWEST_HZ.max(2.2 * (mains_hz + 6.0) - 26.0);
    let pieces = pieces(recording, holds, slowest_hz);
    let mut sums = Sums::at(mains_hz);
    for piece in &pieces {
        sums.add(
            recording.t_us.get(piece.clone())?,
            codes.get(piece.clone())?,
        );
    }
    if sums.samples == 0 {
        return None;
    }
    let m = real(sums.pieces);
    let n = real(sums.samples);
    // In units of the noise that one coefficient carries, per sample: s = sum of 2 m squared unit normals, shifted.
    let noise = (sums.beside / (2.0 * m * real(BESIDE.len()))).max(f64::MIN_POSITIVE);
    let s = sums.line / noise;
    let rms = |centre: f64| (centre.max(0.0) * noise / n).sqrt();
    // |s - 2 m - c| = k 2 sqrt(m + c), solved for c with x = sqrt(m + c).
    let k = coverage_factor(f64::INFINITY);
    let root = (k * k + (s - m).max(0.0)).sqrt();
    let rounding = rounding(noise);
    let low = (rms((root - k).powi(2) - m) - rounding).max(0.0);
    let high = rms((root + k).powi(2) - m) + rounding;
    let value = rms(s - 2.0 * m);
    let hidden = if rounding > 0.05 {
        "; noise too small to dither the rounding, what it could hide is in the interval"
    } else {
        ""
    };
    let host = if recording.board.board_time {
        ""
    } else {
        "; host time smears it"
    };
    Some(Figure {
        value,
        u: Some((high - low) / (2.0 * k)),
        low: Some(low),
        high: Some(high),
        n: sums.samples as u64,
        method: format!(
            "{mains_hz} Hz sine fit in {} pieces of {PIECE_S} s, noise beside it ({:.3} code) taken off{hidden}{host}",
            sums.pieces,
            rms(2.0 * m),
        ),
        // Of a line that is clearly there the amplitude is a mean over the pieces; else its upper end falls slower.
        shrink: (low > 0.0)
            .then(|| Shrink::mean(Evidence::Seconds, m * PIECE_S, 0.0))
            .filter(|_| sums.samples < ENOUGH),
    })
}

/// What rounding to whole codes may hide of a line, or make of one: half a code where no noise dithers it, less by the gain that
/// gaussian noise of `sigma` codes gives a small signal at a code's middle, `1 - 2 exp(-2 pi^2 sigma^2)` (Widrow, Kollar and Liu
/// 1996, from memory). A line is no dither of its own: it may be sampled at the same few places of every turn.
fn rounding(variance: f64) -> f64 {
    let sigma = least_input_sd(variance.sqrt());
    let lost = 2.0 * maths::exp(-0.5 * (TAU * sigma).powi(2));
    0.5 * lost.min(1.0)
}

/// The first pieces of the holds, up to [`ENOUGH`] samples.
fn pieces(recording: &Recording<'_>, holds: &[&Hold], slowest_hz: f64) -> Vec<Range<usize>> {
    let mut pieces = Vec::new();
    let mut left = ENOUGH;
    for hold in holds {
        let Some(times) = recording.t_us.get(hold.range.clone()) else {
            continue;
        };
        let (Some(first), Some(last)) = (times.first(), times.last()) else {
            continue;
        };
        let period = seconds_from_us(last.saturating_sub(*first)) / real(times.len().max(2) - 1);
        if period <= 0.0 || period * slowest_hz > 1.001 {
            continue;
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // positive, saturates
        let length = (PIECE_S / period).round() as usize;
        let mut start = hold.range.start;
        while start + length <= hold.range.end && left > 0 {
            pieces.push(start..start + length);
            start += length;
            left = left.saturating_sub(length);
        }
    }
    pieces
}

/// Powers, each the sum over pieces of `n a^2 / 2`: the sum of squares that a sine explains.
struct Sums {
    mains_hz: f64,
    line: f64,
    beside: f64,
    pieces: usize,
    samples: usize,
    /// Times of the piece before, from its first sample, and the models at those times: a board that samples evenly has
    /// the same in every piece, and sines are dear.
    elapsed: Vec<u64>,
    /// The same in seconds about their mean.
    t: Vec<f64>,
    on: Model,
    off: Vec<Model>,
}

impl Sums {
    fn at(mains_hz: f64) -> Self {
        Self {
            mains_hz,
            line: 0.0,
            beside: 0.0,
            pieces: 0,
            samples: 0,
            elapsed: Vec::new(),
            t: Vec::new(),
            on: Model::default(),
            off: Vec::new(),
        }
    }

    fn add(&mut self, t_us: &[u64], codes: &[Code]) {
        let Some(first) = t_us.first() else { return };
        let elapsed = t_us.iter().map(|t| t.saturating_sub(*first));
        if !elapsed.clone().eq(self.elapsed.iter().copied()) {
            self.elapsed = elapsed.collect();
            let mut t: Vec<f64> = self.elapsed.iter().map(|t| seconds_from_us(*t)).collect();
            let model = |f: f64| Model::new(&t, f);
            self.on = model(self.mains_hz);
            self.off = BESIDE.map(|k| model(self.mains_hz + k / PIECE_S)).into();
            let middle = mean(&t);
            for t in &mut t {
                *t -= middle;
            }
            self.t = t;
        }
        let values = Values::new(codes.iter().map(|code| code.as_f64()).collect(), &self.t);
        let n = real(codes.len());
        let power = |model: &Model| {
            let [cos, sin, ..] = model.fit(&values)?;
            Some(n * (cos * cos + sin * sin) / 2.0)
        };
        let beside: Option<f64> = self.off.iter().map(power).sum();
        if let Some((line, beside)) = power(&self.on).zip(beside) {
            self.line += line;
            self.beside += beside;
            self.pieces += 1;
            self.samples += codes.len();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::reference_file::{numbers, reference};

    struct Sine {
        amplitude: f64,
        /// Of `amplitude * cos(2 pi f t + phase)`, radians.
        phase: f64,
        offset: f64,
        slope: f64,
        residual_sd: f64,
    }

    fn sine(t: &[f64], y: &[f64], frequency: f64) -> Option<Sine> {
        let (model, level, middle) = (Model::new(t, frequency), mean(y), mean(t));
        let about: Vec<f64> = t.iter().map(|t| t - middle).collect();
        let values = Values::new(y.to_vec(), &about);
        let [cos, sin, offset, slope] = model.fit(&values)?;
        let squares = model.waves.iter().zip(about).zip(&values.y);
        let squares: f64 = squares
            .map(|(([c, s], t), y)| (y - cos * c - sin * s - offset - slope * t).powi(2))
            .sum();
        Some(Sine {
            amplitude: cos.hypot(sin),
            phase: (-sin).atan2(cos),
            offset: offset + level,
            slope,
            residual_sd: (squares / real(t.len() - 4)).sqrt(),
        })
    }

    /// Mains line with trend: closed form where noise-free, scipy on seeded data (file 23).
    #[test]
    fn sine_fit_of_the_reference() {
        let file = reference("23-sine-fit.json");
        let rate = file["inputs"]["rate_hz"].as_f64().unwrap();
        let n = usize::try_from(file["inputs"]["samples"].as_u64().unwrap()).unwrap();
        let t: Vec<f64> = (0..n).map(|i| real(i) / rate).collect();
        let check = |sine: Sine, name: &str, tol: f64| {
            let expected = &file["expected"][name];
            let close = |got: f64, wanted: &serde_json::Value, what: &str| {
                if let Some(wanted) = wanted.as_f64() {
                    assert!(
                        (got / wanted - 1.0).abs() <= tol,
                        "{name} {what}: {got} for {wanted}"
                    );
                }
            };
            close(sine.amplitude, &expected["amplitude"], "amplitude");
            close(sine.amplitude / 2.0_f64.sqrt(), &expected["rms"], "rms");
            close(sine.phase, &expected["phase_rad"], "phase");
            close(sine.offset, &expected["offset"], "offset");
            close(sine.slope, &expected["slope_per_s"], "slope");
            close(sine.residual_sd, &expected["residual_sd"], "residual");
        };
        let tol = |name: &str| file["tolerance"][name].as_f64().unwrap();
        let middle = mean(&t);
        let clean: Vec<f64> = t
            .iter()
            .map(|t| 2048.0 + 3.0 * (TAU * 50.0 * t + 0.7).cos() + 12.0 * (t - middle))
            .collect();
        check(
            sine(&t, &clean, 50.0).unwrap(),
            "noise_free",
            tol("noise_free_relative"),
        );
        let y = numbers(&file["inputs"]["noisy"]);
        for (name, frequency) in [
            ("noisy_50_hz_with_trend", 50.0),
            ("noisy_60_hz_with_trend", 60.0),
        ] {
            check(
                sine(&t, &y, frequency).unwrap(),
                name,
                tol("noisy_relative"),
            );
        }
    }

    /// Where a line reads when the board is too slow for it (file 23, sampling theorem); why hum is not told below 200.
    #[test]
    fn aliases_of_the_reference() {
        let file = reference("23-sine-fit.json");
        let mut seen = 0;
        for (rate, row) in file["expected"]["alias_hz"].as_object().unwrap() {
            let rate: f64 = rate.parse().unwrap();
            let t: Vec<f64> = (0..1200).map(|i| f64::from(i) / rate).collect();
            let apparent = |line: f64| row[format!("{line}")].as_f64().unwrap();
            for line in [50.0, 60.0, 100.0, 120.0] {
                let alias = apparent(line);
                // At 0 and at half the rate the phase decides what is seen.
                if alias > 0.0 && 2.0 * alias < rate {
                    let y: Vec<f64> = t.iter().map(|t| (TAU * line * t + 0.4).cos()).collect();
                    let sine = sine(&t, &y, alias).unwrap();
                    assert!((sine.amplitude - 1.0).abs() < 1e-9, "{line} at {rate}");
                    assert!(sine.residual_sd < 1e-9, "{line} at {rate}");
                    seen += 1;
                }
            }
            if rate >= SLOWEST_HZ {
                let unfolded = [50.0, 60.0].map(apparent);
                assert!((unfolded[0] - 50.0).abs() < 1e-9 && (unfolded[1] - 60.0).abs() < 1e-9);
                // Nor does the second harmonic fall on a line or beside it.
                for harmonic in [100.0, 120.0].map(apparent) {
                    assert!(harmonic > 66.0, "{rate}: {harmonic}");
                }
            }
        }
        assert!(seen >= 30, "{seen}");
    }

    /// By hand: a line of 0.45 code about a code's middle never leaves it, rms 0.45/sqrt(2) = 0.318. One of 3 codes, 3/sqrt(2) = 2.121,
    /// that is looked at ten times in each turn, at the same places, reads 1.94.
    #[test]
    fn what_rounding_hides_of_a_line_is_in_the_interval() {
        use crate::measure::holds::hold;
        use crate::measure::recording::BoardFacts;
        use crate::units::Scale;
        let scale = Scale::new(10, 5000.0).unwrap();
        let t_us: Vec<u64> = (0..2000).map(|i| i * 2000).collect();
        for amplitude in [0.45, 3.0] {
            let code = |t: &u64| {
                let wave = (TAU * 50.0 * seconds_from_us(*t) + 0.3).sin();
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // near 410
                Code((410.0 + amplitude * wave).round() as u32)
            };
            let codes: Vec<Code> = t_us.iter().map(code).collect();
            let hold = hold::measure(&t_us, &codes, 0..2000, scale).unwrap();
            let recording = Recording::new(BoardFacts::new(scale, 500.0), &t_us, &[]);
            let figure = hum(&recording, &codes, &[&hold], 50.0).unwrap();
            let (low, high) = (figure.low.unwrap(), figure.high.unwrap());
            let truth = amplitude / 2.0_f64.sqrt();
            assert!(low <= truth && truth <= high, "{low} {truth} {high}");
            assert!(high - low < 1.1, "{low} {high}");
        }
    }

    #[test]
    fn too_few_and_what_cannot_be_told_apart() {
        assert!(sine(&[], &[], 50.0).is_none());
        assert!(sine(&[0.0, 1.0, 2.0, 3.0], &[1.0; 4], 50.0).is_none());
        // 50 Hz at 100 samples a second: only the cosine is seen.
        let t: Vec<f64> = (0..50).map(|i| f64::from(i) / 100.0).collect();
        assert!(sine(&t, &[1.0; 50], 50.0).is_none());
    }
}
