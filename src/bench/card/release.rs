//! The `release` step: held full, let go, left alone.

use super::{AT_END, Card, IDLE, Label, Move};
use measure::figure::USUAL_QUIET_S;
use measure::units::{Step, seconds_from_us};

/// Seconds of standing still at the full end before a release counts as one: longer than the turn of a stroke.
const HELD_S: f64 = 0.4;
/// Seconds of standing still on the way back after which it does not come back any further.
const HANGS_S: f64 = 2.0;

impl Card {
    pub(super) fn release(&mut self, t_us: u64) -> Label {
        let releasing = Label::of(Step::Release);
        let Some(travel) = self.travel() else {
            return self.not_yet("the full end is not known: repeat that step");
        };
        let still = self.watch.level().is_some();
        match self.moving {
            Move::Held if travel > 1.0 - AT_END => releasing,
            Move::Held => {
                self.moving = Move::Falling { still_us: None };
                releasing
            }
            Move::Falling { .. } if travel < AT_END => {
                self.moving = Move::Back { since_us: t_us };
                releasing
            }
            Move::Falling { .. } if travel > 1.0 - AT_END => {
                self.moving = Move::Held;
                releasing
            }
            Move::Falling { still_us } => self.hanging(t_us, still_us.filter(|_| still), still),
            Move::Back { since_us } if travel < 2.0 * AT_END => {
                self.left_alone(t_us, since_us, still);
                releasing
            }
            Move::Back { .. } => {
                self.moving = Move::Waiting;
                self.uncounted();
                if self.quiet_s > USUAL_QUIET_S {
                    let words = format!(
                        "moved too early: leave it for {:.0} s after letting go",
                        self.quiet_s.ceil()
                    );
                    return self.not_yet(&words);
                }
                self.not_yet("moved too early: leave it for a second after letting go")
            }
            Move::Settling { since_us } if travel > 1.0 - AT_END && still => {
                if seconds_from_us(t_us.saturating_sub(since_us)) < HELD_S {
                    return IDLE;
                }
                self.moving = Move::Held;
                self.remark(Some(self.words.let_go));
                releasing
            }
            _ if travel > 1.0 - AT_END && still => {
                self.moving = Move::Settling { since_us: t_us };
                IDLE
            }
            _ => {
                self.moving = Move::Waiting;
                IDLE
            }
        }
    }

    /// Back at rest since.
    fn left_alone(&mut self, t_us: u64, since_us: u64, still: bool) {
        let quiet_s = seconds_from_us(t_us.saturating_sub(since_us));
        if quiet_s >= self.quiet_s && still {
            self.add(1.0);
            self.moving = Move::Waiting;
            self.remark(Some("back at rest, once more"));
        } else if self.quiet_s > USUAL_QUIET_S {
            let left_s = (self.quiet_s - quiet_s).ceil().max(1.0);
            self.remark(Some(&format!("leave it alone, {left_s:.0} s more")));
        }
    }

    /// On the way back; what stands still there has come back as far as it does.
    fn hanging(&mut self, t_us: u64, still_us: Option<u64>, still: bool) -> Label {
        let since_us = still_us.unwrap_or(t_us);
        self.moving = Move::Falling {
            still_us: still.then_some(since_us),
        };
        if seconds_from_us(t_us.saturating_sub(since_us)) >= HANGS_S.max(self.quiet_s) {
            self.add(1.0);
            self.moving = Move::Waiting;
            self.tell("it did not come back to rest; once more");
        }
        Label::of(Step::Release)
    }
}
