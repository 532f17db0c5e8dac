//! The control goes beyond an end that was held: that hold is no evidence of that end any more.
//!
//! Belongs here: what follows from it for the card. Does not belong here: when a place is beyond (`furthest`).

use super::furthest::{Beyond, End, MARGIN};
use super::{Card, StepProgress, StepState};
use measure::units::Step;

/// How often a place beyond a held end makes it anew.
const MOST_MOVED: u32 = 4;

impl Card {
    /// Whether it goes beyond an end that was held.
    pub(super) fn see_how_far(&mut self) {
        let (Some(travel), Some(rest), Some(full)) = (self.travel(), self.rest, self.full) else {
            return;
        };
        let span = full - rest;
        let margin = MARGIN.max(1.5 * self.tolerance / span.abs());
        let still = self.watch.level().is_some();
        let Some(Beyond { end, travel }) = self.furthest.push(travel, still, margin) else {
            return;
        };
        self.ends_moved += 1;
        if self.ends_moved > MOST_MOVED {
            return;
        }
        let level = rest + travel * span;
        match end {
            End::Full => {
                (self.full, self.furthest_full) = (Some(level), Some(level));
                self.set_aside(Step::Full);
                self.strokes_again();
                self.tell_for(
                    "it goes further than it was held at full: that hold is set aside",
                    6.0,
                );
            }
            End::Rest => {
                self.rest = Some(level);
                self.set_aside(Step::Rest);
                self.tell_for(
                    "it rests lower than before: what was taken at rest is set aside",
                    6.0,
                );
            }
        }
    }

    /// Strokes that are through did not go to the end, or it would have been seen then.
    fn strokes_again(&mut self) {
        let through = |progress: &&mut StepProgress| {
            progress.step == Step::Strokes && progress.state == StepState::Done
        };
        if let Some(progress) = self.steps.iter_mut().find(through) {
            progress.have = 0.0;
            progress.state = StepState::Waiting;
        }
    }
}
