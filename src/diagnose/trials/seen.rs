//! A trial as values.

use measure::units::{Step, Trial};
use measure::{Measured, Recording};
use std::ops::Range;

/// A trial that was taken.
pub struct TrialSeen<'a> {
    pub trial: Trial,
    /// Every sample of the capture, the trial's own among them.
    pub recording: Recording<'a>,
    /// What was measured with the trial's steps in place of the card's.
    pub measured: Measured,
    /// Its stretches, in order.
    pub stretches: Vec<(Step, Range<usize>)>,
}

impl TrialSeen<'_> {
    /// Whether a moment of the recording lies in the trial, seconds from the first sample.
    pub(super) fn has(&self, t_s: f64) -> bool {
        let Some(first) = self.recording.t_us.first() else {
            return false;
        };
        let at = |sample: usize| {
            let t_us = self.recording.t_us.get(sample).copied().unwrap_or(*first);
            measure::units::seconds_from_us(t_us.saturating_sub(*first))
        };
        let mut stretches = self.stretches.iter();
        stretches.any(|(_, range)| (at(range.start)..=at(range.end - 1)).contains(&t_s))
    }

    /// Seconds that it lasted.
    pub(super) fn lasted_s(&self) -> f64 {
        let t_us = self.recording.t_us;
        let each = self.stretches.iter().filter_map(|(_, range)| {
            let (from, to) = (t_us.get(range.start)?, t_us.get(range.end - 1)?);
            Some(measure::units::seconds_from_us(to.saturating_sub(*from)))
        });
        each.sum()
    }
}
