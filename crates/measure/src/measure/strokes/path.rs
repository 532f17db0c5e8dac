//! One passage of one channel as real numbers: codes, their times, and where they are not to be trusted.
//!
//! Belongs here: turning samples into a path that the stroke modules share. Does not belong here: what is found on it.

use crate::measure::recording::{Channel, Recording};
use crate::measure::statistics::moments::real;
use crate::measure::statistics::robust::{MAD_FACTOR, median};
use crate::units::{Passage, seconds_from_us};
use std::ops::Range;

/// Standard deviation of rounding to whole codes, `1 / sqrt(12)`: the floor under every noise.
pub(crate) const ROUNDING_SD: f64 = 0.288_675_134_594_812_9;

/// A passage of one channel. All vectors have one entry a sample; never empty.
#[derive(Debug, Clone)]
pub(crate) struct Path {
    /// Index of the first sample in the recording.
    pub first: usize,
    /// Seconds from the recording's first sample: the board's clock, or evenly spaced when only arrival is known.
    pub time: Vec<f64>,
    /// Codes; where the signal was off its path (`off`), what the path would have been.
    pub value: Vec<f64>,
    /// Whether the signal had left its path here.
    pub off: Vec<bool>,
    /// Places where samples are missing before this one, ascending.
    pub breaks: Vec<usize>,
    /// Usual seconds between two samples.
    pub period: f64,
}

impl Path {
    /// The passage of a channel; `None` when it is empty or out of the channel's range.
    pub fn new(
        recording: &Recording<'_>,
        channel: &Channel<'_>,
        passage: &Passage,
    ) -> Option<Self> {
        let codes = channel.codes.get(passage.range.clone())?;
        let t_us = recording.t_us.get(passage.range.clone())?;
        let (&start, &zero) = (t_us.first()?, recording.t_us.first()?);
        let period = period(recording, t_us)?;
        let time: Vec<f64> = if recording.board.board_time {
            t_us.iter()
                .map(|&t| seconds_from_us(t.saturating_sub(zero)))
                .collect()
        } else {
            let start = seconds_from_us(start.saturating_sub(zero));
            (0..codes.len()).map(|i| start + real(i) * period).collect()
        };
        let breaks = (1..time.len())
            .filter(|&i| time[i] - time[i - 1] > 1.5 * period)
            .collect();
        Some(Self {
            first: passage.range.start,
            value: codes.iter().map(|code| code.as_f64()).collect(),
            off: vec![false; codes.len()],
            time,
            breaks,
            period,
        })
    }

    /// Number of samples.
    pub fn len(&self) -> usize {
        self.value.len()
    }

    /// The parts of `range` without missing samples inside, in order.
    pub fn runs(&self, range: Range<usize>) -> Vec<Range<usize>> {
        let mut runs = Vec::new();
        let mut start = range.start;
        let from = self.breaks.partition_point(|&b| b <= range.start);
        for &at in self.breaks[from..].iter().take_while(|&&b| b < range.end) {
            runs.push(start..at);
            start = at;
        }
        runs.push(start..range.end);
        runs
    }

    /// Whole samples nearest to `seconds`.
    pub fn samples(&self, seconds: f64) -> usize {
        nearest(seconds / self.period)
    }

    /// Noise of the path in codes: [`noise_sd_of`] its values.
    pub fn noise_sd(&self) -> f64 {
        noise_sd_of(&self.value)
    }
}

/// Noise in codes that no smooth movement explains, not less than rounding's: from the fourth difference, whose
/// median absolute value neither dropouts nor a worn zone move.
///
/// The fourth difference of white noise has a variance of 70 (1 + 16 + 36 + 16 + 1). At most some ten thousand
/// places are looked at.
pub(crate) fn noise_sd_of(values: &[f64]) -> f64 {
    let stride = (values.len() / 16_384).max(1);
    let mut differences: Vec<f64> = values
        .windows(5)
        .step_by(stride)
        .map(|w| (w[0] - 4.0 * w[1] + 6.0 * w[2] - 4.0 * w[3] + w[4]).abs())
        .collect();
    let sd = median(&mut differences).map_or(0.0, |m| m * MAD_FACTOR / 70.0_f64.sqrt());
    sd.max(ROUNDING_SD)
}

/// The usual time between samples: the median of the board's, or the nominal one.
fn period(recording: &Recording<'_>, t_us: &[u64]) -> Option<f64> {
    let nominal = (recording.board.rate_hz.is_finite() && recording.board.rate_hz > 0.0)
        .then(|| 1.0 / recording.board.rate_hz);
    if !recording.board.board_time {
        return nominal;
    }
    let mut steps: Vec<f64> = t_us
        .windows(2)
        .take(2001)
        .map(|pair| seconds_from_us(pair[1].saturating_sub(pair[0])))
        .collect();
    median(&mut steps).filter(|step| *step > 0.0).or(nominal)
}

/// The nearest whole number, not below 0.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // saturates at both ends, NaN is 0
pub(crate) fn nearest(value: f64) -> usize {
    value.round() as usize
}
