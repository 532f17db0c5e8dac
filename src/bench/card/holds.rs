//! Steps in which the control stands still: `rest`, `full`, `shake`, and those that only take time.

use super::{Card, Label};
use measure::units::{Step, seconds_from_us};

/// Seconds that a control must stand still where its full end is expected before it is taken as resting there: a unit
/// that moves the wrong way round rests there, and nobody holds a pedal full for so long after being told to let go.
const TURNED_S: f64 = 6.0;

/// Seconds of stillness, after the 0.3 s that tell it, before a hold counts as one: the turn of a stroke and the moment
/// before a release are still as well, and they end in a slow beginning of movement that is no noise of a hold.
const SETTLED_S: f64 = 0.9;

impl Card {
    /// The level of a control that has stood still for long enough.
    fn settled(&mut self) -> Option<f64> {
        let (Some(level), Some(now_us)) = (self.watch.level(), self.last_us) else {
            self.still_since_us = None;
            return None;
        };
        let since_us = *self.still_since_us.get_or_insert(now_us);
        (seconds_from_us(now_us.saturating_sub(since_us)) >= SETTLED_S).then_some(level)
    }

    pub(super) fn rest(&mut self, dt_s: f64) -> Label {
        let Some(level) = self.settled() else {
            self.reversed_s = 0.0;
            return self.not_yet("waiting for it to stand still");
        };
        if self.expected.nearer_to_full(level) == Some(true) {
            self.reversed_s += dt_s;
            if self.reversed_s < TURNED_S {
                return self.not_yet("that is the full end: let it go; if you have, wait");
            }
            // Its ends are not where they are expected: from here on they are what they turn out to be.
            self.expected = super::ExpectedEnds::default();
        }
        let begun = self
            .steps
            .get(self.current)
            .is_some_and(|progress| progress.have > 0.0);
        if begun && self.rest.is_some_and(|rest| self.apart(level, rest)) {
            return self.not_yet("that is not where it rested before: let it go");
        }
        self.rest = Some(level);
        self.hold(Step::Rest, dt_s, "still, good")
    }

    pub(super) fn full(&mut self, dt_s: f64) -> Label {
        let Some(level) = self.settled() else {
            return self.not_yet("keep it against the stop");
        };
        let at_rest = self.rest.is_some_and(|rest| !self.apart(level, rest));
        if at_rest || self.expected.nearer_to_full(level) == Some(false) {
            return self.not_yet("waiting for it to reach the full end");
        }
        let from_rest = |x: f64| (x - self.rest.unwrap_or(x)).abs();
        if self
            .full
            .is_some_and(|full| self.apart(level, full) && from_rest(level) < from_rest(full))
        {
            return self.not_yet("further: it went beyond this before");
        }
        self.full = Some(level);
        self.hold(Step::Full, dt_s, "held, good")
    }

    pub(super) fn shake(&mut self, dt_s: f64) -> Label {
        if self.at_rest() {
            self.hold(Step::Shake, dt_s, "keep moving the cable")
        } else {
            self.not_yet("let the control go first")
        }
    }

    pub(super) fn timed(&mut self, step: Step, dt_s: f64, holds: bool) -> Label {
        if holds {
            self.hold(step, dt_s, "good")
        } else {
            self.not_yet("not there yet")
        }
    }
}
