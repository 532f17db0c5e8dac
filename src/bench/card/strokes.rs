//! The `strokes` step: movements from one end to the other.

use super::{AT_END, Card, Label, Move};
use measure::units::{Step, seconds_from_us};

/// A stroke in less than this many seconds is too fast: at 1 kHz it leaves two samples in a hundredth of the travel.
const TOO_FAST_S: f64 = 0.25;

/// Fraction of the span from an end beyond which it was left for a stroke.
const LEFT: f64 = 0.3;
const STROKING: Label = Label::of(Step::Strokes);

impl Card {
    pub(super) fn strokes(&mut self, t_us: u64) -> Label {
        self.strokes_of(
            t_us,
            TOO_FAST_S,
            "not counted: a little slower, about a second each way",
        )
    }

    /// Strokes of which each lasts at least so long; what is said of the others.
    pub(super) fn strokes_of(&mut self, t_us: u64, least_s: f64, too_fast: &str) -> Label {
        let Some(travel) = self.travel() else {
            return self.ends_from_movement();
        };
        let (at_rest, at_full) = (travel < AT_END, travel > 1.0 - AT_END);
        let Move::Under {
            from_full,
            since_us,
            left,
        } = self.moving
        else {
            if !(at_rest || at_full) {
                return self.not_yet("begin at either end");
            }
            self.under_way(at_full, t_us);
            return STROKING;
        };
        if (from_full && at_rest) || (!from_full && at_full) {
            if seconds_from_us(t_us.saturating_sub(since_us)) < least_s {
                self.not_counted(too_fast);
            } else {
                self.add(1.0);
                self.remark(Some("good"));
            }
            self.under_way(at_full, t_us);
        } else if left && (at_rest || at_full) {
            self.not_counted("not counted: go all the way to both ends");
            self.under_way(at_full, t_us);
        } else {
            let away = if from_full { 1.0 - travel } else { travel };
            self.moving = Move::Under {
                from_full,
                since_us,
                left: left || away > LEFT,
            };
        }
        STROKING
    }

    /// Something was done that does not count, and why.
    fn not_counted(&mut self, why: &str) {
        self.uncounted();
        self.remark(Some(why));
    }

    pub(super) fn uncounted(&mut self) {
        if let Some(progress) = self.steps.get_mut(self.current) {
            progress.uncounted = progress.uncounted.saturating_add(1);
        }
    }

    fn under_way(&mut self, from_full: bool, since_us: u64) {
        self.moving = Move::Under {
            from_full,
            since_us,
            left: false,
        };
    }

    /// Strokes on a card without holds: the ends are learnt from the movement itself.
    fn ends_from_movement(&mut self) -> Label {
        if let Some(now) = self.watch.now() {
            self.rest = Some(self.rest.map_or(now, |rest| rest.min(now)));
            self.full = Some(self.full.map_or(now, |full| full.max(now)));
        }
        self.not_yet("move it from end to end")
    }
}
