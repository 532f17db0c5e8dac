//! Sampling rate as received.

use measure::units::seconds_from_us;

/// Samples a second: over the last second or so, and over all.
#[derive(Debug, Default)]
pub(super) struct RateMeter {
    first_us: Option<u64>,
    last_us: u64,
    all: u64,
    since_us: u64,
    n: u32,
    hz: Option<f64>,
}

impl RateMeter {
    pub(super) fn push(&mut self, t_us: u64) {
        if self.first_us.is_none() {
            (self.first_us, self.since_us, self.last_us) = (Some(t_us), t_us, t_us);
            return;
        }
        self.last_us = t_us;
        self.all += 1;
        self.n += 1;
        let passed_s = seconds_from_us(t_us.saturating_sub(self.since_us));
        if passed_s >= 1.0 {
            self.hz = Some(f64::from(self.n) / passed_s);
            (self.since_us, self.n) = (t_us, 0);
        }
    }

    pub(super) fn hz(&self) -> Option<f64> {
        self.hz
    }

    /// Over all samples; from a tenth of a second on.
    #[allow(clippy::cast_precision_loss)] // a count of samples
    pub(super) fn overall_hz(&self) -> Option<f64> {
        let passed_s = seconds_from_us(self.last_us.saturating_sub(self.first_us?));
        (passed_s > 0.1).then(|| self.all as f64 / passed_s)
    }
}
