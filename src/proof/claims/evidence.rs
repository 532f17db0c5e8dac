//! What claims are held against, and a claim put together.

use crate::constants::BlockFields;
use crate::proof::envelope::Envelope;
use crate::proof::plausibility::{Plausibility, plausibility};
use crate::proof::result::{Claim, ClaimState, Round};
use crate::proof::settled::SettledPoint;
use measure::units::Code;
use std::ops::Range;

/// The capture, and what it is held against.
pub struct Evidence<'e, 'a> {
    pub envelope: &'e Envelope<'a>,
    pub places: &'e [SettledPoint],
    pub rounds: &'e [Round],
    /// Largest departure allowed, millivolts.
    pub within_mv: f64,
    /// When power was cycled.
    pub power_us: &'e [u64],
    /// While a fault was made that the inputs do not show.
    pub blind: &'e [Range<u64>],
    /// The enable line behind its pump, where it was recorded.
    pub enable: Option<&'a [Code]>,
}

impl Evidence<'_, '_> {
    /// A departure up to here is what readings and parts leave open, millivolts: a third of what is allowed (common practice, no
    /// source; at 1 % it is the non-linearity of a usual 10-bit ADC, two codes, and of a 12-bit DAC, five codes).
    pub fn doubt_mv(&self) -> f64 {
        self.within_mv / 3.0
    }

    pub fn numbers(&self) -> &BlockFields {
        self.envelope.numbers
    }

    /// Steps of the blending board in so many microseconds.
    #[allow(clippy::cast_precision_loss)] // microseconds
    pub fn steps(&self, us: u64) -> f64 {
        us as f64 * f64::from(self.numbers().board.rate_hz) / 1e6
    }

    pub fn zero(&self, i: usize) -> bool {
        let envelope = self.envelope;
        envelope.scaling.may_be_zero(envelope.samples.output[i])
    }

    /// Whether the output may be that of a stop.
    pub fn off(&self, i: usize) -> bool {
        let envelope = self.envelope;
        envelope.scaling.may_be_off(envelope.samples.output[i])
    }

    pub fn good(&self, i: usize) -> bool {
        let envelope = self.envelope;
        plausibility(envelope.numbers, &envelope.reach_of_one(i)) == Plausibility::Good
    }

    /// Whether the board ran on for longer than the persistence while by these numbers a sample was bad beyond doubt.
    pub fn ran_on(&self, numbers: &BlockFields) -> bool {
        let envelope = self.envelope;
        let samples = envelope.samples;
        let long_us = (u64::from(numbers.persistence) + 5) * 1_000_000
            / u64::from(numbers.board.rate_hz)
            + 2 * envelope.gap_us;
        let mut since = None;
        for (i, reach) in envelope.reach.iter().enumerate() {
            let bad = !self.zero(i) && plausibility(numbers, reach) == Plausibility::Bad;
            since = if bad {
                since.or(Some(samples.t_us[i]))
            } else {
                None
            };
            if since.is_some_and(|from| samples.t_us[i] - from > long_us) {
                return true;
            }
        }
        false
    }
}

pub fn claim(claim: &str, state: ClaimState, evidence: impl Into<String>) -> Claim {
    Claim {
        claim: claim.to_owned(),
        state,
        evidence: evidence.into(),
    }
}

pub fn shown(name: &str, evidence: impl Into<String>) -> Claim {
    claim(name, ClaimState::Shown, evidence)
}

pub fn contradicted(name: &str, evidence: impl Into<String>) -> Claim {
    claim(name, ClaimState::Contradicted, evidence)
}

pub fn not_exercised(name: &str, evidence: impl Into<String>) -> Claim {
    claim(name, ClaimState::NotExercised, evidence)
}
