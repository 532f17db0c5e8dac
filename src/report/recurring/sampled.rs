//! Samples by passages, and what of them is laid over each other.

use crate::capture::Capture;
use measure::holds::{NoiseLines, noise_lines};
use measure::statistics::{mean, real};
use measure::units::{Passage, Role, Step, seconds_from_us};
use std::collections::BTreeMap;
use std::ops::Range;

/// Seconds shown of each return, before it was counted.
const RETURN_S: f64 = 1.5;
/// Seconds shown on either side of a stroke's middle.
const STROKE_S: f64 = 1.0;
/// Part of the span from an end from which on a stroke counts as being there.
const AT_END: f64 = 0.2;

/// Seconds and codes, in the order in which they came.
pub type Curve = Vec<(f64, f64)>;

/// Samples of signals. Columns are as long as `t_us`; what is no number was no reading.
#[derive(Debug, Clone, Default)]
pub struct Sampled {
    pub t_us: Vec<u64>,
    pub passages: Vec<Passage>,
    pub channels: Vec<(String, Vec<f64>)>,
}

impl Sampled {
    /// The signals of a capture, as far as they are evidence.
    pub fn of(capture: &Capture) -> Self {
        let proper = capture.proper();
        let channels = capture.meta.channels.iter().zip(&capture.codes);
        let signals = channels.filter(|((_, meta), _)| meta.role == Role::Signal);
        let numbers = |codes: &[measure::units::Code]| {
            let codes = codes.iter().take(proper);
            codes.map(|code| code.as_f64()).collect()
        };
        let passages = capture.passages.iter().filter(|p| p.range.end <= proper);
        Self {
            t_us: capture.t_us.iter().take(proper).copied().collect(),
            passages: passages.cloned().collect(),
            channels: signals
                .map(|((name, _), codes)| (name.clone(), numbers(codes)))
                .collect(),
        }
    }

    /// The codes of a channel; none where it is not there.
    pub fn codes(&self, channel: &str) -> &[f64] {
        let mut channels = self.channels.iter();
        let found = channels.find(|(name, _)| name == channel);
        found.map_or(&[], |(_, codes)| codes)
    }

    /// The stretches of a step.
    pub fn passages(&self, step: Step) -> impl Iterator<Item = Range<usize>> {
        let passages = self.passages.iter().filter(move |p| p.step == step);
        passages.map(|p| p.range.clone())
    }

    /// Returns: seconds before each was counted, from -1.5 on.
    pub fn returns(&self, channel: &str) -> Vec<Curve> {
        let passages = self.passages(Step::Release);
        let curves = passages.filter_map(|passage| {
            let end = *self.t_us.get(passage.end.checked_sub(1)?)?;
            Some(self.curve(channel, passage, end, -RETURN_S..0.0))
        });
        curves.collect()
    }

    /// Strokes, each way alone: seconds about the moment at which `lead` passed its middle, one to either side.
    pub fn strokes(&self, lead: &str, channel: &str) -> Vec<Curve> {
        let middles = self.middles(lead).into_iter();
        let curves = middles.filter_map(|middle| {
            let at = *self.t_us.get(middle)?;
            Some(self.curve(channel, 0..self.t_us.len(), at, -STROKE_S..STROKE_S))
        });
        curves.collect()
    }

    /// The samples of a stretch of time about a moment.
    fn curve(&self, channel: &str, within: Range<usize>, at_us: u64, span: Range<f64>) -> Curve {
        let since = |t: u64| {
            seconds_from_us(t.saturating_sub(at_us)) - seconds_from_us(at_us.saturating_sub(t))
        };
        let times = self.t_us.get(within.clone()).unwrap_or(&[]);
        let offset = |seconds: f64| times.partition_point(|t| since(*t) < seconds);
        let (from, to) = (offset(span.start), offset(span.end));
        let codes = self.codes(channel).get(within).unwrap_or(&[]);
        let samples = times.iter().zip(codes).take(to).skip(from);
        samples
            .map(|(t, code)| (since(*t), *code))
            .filter(|(_, code)| code.is_finite())
            .collect()
    }

    /// The samples at which the middle was passed, from one end to the other.
    pub fn middles(&self, lead: &str) -> Vec<usize> {
        let codes = self.codes(lead);
        let mut found = Vec::new();
        for passage in self.passages(Step::Strokes) {
            let Some(stretch) = codes.get(passage.clone()) else {
                continue;
            };
            let low = stretch.iter().copied().fold(f64::INFINITY, f64::min);
            let high = stretch.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let (middle, reach) = (f64::midpoint(low, high), AT_END * (high - low));
            let (mut at_high, mut passed, mut before) = (None, None, None);
            for (at, code) in (passage.start..).zip(stretch) {
                if before.is_some_and(|before| (before < middle) != (*code < middle)) {
                    passed = Some(at);
                }
                before = Some(*code);
                let end = match *code {
                    code if code < low + reach => Some(false),
                    code if code > high - reach => Some(true),
                    _ => None,
                };
                if let Some(end) = end {
                    if at_high.is_some_and(|was| was != end) {
                        found.extend(passed);
                    }
                    at_high = Some(end);
                }
            }
        }
        found
    }

    /// How many readings at rest lay so many codes from the mean of their hold.
    #[allow(clippy::cast_possible_truncation)] // of codes
    pub fn at_rest(&self, channel: &str) -> BTreeMap<i64, u64> {
        let codes = self.codes(channel);
        let mut counts = BTreeMap::new();
        for hold in self.passages(Step::Rest).filter_map(|hold| codes.get(hold)) {
            let middle = mean(hold);
            for code in hold.iter().filter(|code| code.is_finite()) {
                *counts.entry((code - middle).round() as i64).or_insert(0) += 1;
            }
        }
        counts
    }

    /// What the noise at rest is made of.
    pub fn noise_lines(&self, channel: &str) -> Option<NoiseLines> {
        let holds: Vec<Range<usize>> = self.passages(Step::Rest).collect();
        noise_lines(&self.t_us, self.codes(channel), &holds)
    }

    /// Lowest and highest of a channel in each percent of the travel of another, in strokes. `ends` are the other's codes at rest and
    /// at full.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // checked to be in 0 .. 100
    pub fn over(&self, lead: &str, ends: [f64; 2], channel: &str) -> Vec<(f64, f64, f64)> {
        let (leads, codes) = (self.codes(lead), self.codes(channel));
        let mut bins: BTreeMap<usize, (f64, f64)> = BTreeMap::new();
        for sample in self.passages(Step::Strokes).flatten() {
            let (Some(x), Some(y)) = (leads.get(sample), codes.get(sample)) else {
                continue;
            };
            let share = (x - ends[0]) / (ends[1] - ends[0]) * 100.0;
            if (0.0..=100.0).contains(&share) && y.is_finite() {
                let bin = bins.entry((share as usize).min(99)).or_insert((*y, *y));
                *bin = (bin.0.min(*y), bin.1.max(*y));
            }
        }
        let bins = bins.into_iter();
        bins.map(|(bin, (low, high))| (real(bin) + 0.5, low, high))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two tracks at 100 samples a second, the second at half the first; each code with its step.
    fn sampled(samples: &[(Step, f64)]) -> Sampled {
        let mut passages: Vec<Passage> = Vec::new();
        for (at, (step, _)) in samples.iter().enumerate() {
            match passages.last_mut() {
                Some(last) if last.step == *step => last.range.end = at + 1,
                _ => passages.push(Passage {
                    step: *step,
                    range: at..at + 1,
                }),
            }
        }
        let codes: Vec<f64> = samples.iter().map(|(_, code)| *code).collect();
        let half = codes.iter().map(|code| code / 2.0).collect();
        Sampled {
            t_us: (0..samples.len() as u64).map(|n| n * 10_000).collect(),
            passages,
            channels: vec![("a".to_owned(), codes), ("b".to_owned(), half)],
        }
    }

    /// Up in ten samples, down in ten, and half-way up and down again.
    fn strokes() -> Sampled {
        let up = (0..=10).map(|n| 100 + 80 * n);
        let down = (0..=10).rev().map(|n| 100 + 80 * n);
        let half = (0..=5).chain((0..=5).rev()).map(|n| 100 + 80 * n);
        let all: Vec<(Step, f64)> = up
            .chain(down)
            .chain(half)
            .map(|code| (Step::Strokes, f64::from(code)))
            .collect();
        sampled(&all)
    }

    #[test]
    fn a_stroke_is_found_by_its_middle_and_half_a_one_is_none() {
        // 500 is the middle: reached at sample 5 on the way up, left at 11 + 6 on the way down.
        assert_eq!(strokes().middles("a"), [5, 17]);
        let laid = strokes().strokes("a", "b");
        assert_eq!(laid.len(), 2);
        // The first sample lies five samples of 10 ms before the first middle.
        assert!((laid[0][0].0 + 0.05).abs() < 1e-9);
        assert_eq!(laid[0][5], (0.0, 250.0));
        assert!(laid[1].iter().any(|(t, code)| *t == 0.0 && *code == 210.0));
        assert_eq!(strokes().strokes("a", "nobody"), [vec![], vec![]]);
    }

    #[test]
    fn readings_at_rest_are_counted_about_the_mean_of_their_own_hold() {
        // Two holds at 100 and at 200, each once a code below, twice at, once above.
        let hold = |at: f64| [at - 1.0, at, at, at + 1.0].map(|code| (Step::Rest, code));
        let all = [&hold(100.0)[..], &[(Step::Idle, 0.0)], &hold(200.0)[..]].concat();
        let counts = sampled(&all).at_rest("a");
        let counts: Vec<_> = counts.into_iter().collect();
        assert_eq!(counts, [(-1, 2), (0, 4), (1, 2)]);
    }

    #[test]
    fn a_return_is_counted_from_its_end_and_no_further_back_than_itself() {
        let long = vec![(Step::Release, 100.0); 200];
        let all = [
            &long[..],
            &[(Step::Idle, 0.0)],
            &[(Step::Release, 101.0); 3][..],
        ]
        .concat();
        let returns = sampled(&all).returns("a");
        let first = |nth: usize| returns[nth].first().copied().unwrap();
        assert_eq!(returns.len(), 2);
        // 150 samples of 10 ms before the last one, which is at 0 and no longer shown.
        assert_eq!((returns[0].len(), returns[1].len()), (150, 2));
        assert!((first(0).0 + 1.5).abs() < 1e-9 && (first(1).0 + 0.02).abs() < 1e-9);
    }

    /// By hand: codes 100 to 900 are 0 to 100 %, so that 180 is 10 % and lies in the eleventh percent.
    #[test]
    fn one_track_over_the_travel_of_the_other() {
        let over = strokes().over("a", [100.0, 900.0], "b");
        assert_eq!(over[0], (0.5, 50.0, 50.0));
        assert_eq!(over[1], (10.5, 90.0, 90.0));
        assert_eq!(over.last(), Some(&(99.5, 450.0, 450.0)));
    }
}
