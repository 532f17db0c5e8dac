//! Steps in which the control stands still: `rest`, `full`, `shake`, and those that only take time.
//!
//! A hold counts from when it has settled until shortly before the movement that ends it: the beginning of a movement
//! still looks like stillness. One that was too short counts as none.

use super::furthest::MARGIN;
use super::hold::Hold;
use super::waited::Presence;
use super::{Card, Cue, IDLE, Label, Move};
use measure::units::{Step, seconds_from_us};

/// Seconds that a control must stand still where its full end is expected before it is taken as resting there: a unit
/// that moves the wrong way round rests there, and nobody holds a pedal full for so long after being told to let go.
const TURNED_S: f64 = 6.0;

/// Seconds that it must stand where it should not before it is taken as it is.
const INSISTS_S: f64 = 5.0;

/// Seconds of stillness, after the 0.3 s that tell it, before a hold counts as one: a stop gives way, a foot settles.
const SETTLED_S: f64 = 0.5;

/// What a hold ends before the movement that ended it: more than the longest fall that still counts as still, which is
/// the 0.3 s that tell stillness and a block.
const LOOK_BACK_US: u64 = 400_000;

/// Seconds of a hold that was broken off and still counts.
const LEAST_S: f64 = 1.0;

/// Seconds without contact after which the cable is no longer what keeps a control from rest.
const AWAY_S: f64 = 2.5;

#[allow(clippy::cast_precision_loss)] // less than a second
fn look_back_s() -> f64 {
    LOOK_BACK_US as f64 / 1e6
}

impl Card {
    /// The level of a control that has stood still for long enough. What moves ends a hold.
    fn settled(&mut self) -> Option<f64> {
        let (Some(level), Some(now_us)) = (self.watch.level(), self.last_us) else {
            self.break_hold();
            return None;
        };
        let since_us = *self.hold.still_us.get_or_insert(now_us);
        (seconds_from_us(now_us.saturating_sub(since_us)) >= SETTLED_S).then_some(level)
    }

    /// Seconds that are still needed of the hold that the step asks for.
    fn needed_s(&self) -> f64 {
        let Some(progress) = self.steps.get(self.current) else {
            return 0.0;
        };
        let settling = self.hold.still_us.map_or(SETTLED_S, |since_us| {
            let stood_s = self
                .last_us
                .map_or(0.0, |now| seconds_from_us(now.saturating_sub(since_us)));
            (SETTLED_S - stood_s).max(0.0)
        });
        let open_s = (self.taken.lasts_s() - look_back_s()).min(0.0);
        let open_s = if self.hold.before.is_some() {
            open_s
        } else {
            -look_back_s()
        };
        settling + progress.want - progress.have - open_s
    }

    /// The control moved, or something else came between: the hold ends before that, and counts if it was long enough.
    pub(super) fn break_hold(&mut self) {
        self.hold.still_us = None;
        self.hold.wrong_us = None;
        let Some(before) = self.hold.before.take() else {
            return;
        };
        let lasted_s = self.taken.lasts_s() - look_back_s();
        self.taken.end_before(LOOK_BACK_US);
        if lasted_s < LEAST_S {
            if lasted_s >= 0.0 {
                self.taken.drop_last();
            }
            if let Some(progress) = self.steps.get_mut(self.current) {
                progress.have = before;
            }
            self.tell("too short: once more, a little longer");
        }
    }

    /// The control is held where it should be.
    fn held(&mut self, step: Step, t_us: u64, words: &str) -> Label {
        self.hold.wrong_us = None;
        let needed_s = self.needed_s();
        let Some(progress) = self.steps.get_mut(self.current) else {
            return IDLE;
        };
        let before = *self.hold.before.get_or_insert(progress.have);
        self.taken.sample(step, t_us);
        let lasted_s = (self.taken.lasts_s() - look_back_s()).max(0.0);
        progress.have = (before + lasted_s).min(progress.want);
        if progress.have + 1e-9 >= progress.want {
            self.taken.end_before(LOOK_BACK_US);
            self.hold = Hold::default();
            self.same_press |= step == Step::Full;
        }
        // What settles is seen to first; nobody is told to wait for longer than was announced.
        let most_s = progress.want.ceil().max(1.0);
        let left_s = needed_s.ceil().clamp(1.0, most_s);
        self.remark(Some(&format!("{words}, {left_s:.0} s more")));
        Label::of(step)
    }

    /// Seconds that it must stand short of its end. In a recording nobody can be told to press further; what goes further later sets it
    /// aside.
    fn insists_s(&self) -> f64 {
        match self.patience.presence {
            Presence::Past => 0.0,
            Presence::Somebody | Presence::Unheard => INSISTS_S,
        }
    }

    /// The control stands where it should not. True when it has done so for long enough to be taken as it is.
    fn insists(&mut self, level: f64, t_us: u64, seconds: f64) -> bool {
        self.break_hold_here();
        // What is asked now goes before what was told of the hold.
        self.notice = None;
        let since_us = *self.hold.wrong_us.get_or_insert(t_us);
        let long = seconds_from_us(t_us.saturating_sub(since_us)) >= seconds;
        if long {
            self.hold.accepted = Some(level);
            self.hold.wrong_us = None;
        }
        long
    }

    /// Ends a hold although the control stands still.
    fn break_hold_here(&mut self) {
        let (still_us, wrong_us) = (self.hold.still_us, self.hold.wrong_us);
        self.break_hold();
        (self.hold.still_us, self.hold.wrong_us) = (still_us, wrong_us);
    }

    fn is_accepted(&self, level: f64) -> bool {
        let near = |accepted: f64| !self.another(level, accepted);
        self.hold.accepted.is_some_and(near)
    }

    /// Two levels that nobody would call the same place: further apart than stillness spreads.
    fn another(&self, a: f64, b: f64) -> bool {
        (a - b).abs() > 1.5 * self.tolerance
    }

    /// Whether `a` is nearer to the full end than `b`, as far as anything is known of it.
    fn fuller(&self, a: f64, b: f64) -> Option<bool> {
        let full = self.full.or(self.expected.full)?;
        Some((a - full).abs() < (b - full).abs())
    }

    pub(super) fn rest(&mut self, t_us: u64) -> Label {
        let Some(level) = self.settled() else {
            return self.not_yet("let it stand still");
        };
        if !self.is_accepted(level) {
            if self.expected.nearer_to_full(level) == Some(true) {
                if !self.insists(level, t_us, TURNED_S) {
                    return self.not_yet(self.words.is_full);
                }
                // Its ends are not where they are expected: from here on they are what they turn out to be.
                self.expected = super::ExpectedEnds::default();
            }
            let before = self.hold.seen.or(self.rest);
            if let Some(before) = before.filter(|before| self.another(level, *before)) {
                if self.fuller(level, before) != Some(false) && !self.insists(level, t_us, TURNED_S)
                {
                    return self.not_yet(self.words.rested_lower);
                }
                // The hand was on before, or it is not on now.
                self.set_aside(Step::Rest);
            }
        }
        self.rest = Some(level);
        self.hold.seen = Some(level);
        self.held(Step::Rest, t_us, "good, leave it")
    }

    pub(super) fn full(&mut self, t_us: u64) -> Label {
        let Some(level) = self.settled() else {
            return self.not_yet(self.words.to_its_end);
        };
        if self.rest.is_some_and(|rest| !self.apart(level, rest)) {
            self.break_hold_here();
            return self.not_yet(self.words.waiting);
        }
        if self.same_press {
            // Where it stands differs from press to press, and not within one.
            return self.not_yet(self.words.once_more);
        }
        if !self.is_accepted(level)
            && let Some(words) = self.falls_short(level)
            && !self.insists(level, t_us, self.insists_s())
        {
            return self.not_yet(words);
        }
        let further =
            |full: f64| (level - full).abs() > self.beyond_by(full) && self.is_further(level, full);
        if self.hold.seen.is_some_and(further) {
            self.set_aside(Step::Full);
        }
        self.full = Some(level);
        self.hold.seen = Some(level);
        self.furthest_full = Some(level);
        self.held(Step::Full, t_us, "good, hold it")
    }

    /// Codes by which another place is beyond an end.
    fn beyond_by(&self, full: f64) -> f64 {
        let span = (full - self.rest.unwrap_or(full)).abs();
        (span * MARGIN).max(1.5 * self.tolerance)
    }

    /// Whether a level is further from rest.
    fn is_further(&self, level: f64, full: f64) -> bool {
        let rest = self.rest.unwrap_or(full);
        (level - rest).abs() > (full - rest).abs()
    }

    /// What to say of a hold that does not reach the full end, as far as that is known.
    fn falls_short(&self, level: f64) -> Option<&'static str> {
        let short_of =
            |full: f64| (full - level).abs() > self.beyond_by(full) && self.is_further(full, level);
        if self.furthest_full.is_some_and(short_of) {
            return Some(self.words.further);
        }
        let near = self.expected.full_near;
        let short = near.is_some_and(|near| {
            self.is_further(near, level) && self.apart_from_rest_like(near, level)
        });
        (short || self.expected.nearer_to_full(level) == Some(false)).then_some(self.words.short)
    }

    /// Whether two levels lie on the same side of rest.
    fn apart_from_rest_like(&self, a: f64, b: f64) -> bool {
        let rest = self.rest.unwrap_or_default();
        (a - rest) * (b - rest) > 0.0
    }

    /// The cable is moved, the control is left alone. Every sample counts, also those without contact: they are what is
    /// looked for.
    pub(super) fn shake(&mut self, t_us: u64, dt_s: f64) -> Label {
        let begun = self.taken.lasts_s() > 0.0;
        if self.at_rest() {
            let since_us = *self.hold.still_us.get_or_insert(t_us);
            // What is seen of a loss is told by what comes after it.
            if seconds_from_us(t_us.saturating_sub(since_us)) >= 0.1 {
                self.add(dt_s);
            }
            self.hold.wrong_us = None;
            self.remark(Some("keep moving the cable and the plug"));
        } else {
            self.hold.still_us = None;
            let since_us = *self.hold.wrong_us.get_or_insert(t_us);
            let away_s = seconds_from_us(t_us.saturating_sub(since_us));
            if !begun || away_s > AWAY_S {
                return self.not_yet("let the control go first");
            }
        }
        self.taken.sample(Step::Shake, t_us);
        Label::of(Step::Shake)
    }

    pub(super) fn timed(&mut self, step: Step, dt_s: f64, holds: bool) -> Label {
        if holds {
            self.remark(Some("good"));
            self.add(dt_s);
            Label::of(step)
        } else {
            self.not_yet("not there yet")
        }
    }
}

impl Card {
    /// The cue of the step under way; `None` where a sentence says it.
    pub fn cue(&self) -> Option<Cue> {
        let held = self.hold.before.is_some();
        Some(match (self.steps.get(self.current)?.step, self.moving) {
            (Step::Rest, _) if held => Cue::LeaveIt,
            (Step::Release, Move::Back { .. }) => Cue::LeaveIt,
            (Step::Full, _) if self.same_press => Cue::LetGo,
            (Step::Full, _) if held => Cue::Hold,
            (Step::Release, Move::Settling { .. }) => Cue::Hold,
            (Step::Rest, _)
            | (
                Step::Strokes,
                Move::Under {
                    from_full: true, ..
                },
            )
            | (Step::Release, Move::Held | Move::Falling { .. }) => Cue::LetGo,
            (Step::Full | Step::Strokes | Step::Release, _) => Cue::Press,
            (Step::Shake, _) => Cue::Wiggle,
            _ => return None,
        })
    }
}
