//! The nominal reading over travel and its inverse: what the board takes a reading for.

use super::fraction::fraction;
use super::hookup::Hookup;
use super::sweep::{self, Sweep};

/// A good reading over travel, fractions of the reference: monotone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Curve {
    /// `None` when a good control has no reading.
    sweep: Option<Sweep>,
    /// Positions on the track at rest and at full.
    ends: [f64; 2],
}

impl Curve {
    pub fn of(hookup: &Hookup) -> Self {
        let wiring = hookup.wiring();
        Self {
            sweep: sweep::good(hookup),
            ends: [wiring.rest_position(), wiring.full_position()],
        }
    }

    pub fn has_reading(&self) -> bool {
        self.sweep.is_some()
    }

    /// The reading at a position on the track, held inside 0 ..= 1.
    pub fn at_position(&self, position: f64) -> Option<f64> {
        Some(fraction(self.sweep?.ratio(position, 1.0)))
    }

    fn read(&self, travel: f64) -> Option<f64> {
        self.at_position(self.ends[0] + (self.ends[1] - self.ends[0]) * travel)
    }

    /// Reading at full minus reading at rest.
    pub fn span(&self) -> f64 {
        match (self.read(0.0), self.read(1.0)) {
            (Some(rest), Some(full)) => full - rest,
            _ => 0.0,
        }
    }

    /// The reading at a travel, 0 to 1; `None` outside.
    pub fn at(&self, travel: f64) -> Option<f64> {
        (0.0..=1.0).contains(&travel).then(|| self.read(travel))?
    }

    /// The travel at which a good control reads `ratio`, held inside 0 ..= 1: what the board takes a reading for.
    pub fn travel_of(&self, ratio: f64) -> f64 {
        let [from, to] = self.ends;
        self.sweep.map_or(1.0, |sweep| {
            fraction((sweep.position_of(ratio, from, to) - from) / (to - from))
        })
    }

    /// The share of the span from rest at which `ratio` lies, beyond the ends too.
    pub fn share(&self, ratio: f64) -> f64 {
        (ratio - self.read(0.0).unwrap_or(0.0)) / self.span()
    }

    /// [`Self::travel_of`] between the ends, [`Self::share`] beyond: goes on growing.
    pub(super) fn beyond(&self, ratio: f64) -> f64 {
        let share = self.share(ratio);
        if (0.0..=1.0).contains(&share) {
            self.travel_of(ratio)
        } else {
            share
        }
    }
}
