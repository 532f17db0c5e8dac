//! One passage of one channel: its codes, their times, and where the signal had left its path.

mod coarse;

use crate::measure::recording::{Channel, Recording};
use crate::measure::statistics::moments::real;
use crate::measure::statistics::robust::{MAD_FACTOR, median};
use crate::units::{Code, Passage, seconds_from_us};
use coarse::{Counted, counted};
use std::ops::Range;
use std::sync::OnceLock;

/// Standard deviation of rounding to whole codes, `1 / sqrt(12)`: the floor under every noise.
pub(crate) const ROUNDING_SD: f64 = 0.288_675_134_594_812_9;

/// A passage of one channel; never empty.
#[derive(Debug, Clone)]
pub(crate) struct Path<'a> {
    /// Index of the first sample in the recording.
    pub first: usize,
    /// Usual seconds between two samples.
    pub period: f64,
    codes: &'a [Code],
    clock: Clock<'a>,
    bridged: Vec<Bridged>,
    noise_sd: OnceLock<f64>,
}

/// Where a sample's time comes from.
#[derive(Debug, Clone)]
enum Clock<'a> {
    /// The board's microseconds, and those of the recording's first sample.
    Board { t_us: &'a [u64], zero: u64 },
    /// The board's stamps are coarse: the sample's place among those taken, from so many seconds on.
    Counted { places: Vec<u32>, start: f64 },
    /// Only arrival is known: evenly spaced from so many seconds on.
    Even { start: f64 },
}

/// Samples off the path, with the codes that the path would have had.
#[derive(Debug, Clone)]
pub(crate) struct Bridged {
    pub range: Range<usize>,
    pub value: Vec<f64>,
}

/// Some samples in a row, copied out to be worked on.
#[derive(Debug, Clone)]
pub(crate) struct Piece {
    /// Codes; where the signal was off its path, what the path would have been.
    pub value: Vec<f64>,
    /// Whether the signal had left its path.
    pub off: Vec<bool>,
    /// Usual seconds between two samples.
    pub period: f64,
}

impl<'a> Path<'a> {
    /// The passage of a channel; `None` when it is empty or out of the channel's range.
    pub fn new(
        recording: &Recording<'a>,
        channel: &Channel<'a>,
        passage: &Passage,
    ) -> Option<Self> {
        let codes = channel.codes.get(passage.range.clone())?;
        let t_us = recording.t_us.get(passage.range.clone())?;
        let (&start, &zero) = (t_us.first()?, recording.t_us.first()?);
        let since = seconds_from_us(start.saturating_sub(zero));
        let (clock, period) = Clock::of(recording, t_us, zero, since)?;
        Some(Self {
            first: passage.range.start,
            period,
            codes,
            clock,
            bridged: Vec::new(),
            noise_sd: OnceLock::new(),
        })
    }

    /// Number of samples.
    pub fn len(&self) -> usize {
        self.codes.len()
    }

    /// The codes as they came, dropouts and all.
    pub fn codes(&self) -> &'a [Code] {
        self.codes
    }

    /// Seconds from the recording's first sample.
    pub fn time(&self, at: usize) -> f64 {
        match &self.clock {
            Clock::Board { t_us, zero } => seconds_from_us(t_us[at].saturating_sub(*zero)),
            Clock::Counted { places, start } => start + f64::from(places[at]) * self.period,
            Clock::Even { start } => start + real(at) * self.period,
        }
    }

    /// The code at a sample; where the signal was off its path, what the path would have been.
    pub fn value(&self, at: usize) -> f64 {
        self.bridge_at(at).map_or_else(
            || self.codes[at].as_f64(),
            |bridge| bridge.value[at - bridge.range.start],
        )
    }

    /// The samples off the path, in order.
    pub fn off(&self) -> impl Iterator<Item = Range<usize>> {
        self.bridged.iter().map(|bridged| bridged.range.clone())
    }

    /// Takes samples off the path; behind all that were taken before.
    pub fn bridge(&mut self, bridged: Bridged) {
        self.bridged.push(bridged);
        self.noise_sd = OnceLock::new();
    }

    fn bridge_at(&self, at: usize) -> Option<&Bridged> {
        if self.bridged.is_empty() {
            return None;
        }
        let before = self.bridged.partition_point(|b| b.range.end <= at);
        self.bridged.get(before).filter(|b| b.range.start <= at)
    }

    /// Calls `each` with every code in order.
    pub fn for_each(&self, mut each: impl FnMut(usize, f64)) {
        let mut bridged = self.bridged.iter();
        let (mut over, mut next) = (None, bridged.next());
        for (at, code) in self.codes.iter().enumerate() {
            if next.is_some_and(|next| next.range.start == at) {
                (over, next) = (next, bridged.next());
            }
            let off = over.and_then(|over| over.value.get(at - over.range.start));
            each(at, off.copied().unwrap_or_else(|| code.as_f64()));
        }
    }

    /// The samples of a range of this path.
    pub fn piece(&self, range: Range<usize>) -> Piece {
        let codes = &self.codes[range.clone()];
        let mut value: Vec<f64> = codes.iter().map(|code| code.as_f64()).collect();
        let mut off = vec![false; codes.len()];
        let first = self.bridged.partition_point(|b| b.range.end <= range.start);
        for bridged in self.bridged[first..]
            .iter()
            .take_while(|b| b.range.start < range.end)
        {
            let from = bridged.range.start.max(range.start);
            let to = bridged.range.end.min(range.end);
            let source = from - bridged.range.start..to - bridged.range.start;
            value[from - range.start..to - range.start].copy_from_slice(&bridged.value[source]);
            off[from - range.start..to - range.start].fill(true);
        }
        Piece {
            value,
            off,
            period: self.period,
        }
    }

    /// The parts of a range without missing samples inside, counted from the range's start.
    pub fn runs(&self, range: Range<usize>) -> Vec<Range<usize>> {
        let mut runs = Vec::new();
        let mut start = 0;
        let mut cut = |at: usize| {
            runs.push(start..at);
            start = at;
        };
        match &self.clock {
            Clock::Board { t_us, .. } => {
                let t_us = &t_us[range.clone()];
                // A look at whole microseconds spares most of the arithmetic.
                let usual = whole_us(1.4 * self.period);
                for (at, pair) in (1..).zip(t_us.windows(2)) {
                    let place = range.start + at;
                    if pair[1].saturating_sub(pair[0]) > usual
                        && self.time(place) - self.time(place - 1) > 1.5 * self.period
                    {
                        cut(at);
                    }
                }
            }
            Clock::Counted { places, .. } => {
                for (at, pair) in (1..).zip(places[range.clone()].windows(2)) {
                    if pair[1] - pair[0] > 1 {
                        cut(at);
                    }
                }
            }
            Clock::Even { .. } => {}
        }
        runs.push(start..range.len());
        runs
    }

    /// Samples that never arrived between a sample and the one before it.
    pub fn missing_before(&self, at: usize) -> usize {
        self.samples(self.time(at) - self.time(at - 1))
            .saturating_sub(1)
    }

    /// Whole samples nearest to `seconds`.
    pub fn samples(&self, seconds: f64) -> usize {
        nearest(seconds / self.period)
    }

    /// Noise of the path in codes: [`noise_sd_of`] its values.
    pub fn noise_sd(&self) -> f64 {
        *self
            .noise_sd
            .get_or_init(|| noise_sd_of(self.len(), |at| self.value(at)))
    }

    /// Evenly spaced codes.
    #[cfg(test)]
    pub fn of_codes(first: usize, period: f64, codes: &'a [Code]) -> Self {
        Self {
            first,
            period,
            codes,
            clock: Clock::Even { start: 0.0 },
            bridged: Vec::new(),
            noise_sd: OnceLock::new(),
        }
    }
}

/// Noise in codes that no smooth movement explains, not less than rounding's: from the fourth difference, whose
/// median absolute value neither dropouts nor a worn zone move.
///
/// The fourth difference of white noise has a variance of 70 (1 + 16 + 36 + 16 + 1). At most some ten thousand
/// places are looked at.
pub(crate) fn noise_sd_of(len: usize, value: impl Fn(usize) -> f64) -> f64 {
    let stride = (len / 16_384).max(1);
    let mut near = [0.0; 5];
    let mut differences: Vec<f64> = (0..len.saturating_sub(4))
        .step_by(stride)
        .map(|at| {
            near = match near {
                // What the place before has seen is not asked for again.
                [_, b, c, d, e] if stride == 1 && at > 0 => [b, c, d, e, value(at + 4)],
                _ => std::array::from_fn(|k| value(at + k)),
            };
            (near[0] - 4.0 * near[1] + 6.0 * near[2] - 4.0 * near[3] + near[4]).abs()
        })
        .collect();
    let sd = median(&mut differences).map_or(0.0, |m| m * MAD_FACTOR / 70.0_f64.sqrt());
    sd.max(ROUNDING_SD)
}

impl<'a> Clock<'a> {
    /// The clock of samples that begin `since` seconds after the recording, and the usual time between them: the median of the
    /// board's, or the nominal one.
    fn of(
        recording: &Recording<'_>,
        t_us: &'a [u64],
        zero: u64,
        since: f64,
    ) -> Option<(Self, f64)> {
        let nominal = (recording.board.rate_hz.is_finite() && recording.board.rate_hz > 0.0)
            .then(|| 1.0 / recording.board.rate_hz);
        if !recording.board.board_time {
            return Some((Self::Even { start: since }, nominal?));
        }
        if let Some(Counted { places, period }) = nominal.and_then(|p| counted(t_us, p)) {
            let start = since;
            return Some((Self::Counted { places, start }, period));
        }
        let mut steps: Vec<f64> = t_us
            .windows(2)
            .take(2001)
            .map(|pair| seconds_from_us(pair[1].saturating_sub(pair[0])))
            .collect();
        let usual = median(&mut steps).filter(|step| *step > 0.0).or(nominal)?;
        Some((Self::Board { t_us, zero }, usual))
    }
}

/// The nearest whole number, not below 0.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // saturates at both ends, NaN is 0
pub(crate) fn nearest(value: f64) -> usize {
    value.round() as usize
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // saturates at both ends
fn whole_us(seconds: f64) -> u64 {
    (seconds * 1e6) as u64
}
