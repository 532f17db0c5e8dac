//! How long a card waits: for a movement, for anything at all, and before it asks whether to go on.
//!
//! Belongs here: times and the words for them. Does not belong here: what a step waits for.

use super::others::Other;
use super::waited::Presence;
use super::{Card, Move, StepState};
use measure::units::{Step, seconds_from_us};

/// Seconds after which a card asks whether to go on, and again; and seconds in which nothing moved.
const ASKS_S: f64 = 240.0;
const ASKS_STUCK_S: f64 = 20.0;
/// Seconds after that without anything done, after which it ends by itself: somebody may have gone for a minute. Where nobody is
/// asked, nobody has to come back for the answer.
const ENDS_S: f64 = 60.0;
const ENDS_UNHEARD_S: f64 = 25.0;
/// Seconds without a movement, or without stillness, after which that is said.
const SAYS_S: f64 = 6.0;
/// Seconds of the same after which a look may end the card, and again.
const LOOKS_S: f64 = 12.0;

impl Card {
    /// With somebody, or nobody, who can be asked whether to go on.
    pub fn before(mut self, presence: Presence) -> Self {
        self.patience.presence = presence;
        self
    }

    /// Looks at the time; once a block.
    pub(super) fn be_patient(&mut self, t_us: u64) {
        let Some(progress) = self.steps.get(self.current) else {
            return;
        };
        let (step, done) = (progress.step, (self.current, progress.have));
        if step == Step::Stations || self.patience.presence == Presence::Past {
            // Known positions take as long as they take.
            self.patience.renew();
            return;
        }
        let since_us = *self.patience.since_us.get_or_insert(t_us);
        let passed_s = |since_us: u64| seconds_from_us(t_us.saturating_sub(since_us));
        let stuck_s = self.patience.stuck_us.map_or(0.0, passed_s);
        let ends_s = match self.patience.presence {
            Presence::Unheard => ENDS_UNHEARD_S,
            _ => ENDS_S,
        };
        match self.patience.asked_us {
            None if passed_s(since_us) > ASKS_S || stuck_s > ASKS_STUCK_S => {
                self.patience.asked_us = Some(t_us);
                self.patience.asked_stuck = stuck_s > ASKS_STUCK_S;
                self.patience.done_then = Some(done);
            }
            Some(_)
                if self.patience.done_then != Some(done)
                    || self.patience.asked_stuck && self.patience.stuck_us.is_none() =>
            {
                self.go_on_with_it();
            }
            Some(asked_us) if passed_s(asked_us) > ends_s => {
                let words = match &self.patience.words {
                    Some(why) => format!("ended here: {why}"),
                    None => "ended here: nothing was done for a while".to_owned(),
                };
                self.end_here(&words);
                return;
            }
            _ => {}
        }
        self.see_if_stuck(step, t_us);
        let asked = self.patience.asked_us;
        if asked.is_some() {
            let why = self.patience.words.as_deref().unwrap_or("this takes long");
            self.tell(&format!(
                "{why}. Go on with it; left alone, the test ends here"
            ));
        }
        if let Some(progress) = self.steps.get_mut(self.current) {
            progress.ends_in_s = asked.map(|asked_us| (ends_s - passed_s(asked_us)).max(0.0));
        }
    }

    /// Somebody said that it is to go on, or did so.
    pub fn go_on_with_it(&mut self) {
        if self.patience.asked_us.is_some() {
            self.patience.renew();
            self.patience.since_us = self.last_us;
            self.notice = None;
            if let Some(progress) = self.steps.get_mut(self.current) {
                progress.ends_in_s = None;
            }
        }
    }

    fn see_if_stuck(&mut self, step: Step, t_us: u64) {
        let lead = self.watch.level();
        let stuck = match step {
            Step::Rest => lead.is_none(),
            // Left alone after a release, it is to rest.
            Step::Release if !matches!(self.moving, Move::Waiting) => false,
            Step::Full | Step::Strokes | Step::Release => {
                let rests = |level: f64| self.rest.is_none_or(|rest| !self.apart(level, rest));
                lead.is_some_and(rests) && !self.others.iter().any(Other::has_left_rest)
            }
            _ => false,
        };
        if !stuck {
            (self.patience.stuck_us, self.patience.looked_us) = (None, None);
            self.patience.words = None;
            return;
        }
        let since_us = *self.patience.stuck_us.get_or_insert(t_us);
        let says = seconds_from_us(t_us.saturating_sub(since_us)) > SAYS_S;
        if says {
            let words = self.patience.words.take();
            let words = words.unwrap_or_else(|| self.why_stuck(step));
            self.tell(&words);
            self.patience.words = Some(words);
        }
    }

    fn why_stuck(&self, step: Step) -> String {
        if step == Step::Rest {
            return "it never stands still: is its wire on, is its supply on?".to_owned();
        }
        let reads = self.watch.now().unwrap_or_default();
        let of = self.range() - 1.0;
        format!(
            "nothing moves: it reads {reads:.0} of {of:.0}. If you move it, look at its supply and its wires"
        )
    }

    /// Whether it is worth a look whether the card can come to anything: nothing moves, or stands still, that should.
    pub fn wants_look(&self) -> bool {
        let Some(since_us) = self.patience.looked_us.or(self.patience.stuck_us) else {
            return false;
        };
        let now_us = self.last_us.unwrap_or(since_us);
        !self.at_end() && seconds_from_us(now_us.saturating_sub(since_us)) > LOOKS_S
    }

    /// The look is done, and the card goes on.
    pub fn looked(&mut self) {
        self.patience.looked_us = self.last_us;
    }

    /// Leaves out everything that is not done; a look does not hold it open.
    pub fn end_here(&mut self, words: &str) {
        self.break_hold();
        for progress in &mut self.steps {
            if matches!(progress.state, StepState::Waiting | StepState::Current) {
                progress.state = StepState::Skipped;
                progress.remark = Some(words.to_owned());
            }
        }
        self.current = self.steps.len();
        self.held_open = false;
    }
}
