//! Holds: passages in which the control stands still, and what one hold says.

use crate::measure::statistics::interval::coverage_factor;
use crate::measure::statistics::least_squares::{Line, Moments};
use crate::measure::statistics::moments::{batch_uncertainty, real};
use crate::measure::statistics::quantise;
use crate::units::maths;
use crate::units::{Code, Scale, Step, seconds_from_us};
use std::ops::Range;

/// Share of a hold's samples at an end of the scale from which the hold counts as saturated.
///
/// A gaussian with 1 % beyond the end has its mean moved by 0.003 sigma; a single dropout is not saturation.
const SATURATED_SHARE: f64 = 0.01;

/// Most batches a hold is cut into: enough degrees of freedom, and each as long as can be.
const BATCHES: usize = 32;

/// Fewest batches that say something of their own scatter.
const FEWEST_BATCHES: usize = 8;

/// Batches last a multiple of this: 5 cycles of 50 Hz, 6 of 60 Hz, so that mains hum averages out of each.
const WHOLE_CYCLES_S: f64 = 0.1;

/// One cycle of 50 Hz.
const CYCLE_S: f64 = 0.02;

/// Parameters of the line that is taken out of a hold.
const FITTED: usize = 2;

/// An end of the scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rail {
    /// Code 0.
    Low,
    /// The largest code.
    High,
}

/// What one hold says. All in codes; times in seconds.
#[derive(Debug, Clone, PartialEq)]
pub struct Hold {
    /// The samples.
    pub range: Range<usize>,
    /// Mean code.
    pub mean: f64,
    /// Slope of the least-squares line, codes a second.
    pub slope: f64,
    /// Standard deviation about the line, divisor `n - 2`; `None` below three samples.
    pub noise: Option<f64>,
    /// Effective degrees of freedom of `noise` squared: fewer than `n - 2` when it is correlated, more when it is hum.
    pub noise_dof: f64,
    /// Standard uncertainty of the mean from the noise, correlation included; `None` below three samples.
    pub u_mean: Option<f64>,
    /// Degrees of freedom of `u_mean`.
    pub u_dof: f64,
    /// Largest minus smallest residual about the line.
    pub peak_to_peak: f64,
    /// Seconds from its first to its last sample.
    pub lasted_s: f64,
    /// The rail at which at least 1 % of the samples sit.
    pub saturated: Option<Rail>,
    /// Share of the samples that sit there, 0 to 1; 0 when not saturated.
    pub at_rail: f64,
    /// Whether its passage contained a movement that was cut off.
    pub trimmed: bool,
}

impl Hold {
    /// Number of samples.
    #[must_use]
    pub fn n(&self) -> usize {
        self.range.len()
    }

    /// Effective number of independent samples in the mean: noise variance over that of the mean. At most the number of samples,
    /// though what averages out of a mean (hum) would count for more.
    #[must_use]
    pub fn effective_n(&self) -> Option<f64> {
        let ratio = self.noise? / self.u_mean?;
        let most = real(self.n()).max(1.0);
        ratio
            .is_finite()
            .then_some((ratio * ratio).clamp(1.0, most))
    }

    /// How far it moved from its first to its last sample, in codes, where that is more than its noise explains (five standard
    /// uncertainties of the slope of white noise, root 12 times that of the mean) and faster than `rate` codes a second.
    #[must_use]
    pub fn moves(&self, rate: f64) -> Option<f64> {
        let moved = self.slope * self.lasted_s;
        let clear = 5.0 * 12.0_f64.sqrt() * maths::hypot(self.u_mean?, self.rounding_bound() / 3.0);
        (self.slope.abs() > rate && moved.abs() > clear).then_some(moved)
    }

    /// Half width of the rectangle that stands for rounding left in the mean.
    #[must_use]
    pub fn rounding_bound(&self) -> f64 {
        quantise::mean_error_bound(quantise::least_input_sd(self.noise.unwrap_or(0.0)))
    }
}

/// The smallest noise of some holds, in codes: that of a hold too short to tell counts as none.
pub fn lowest_noise(holds: &[&Hold]) -> f64 {
    let noises = holds.iter().map(|hold| hold.noise.unwrap_or(0.0));
    noises.fold(f64::INFINITY, f64::min)
}

/// The passages of a step, each as a hold with all its samples.
pub fn passages_of(
    passages: &[crate::units::Passage],
    step: Step,
) -> impl DoubleEndedIterator<Item = &Range<usize>> {
    passages
        .iter()
        .filter(move |passage| passage.step == step)
        .map(|passage| &passage.range)
}

/// Measures one hold: three passes over its samples, no allocation that grows with it.
///
/// `None` when the range is empty or outside the slices.
pub fn measure(t_us: &[u64], codes: &[Code], range: Range<usize>, scale: Scale) -> Option<Hold> {
    let times = t_us.get(range.clone())?;
    let codes = codes.get(range.clone())?;
    let (start, n) = (*times.first()?, codes.len());
    let points = times
        .iter()
        .zip(codes)
        .map(|(&t, code)| (since(start, t), code.as_f64()));
    let moments = Moments::of(points.clone());
    // Time that stands still has no slope.
    let line = moments.line().unwrap_or(Line {
        x0: moments.mean_x,
        y0: moments.mean_y,
        slope: 0.0,
    });
    let mut residuals = Residuals::new(n, batch_length(times));
    for (t, code) in points {
        residuals.push(code - line.at(t));
    }
    let (saturated, at_rail) = saturation(codes, scale);
    let summary = residuals.finish();
    Some(Hold {
        range,
        mean: line.y0,
        slope: line.slope,
        noise: summary.noise,
        noise_dof: summary.noise_dof,
        u_mean: summary.u_mean,
        u_dof: summary.u_dof,
        peak_to_peak: summary.peak_to_peak,
        lasted_s: since(start, *times.last()?),
        saturated,
        at_rail,
        trimmed: false,
    })
}

/// Samples in a batch. Whole cycles of 50 and 60 Hz where the hold is long enough for eight such batches; whole cycles
/// of 50 Hz in a shorter one (60 Hz then leaks a little and widens the uncertainty); else an eighth of the hold; one
/// sample in a tiny hold.
fn batch_length(times: &[u64]) -> usize {
    let n = times.len();
    let (Some(first), Some(last)) = (times.first(), times.last()) else {
        return 1;
    };
    if n < 2 * FEWEST_BATCHES {
        return 1;
    }
    let lasted = since(*first, *last);
    let samples = |seconds: f64| (seconds * real(n - 1) / lasted).round();
    let eighth = n / FEWEST_BATCHES;
    let both = (lasted / WHOLE_CYCLES_S / real(BATCHES)).ceil().max(1.0) * WHOLE_CYCLES_S;
    let one = (real(eighth) / real(n) * lasted / CYCLE_S).floor() * CYCLE_S;
    [samples(both), samples(one)]
        .into_iter()
        .find(|length| (4.0..=real(eighth)).contains(length))
        .map_or(eighth, |length| {
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 4 ..= n / 8
            let length = length as usize;
            length
        })
}

/// The rail at which at least 1 % of the codes sit, and their share; the fuller one when both do.
fn saturation(codes: &[Code], scale: Scale) -> (Option<Rail>, f64) {
    let top = scale.max_code();
    let at_low = codes.iter().filter(|code| code.0 == 0).count();
    let at_high = codes.iter().filter(|code| **code >= top).count();
    let (most, rail) = if at_low >= at_high {
        (at_low, Rail::Low)
    } else {
        (at_high, Rail::High)
    };
    let share = real(most) / real(codes.len()).max(1.0);
    if most > 0 && share >= SATURATED_SHARE {
        (Some(rail), share)
    } else {
        (None, 0.0)
    }
}

fn since(start: u64, t: u64) -> f64 {
    seconds_from_us(t.saturating_sub(start))
}

/// Residuals about a line, summed up on the way: squares, ends, and means of batches of both.
struct Residuals {
    n: usize,
    length: usize,
    filled: usize,
    low: f64,
    high: f64,
    squares: f64,
    values: Vec<f64>,
    powers: Vec<f64>,
    sum: f64,
    power: f64,
}

struct Summary {
    noise: Option<f64>,
    noise_dof: f64,
    u_mean: Option<f64>,
    u_dof: f64,
    peak_to_peak: f64,
}

impl Residuals {
    fn new(n: usize, length: usize) -> Self {
        Self {
            n,
            length,
            filled: 0,
            low: f64::INFINITY,
            high: f64::NEG_INFINITY,
            squares: 0.0,
            values: Vec::with_capacity(n / length),
            powers: Vec::with_capacity(n / length),
            sum: 0.0,
            power: 0.0,
        }
    }

    fn push(&mut self, residual: f64) {
        self.low = self.low.min(residual);
        self.high = self.high.max(residual);
        self.sum += residual;
        self.power += residual * residual;
        self.filled += 1;
        if self.filled == self.length {
            self.values.push(self.sum / real(self.length));
            self.powers.push(self.power / real(self.length));
            self.squares += self.power;
            (self.sum, self.power, self.filled) = (0.0, 0.0, 0);
        }
    }

    fn finish(self) -> Summary {
        let peak_to_peak = self.high - self.low;
        if self.n <= FITTED {
            return Summary {
                noise: None,
                noise_dof: 0.0,
                u_mean: None,
                u_dof: 0.0,
                peak_to_peak,
            };
        }
        let dof = real(self.n - FITTED);
        let variance = (self.squares + self.power) / dof;
        let of_mean = batch_uncertainty(&self.values, FITTED);
        Summary {
            noise: Some(variance.sqrt()),
            noise_dof: variance_dof(&self.powers, variance, dof),
            u_mean: of_mean.map(|batches| batches.u),
            u_dof: of_mean.map_or(0.0, |batches| batches.dof),
            peak_to_peak,
        }
    }
}

/// Effective degrees of freedom of a variance, from the scatter of the mean squares of batches: `2 s^4 / u^2(s^2)`,
/// less what the scatter of few batches is itself worth (normal over t quantile, squared).
///
/// Correlated noise has fewer than `white`, the `n - 2` of gaussian white noise; hum, whose power is steady, more.
/// Held between 1 and 4 times `white`; `white` itself below 8 batches or 64 samples.
fn variance_dof(powers: &[f64], variance: f64, white: f64) -> f64 {
    match batch_uncertainty(powers, 1) {
        Some(batches) if powers.len() >= FEWEST_BATCHES && white >= 64.0 && batches.u > 0.0 => {
            let few = coverage_factor(f64::INFINITY) / coverage_factor(batches.dof);
            (2.0 * (few * variance / batches.u).powi(2)).clamp(1.0, 4.0 * white)
        }
        _ => white,
    }
}

#[cfg(test)]
impl Hold {
    /// A second at 1 kHz with this mean and this white noise, in codes.
    pub(crate) fn example(mean: f64, noise: f64) -> Self {
        Self {
            range: 0..1000,
            mean,
            slope: 0.0,
            noise: Some(noise),
            noise_dof: 998.0,
            u_mean: Some(noise / 1000.0_f64.sqrt()),
            u_dof: 30.0,
            peak_to_peak: 6.0 * noise,
            lasted_s: 0.999,
            saturated: None,
            at_rail: 0.0,
            trimmed: false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scale() -> Scale {
        Scale::new(10, 5000.0).unwrap()
    }

    fn hold(codes: &[u32]) -> Option<Hold> {
        let codes: Vec<Code> = codes.iter().copied().map(Code).collect();
        let t_us: Vec<u64> = (0..codes.len() as u64).map(|i| 7_000 + i * 1_000).collect();
        measure(&t_us, &codes, 0..codes.len(), scale())
    }

    #[test]
    fn by_hand() {
        // 1 3 2 6 at 1 ms: mean 3, Sxx 5, Sxy 1.4*... by hand: x -1.5 -.5 .5 1.5, y -2 0 -1 3, Sxy 7, slope 1.4 a
        // sample, SS = 14 - 49/5 = 4.2 over 2 degrees.
        let hold = hold(&[1, 3, 2, 6]).unwrap();
        assert!((hold.mean - 3.0).abs() < 1e-12);
        assert!((hold.slope - 1400.0).abs() < 1e-6);
        assert!((hold.noise.unwrap() - 2.1_f64.sqrt()).abs() < 1e-9);
        assert!((hold.noise_dof - 2.0).abs() < 1e-12);
        // residuals 0.1, 0.7, -1.7, 0.9
        assert!((hold.peak_to_peak - 2.6).abs() < 1e-9);
        // white below 16 samples: s / sqrt n
        assert!((hold.u_mean.unwrap() - 2.1_f64.sqrt() / 2.0).abs() < 1e-9);
    }

    #[test]
    fn none_one_two_constant_saturated() {
        assert!(hold(&[]).is_none());
        let one = hold(&[5]).unwrap();
        assert_eq!((one.n(), one.noise, one.u_mean), (1, None, None));
        assert!(hold(&[5, 6]).unwrap().noise.is_none());
        let constant = hold(&[5; 100]).unwrap();
        assert!(constant.noise.unwrap().abs() < 1e-12 && constant.u_mean.unwrap().abs() < 1e-12);
        assert!((constant.rounding_bound() - 0.5).abs() < 1e-12);
        assert_eq!(hold(&[1023; 9]).unwrap().saturated, Some(Rail::High));
        assert_eq!(hold(&[0, 1, 0, 1]).unwrap().saturated, Some(Rail::Low));
        let mut one_spike = vec![500; 200];
        one_spike[17] = 0;
        assert_eq!(hold(&one_spike).unwrap().saturated, None);
        assert!(measure(&[1, 2], &[Code(1)], 0..2, scale()).is_none());
    }

    #[test]
    fn time_that_stands_still_is_no_slope() {
        let codes = [Code(1), Code(2), Code(3)];
        let hold = measure(&[5, 5, 5], &codes, 0..3, scale()).unwrap();
        assert!(hold.slope.abs() < 1e-12);
    }
}
