//! Known positions: which one is asked for, whether the control has come to it, and what was taken.
//!
//! Each is taken when the control has moved and stands still, or when somebody says that it stands there. Up and down are
//! told apart by the order, so a position that was overshot is not taken: the slack of the mechanism would lie on the
//! wrong side.
//!
//! Belongs here: the recognition. Does not belong here: the list as it is typed (`plan`), what is told of it (`words`), figures.

mod plan;
mod words;

pub use plan::{StationPlan, StationWords, USUAL_STATIONS};

use super::stillness::Stillness;
use crate::capture::SetAside;
use measure::units::seconds_from_us;

/// Seconds of stillness, after the 0.3 s that tell it, before a position is taken.
const SETTLED_S: f64 = 0.2;
/// Seconds that a position is held.
const HELD_S: f64 = 0.8;
/// Seconds of a hold that ended in a movement and still counts: at 100 samples a second forty of them.
const SHORTEST_S: f64 = 0.4;
/// What is left out before a movement that ended a hold, microseconds: its slow beginning still looks like stillness.
const BEGINNING_US: u64 = 100_000;
/// Share of the step that the control must have gone, and the most of it: a pause on the way is no arrival, and neither
/// is the position after next. Tapers that are not straight are steeper here and flatter there.
const ARRIVED: std::ops::Range<f64> = 0.35..1.75;
/// The same where the next position is not known, as a share of the whole range.
const MOVED: f64 = 0.03;
/// How near to an end of its travel the first position must be, as a share of the span.
const AT_END: f64 = 0.05;
/// Seconds that something said stays on the screen.
const WORD_S: f64 = 6.0;
/// Positions that are asked for when they are measured by a sensor: eleven there and ten back.
const USUAL: f64 = 21.0;

/// A position that was taken.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Taken {
    /// In the unit of the scale; absent when a sensor measures it.
    position: Option<f64>,
    /// Codes.
    level: f64,
    held: SetAside,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Phase {
    Waiting,
    /// Somebody says that it stands here; a second time, or by its name, also when it has not moved.
    Stated {
        position: f64,
        surely: bool,
    },
    Held {
        position: Option<f64>,
        level: f64,
        since_us: u64,
    },
}

/// What one sample was seen as.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Seen {
    Nothing,
    /// The control is held, at this position when somebody stated it.
    Held(Option<f64>),
    /// The same, and it is enough.
    Taken(Option<f64>),
}

/// What is known of the channel that leads.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lead<'a> {
    pub watch: &'a Stillness,
    /// Spread of levels that are one, codes.
    pub tolerance: f64,
    /// Codes of the whole range.
    pub range: f64,
    /// Codes at rest and at the full end.
    pub ends: Option<(f64, f64)>,
}

/// The known positions of one card.
#[derive(Debug, Clone)]
pub(super) struct Stations {
    plan: Option<StationPlan>,
    /// Whether a sensor measures the positions.
    sensor: bool,
    taken: Vec<Taken>,
    phase: Phase,
    /// Since when the control stands still.
    still_us: Option<u64>,
    /// Since when the position is asked for.
    asked_us: Option<u64>,
    /// The furthest level on the way from the last position, codes.
    furthest: Option<f64>,
    /// Whether it has moved since the last position was taken.
    left: bool,
    /// Where it stood when a position was taken back, codes: it has to move from there first.
    must_move: Option<f64>,
    word: Option<(String, u64)>,
    now_us: u64,
    /// Stretches that are no evidence after all, not yet told.
    pub aside: Vec<SetAside>,
}

impl Stations {
    pub fn new(plan: Option<StationPlan>, sensor: bool) -> Self {
        Self {
            plan,
            sensor,
            taken: Vec::new(),
            phase: Phase::Waiting,
            still_us: None,
            asked_us: None,
            furthest: None,
            left: true,
            must_move: None,
            word: None,
            now_us: 0,
            aside: Vec::new(),
        }
    }

    /// Whether nobody has said yet which positions there are.
    fn is_unstated(&self) -> bool {
        self.plan.is_none() && !self.sensor
    }

    /// Positions that are wanted in all.
    #[allow(clippy::cast_precision_loss)] // a few hundred
    pub fn want(&self) -> f64 {
        let plan = self.plan.as_ref();
        plan.map_or(USUAL, |plan| plan.positions().len() as f64)
    }

    #[allow(clippy::cast_precision_loss)] // a few hundred
    pub fn have(&self) -> f64 {
        self.taken.len() as f64
    }

    /// The position that is asked for.
    fn target(&self) -> Option<f64> {
        let positions = self.plan.as_ref()?.positions();
        positions.get(self.taken.len()).copied()
    }

    /// Its name, `30 deg`.
    pub fn asked(&self) -> Option<String> {
        Some(self.plan.as_ref()?.name(self.target()?))
    }

    pub fn state(&mut self, plan: StationPlan) {
        if self.taken.is_empty() {
            self.plan = Some(plan);
            self.phase = Phase::Waiting;
            self.asked_us = None;
        } else {
            self.say("the positions are stated already: repeat the step to state others");
        }
    }

    /// Somebody says that it stands here; `None`: where it was asked for.
    pub fn here(&mut self, position: Option<f64>) {
        let surely = position.is_none();
        let Some(position) = position.or(self.target()) else {
            return self.say(&format!(
                "say which positions there are first, e.g. {USUAL_STATIONS}"
            ));
        };
        if self.sensor {
            return self.say("the sensor says where it stands: nothing to type");
        }
        if let Some(plan) = &self.plan {
            let (low, high) = plan.scale();
            if position < low || position > high {
                let words = format!(
                    "{} is not on the scale from {} to {}: look again",
                    plan.name(position),
                    plan.name(low),
                    plan.name(high)
                );
                return self.say(&words);
            }
        }
        let again = match self.phase {
            Phase::Stated {
                position: before, ..
            } => (before - position).abs() <= 0.0,
            _ => false,
        };
        self.forget_hold();
        self.phase = Phase::Stated {
            position,
            surely: surely || again,
        };
    }

    /// Takes the last position back; the others stand. Whether there was one.
    pub fn take_back(&mut self) -> bool {
        let under_way = matches!(self.phase, Phase::Held { .. } | Phase::Stated { .. });
        self.forget_hold();
        if !under_way && self.taken.is_empty() {
            self.say("nothing is taken yet");
            return false;
        }
        let again = if under_way { None } else { self.taken.pop() };
        if let Some(taken) = again {
            self.aside.push(taken.held);
        }
        self.furthest = None;
        self.asked_us = None;
        self.must_move = again.map(|taken| taken.level);
        let words = match (self.asked(), self.before()) {
            (Some(asked), Some(before)) => {
                format!("taken back: go back to {before}, then to {asked} again")
            }
            (Some(asked), None) => format!("taken back: {asked} again"),
            (None, _) => "taken back: move it and let it stand again".to_owned(),
        };
        self.say(&words);
        again.is_some()
    }

    /// Everything anew.
    pub fn begin_again(&mut self) {
        self.forget_hold();
        self.aside
            .extend(self.taken.drain(..).map(|taken| taken.held));
        (self.furthest, self.asked_us, self.must_move) = (None, None, None);
        self.left = true;
    }

    /// What was under way is no evidence: a gap, or another step.
    pub fn forget_hold(&mut self) {
        if let Phase::Held { since_us, .. } = self.phase {
            self.put_aside(since_us);
        }
        self.phase = Phase::Waiting;
        self.still_us = None;
    }

    fn put_aside(&mut self, since_us: u64) {
        self.aside.push(SetAside {
            from_us: since_us,
            to_us: self.now_us,
        });
    }

    fn say(&mut self, words: &str) {
        self.word = Some((words.to_owned(), self.now_us));
    }

    /// What is wrong as long as it is, unless something was just said.
    fn hint(&mut self, words: &str) {
        if self.spoken().is_none_or(|said| said == words) {
            self.say(words);
        }
    }

    /// What was said, while it is to be read.
    fn spoken(&self) -> Option<&str> {
        let (words, at_us) = self.word.as_ref()?;
        let said_s = seconds_from_us(self.now_us.saturating_sub(*at_us));
        (said_s < WORD_S).then_some(words)
    }

    fn before(&self) -> Option<String> {
        Some(self.plan.as_ref()?.name(self.taken.last()?.position?))
    }

    /// Takes a sample's time in, once the watch has seen it.
    pub fn push(&mut self, t_us: u64, lead: Lead<'_>) -> Seen {
        self.now_us = t_us;
        self.asked_us.get_or_insert(t_us);
        let level = lead.watch.level();
        let still_us = if level.is_some() {
            *self.still_us.get_or_insert(t_us)
        } else {
            self.still_us = None;
            t_us
        };
        self.follow(lead);
        if let Phase::Held {
            position,
            level: held,
            since_us,
        } = self.phase
        {
            let away = |now: f64| (now - held).abs() > lead.tolerance / 2.0;
            let moves = level.is_none() || lead.watch.now().is_some_and(away);
            let held_us = t_us.saturating_sub(since_us);
            return if moves {
                self.moved(position, held, since_us, held_us)
            } else if seconds_from_us(held_us) >= HELD_S {
                self.take(position, level.unwrap_or(held), since_us, t_us);
                Seen::Taken(position)
            } else {
                Seen::Held(position)
            };
        }
        let settled = seconds_from_us(t_us.saturating_sub(still_us)) >= SETTLED_S;
        let Some(level) = level.filter(|_| settled) else {
            return Seen::Nothing;
        };
        let position = if let Phase::Stated { position, surely } = self.phase {
            if !surely && !self.left {
                return Seen::Nothing;
            }
            Some(position)
        } else if self.is_unstated() || !self.has_arrived(level, lead) {
            return Seen::Nothing;
        } else {
            self.target()
        };
        self.phase = Phase::Held {
            position,
            level,
            since_us: t_us,
        };
        Seen::Held(position)
    }

    /// It began to move while it was held.
    fn moved(&mut self, position: Option<f64>, level: f64, since_us: u64, held_us: u64) -> Seen {
        if seconds_from_us(held_us.saturating_sub(BEGINNING_US)) >= SHORTEST_S {
            let last_us = self.now_us - BEGINNING_US;
            self.aside.push(SetAside {
                from_us: last_us + 1,
                to_us: self.now_us,
            });
            self.take(position, level, since_us, last_us);
            return Seen::Taken(position);
        }
        self.forget_hold();
        self.must_move = None;
        self.say("it moved before it was taken: set it once more and let it stand");
        Seen::Nothing
    }

    fn take(&mut self, position: Option<f64>, level: f64, from_us: u64, to_us: u64) {
        let held = SetAside { from_us, to_us };
        self.taken.push(Taken {
            position,
            level,
            held,
        });
        self.phase = Phase::Waiting;
        (self.furthest, self.asked_us, self.must_move) = (None, None, None);
        (self.word, self.left) = (None, false);
    }

    /// The step from the last position to the one asked for, in codes, as far as what was seen tells.
    fn expected(&self, lead: Lead<'_>) -> Option<f64> {
        let plan = self.plan.as_ref()?;
        let step = self.target()? - self.taken.last()?.position?;
        self.slope(plan, lead).map(|slope| slope * step)
    }

    /// Codes for one unit of the scale: between the two positions taken that lie furthest apart, else between the ends.
    fn slope(&self, plan: &StationPlan, lead: Lead<'_>) -> Option<f64> {
        let of = |a: (f64, f64), b: (f64, f64)| {
            let slope = (b.1 - a.1) / (b.0 - a.0);
            (slope.is_finite() && slope.abs() > 0.0).then_some(slope)
        };
        let known = || {
            let taken = self.taken.iter();
            taken.filter_map(|taken| Some((taken.position?, taken.level)))
        };
        let low = known().min_by(|a, b| a.0.total_cmp(&b.0));
        let high = known().max_by(|a, b| a.0.total_cmp(&b.0));
        let (low, high) = (low?, high?);
        if self.taken.len() > 1 {
            return of(low, high);
        }
        let (rest, full) = lead.ends?;
        let first = known().next()?;
        let far = if (first.1 - rest).abs() < (first.1 - full).abs() {
            full
        } else {
            rest
        };
        of(first, (plan.other_end()?, far))
    }

    /// Whether the control has come to the next position.
    fn has_arrived(&mut self, level: f64, lead: Lead<'_>) -> bool {
        if self.must_move.is_some() {
            return false;
        }
        let Some(last) = self.taken.last().map(|taken| taken.level) else {
            let near =
                |end: f64, span: f64| (level - end).abs() <= (span * AT_END).max(lead.tolerance);
            let begins_at_end = self
                .plan
                .as_ref()
                .is_some_and(|plan| plan.other_end().is_some());
            let ends = lead.ends.filter(|_| begins_at_end);
            return ends.is_none_or(|(rest, full)| {
                let span = (full - rest).abs();
                near(rest, span) || near(full, span)
            });
        };
        let moved = level - last;
        let Some(step) = self.expected(lead) else {
            return moved.abs() >= (lead.range * MOVED).max(2.0 * lead.tolerance);
        };
        let gone = moved / step;
        if gone < ARRIVED.start {
            return false;
        }
        let asked = self.asked().unwrap_or_default();
        let before = self.before().unwrap_or_default();
        if gone >= ARRIVED.end {
            self.hint(&format!(
                "that looks further than {asked}: go back to {before}, then to {asked}"
            ));
            return false;
        }
        let beyond = self
            .furthest
            .map_or(0.0, |furthest| (furthest - level) * step.signum());
        if beyond > 2.0 * lead.tolerance {
            self.hint(&format!(
                "it went beyond {asked} and came back, from the wrong side: go back to {before}, then to {asked}"
            ));
            return false;
        }
        true
    }

    /// Follows how far the control went on its way.
    fn follow(&mut self, lead: Lead<'_>) {
        let Some(now) = lead.watch.now() else { return };
        if self
            .must_move
            .is_some_and(|level| (now - level).abs() > 2.0 * lead.tolerance)
        {
            self.must_move = None;
        }
        let away = |taken: &Taken| (now - taken.level).abs() > lead.tolerance;
        self.left |= self.taken.last().is_none_or(away);
        let (Some(step), Some(last)) = (self.expected(lead), self.taken.last()) else {
            return;
        };
        let gone = (now - last.level) / step;
        let furthest = *self.furthest.get_or_insert(now);
        // Back on the near side of where it is to go: the way begins anew.
        if gone < ARRIVED.start || (now - furthest) * step.signum() > 0.0 {
            self.furthest = Some(now);
        }
    }
}

#[cfg(test)]
mod tests;
