//! The card: the steps that a unit goes through, each recognised from what the signal does.
//!
//! Every sample gets a step label as it arrives. A label other than `idle` is given only while the step's own
//! condition holds, so that what reaches the capture is evidence and not somebody reaching for the pedal.

use super::events::{StepProgress, StepState};
use super::stillness::Stillness;
use crate::units::{Code, Scale, Step};

/// How much evidence each step wants.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wanted {
    /// Seconds at rest.
    pub rest_s: f64,
    /// Seconds at the full end.
    pub full_s: f64,
    /// Movements from one end to the other.
    pub strokes: u32,
    /// Releases that came back to rest.
    pub returns: u32,
    /// Seconds of shaking the cable.
    pub shake_s: f64,
    /// Positions held.
    pub stations: u32,
    /// Seconds of a varied supply.
    pub supply_s: f64,
    /// Seconds with the board's input tied.
    pub tied_s: f64,
}

impl Default for Wanted {
    fn default() -> Self {
        // Six strokes are what wear detection needs to see a zone in most of them; eight leave room for two bad
        // ones. Five returns: from three on there is a scatter, five halve its interval.
        Self {
            rest_s: 2.0,
            full_s: 2.0,
            strokes: 8,
            returns: 5,
            shake_s: 4.0,
            stations: 11,
            supply_s: 8.0,
            tied_s: 2.0,
        }
    }
}

/// Where the ends are expected, in codes, when somebody knows: from a profile's limits.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ExpectedEnds {
    /// The rest end.
    pub rest: Option<f64>,
    /// The full end.
    pub full: Option<f64>,
}

impl ExpectedEnds {
    /// Whether a level is nearer to the full end than to the rest end; `None` when that is not known.
    fn nearer_to_full(self, level: f64) -> Option<bool> {
        Some((level - self.full?).abs() < (level - self.rest?).abs())
    }
}

/// What one sample was taken as.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Label {
    /// The step.
    pub step: Step,
    /// The stated position, in a station.
    pub position: Option<f64>,
}

const IDLE: Label = Label {
    step: Step::Idle,
    position: None,
};
/// Seconds of quiet at rest after which a release has come back.
const TAIL_S: f64 = 1.0;
/// Seconds of standing still at the full end before a release counts as one: longer than the turn of a stroke.
const HELD_S: f64 = 0.4;
/// Seconds that a station is held.
const STATION_S: f64 = 1.0;
/// Fraction of the span within which a control is at an end.
const AT_END: f64 = 0.1;

/// Where a recognition of several moves stands.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Move {
    /// Waiting for the movement that begins it.
    Waiting,
    /// Strokes: on the way, the last end reached was the full one or not.
    Under { from_full: bool, since_us: u64 },
    /// Release: still at the full end since; a stroke dwells there too, but not as long.
    Settling { since_us: u64 },
    /// Release: held at the full end.
    Held,
    /// Release: let go.
    Falling,
    /// Release: back at rest since.
    Back { since_us: u64 },
    /// Station: held at this position since.
    Station { position: f64, since_us: u64 },
}

/// The card under way, leading on one channel.
#[derive(Debug, Clone)]
pub struct Card {
    steps: Vec<StepProgress>,
    current: usize,
    lead: usize,
    scale: Scale,
    watch: Stillness,
    tolerance: f64,
    last_us: Option<u64>,
    rest: Option<f64>,
    full: Option<f64>,
    expected: ExpectedEnds,
    moving: Move,
    kept_open: bool,
}

impl Card {
    /// A card of `steps` (an `idle` among them is passed over), led by the channel at index `lead`.
    #[must_use]
    pub fn new(
        steps: &[Step],
        wanted: Wanted,
        lead: usize,
        scale: Scale,
        expected: ExpectedEnds,
    ) -> Self {
        let steps: Vec<_> = steps
            .iter()
            .filter(|step| **step != Step::Idle)
            .map(|step| planned(*step, wanted))
            .collect();
        // 0.8 % of the range: 8 codes of 1023, well above the noise of block means, well below any movement.
        let tolerance = (f64::from(scale.codes()) * 0.008).max(2.0);
        let mut card = Self {
            steps,
            current: 0,
            lead,
            scale,
            watch: Stillness::new(tolerance),
            tolerance,
            last_us: None,
            rest: None,
            full: None,
            expected,
            moving: Move::Waiting,
            kept_open: false,
        };
        card.begin();
        card
    }

    /// Takes a sample (all channels) and says what it was taken as.
    pub fn push(&mut self, t_us: u64, codes: &[Code]) -> Label {
        let Some(code) = codes.get(self.lead).copied() else {
            return IDLE;
        };
        let dt_s = self.last_us.map_or(0.0, |last| {
            crate::units::seconds_from_us(t_us.saturating_sub(last))
        });
        self.last_us = Some(t_us);
        if dt_s > 0.5 {
            // A gap: whatever was under way is not continued across it.
            self.watch.forget();
            self.moving = Move::Waiting;
        }
        self.watch.push(t_us, code);
        let Some(step) = self.steps.get(self.current).map(|progress| progress.step) else {
            return IDLE;
        };
        let label = match step {
            Step::Rest => self.rest(dt_s),
            Step::Full => self.full(dt_s),
            Step::Strokes => self.strokes(t_us),
            Step::Release => self.release(t_us),
            Step::Shake => self.shake(dt_s),
            Step::Stations => self.station_held(t_us),
            Step::Supply => self.timed(Step::Supply, dt_s, true),
            Step::Ground => self.timed(Step::Ground, dt_s, code.as_f64() < self.range() * 0.02),
            Step::Reference => {
                self.timed(Step::Reference, dt_s, code.as_f64() > self.range() * 0.98)
            }
            Step::Idle => IDLE,
        };
        self.advance_if_done();
        label
    }

    /// All steps, in order.
    #[must_use]
    pub fn progress(&self) -> &[StepProgress] {
        &self.steps
    }

    /// Whether every step is done or skipped, and nobody keeps the card open.
    #[must_use]
    pub fn done(&self) -> bool {
        self.at_end() && !self.kept_open
    }

    /// Whether every step is done or skipped for now.
    #[must_use]
    pub fn at_end(&self) -> bool {
        self.current >= self.steps.len()
    }

    /// At its end the card waits, labelling `idle`, for [`Self::take_up`] or for `keep_open(false)`.
    pub fn keep_open(&mut self, open: bool) {
        self.kept_open = open;
    }

    /// Takes a step up again that was done, until there is `want` of it in all. False when the card has no such step, it
    /// was left out, or there is as much already.
    pub fn take_up(&mut self, step: Step, want: f64) -> bool {
        let done = |progress: &&mut StepProgress| {
            progress.step == step && progress.state == StepState::Done && progress.want < want
        };
        let Some(progress) = self.steps.iter_mut().find(done) else {
            return false;
        };
        progress.want = want;
        progress.state = StepState::Waiting;
        progress.remark = Some("still open: a little more of this".to_owned());
        self.go_on();
        true
    }

    /// Leaves the current step out.
    pub fn skip(&mut self) {
        if let Some(progress) = self.steps.get_mut(self.current) {
            progress.state = StepState::Skipped;
            progress.remark = None;
            self.go_on();
        }
    }

    /// Does the current step again from the start; when nothing of it was done yet, or the card is through, the
    /// step before. What was taken stays in the capture as evidence.
    pub fn repeat(&mut self) {
        let fresh = self
            .steps
            .get(self.current)
            .is_none_or(|progress| progress.have <= 0.0);
        if fresh && self.current > 0 {
            if let Some(progress) = self.steps.get_mut(self.current) {
                progress.state = StepState::Waiting;
            }
            self.current -= 1;
        }
        if let Some(progress) = self.steps.get_mut(self.current) {
            progress.have = 0.0;
            progress.remark = None;
        }
        self.begin();
    }

    /// The control is held at this position from now on (a `stations` step).
    pub fn station(&mut self, position: f64) {
        if let (Some(since_us), Some(Step::Stations)) =
            (self.last_us, self.steps.get(self.current).map(|p| p.step))
        {
            self.moving = Move::Station { position, since_us };
        }
    }

    /// To the first step that is neither done nor left out.
    fn go_on(&mut self) {
        let open = |progress: &StepProgress| {
            matches!(progress.state, StepState::Waiting | StepState::Current)
        };
        self.current = self.steps.iter().position(open).unwrap_or(self.steps.len());
        self.begin();
    }

    fn begin(&mut self) {
        self.moving = Move::Waiting;
        if let Some(progress) = self.steps.get_mut(self.current) {
            progress.state = StepState::Current;
        }
    }

    fn advance_if_done(&mut self) {
        let Some(progress) = self.steps.get_mut(self.current) else {
            return;
        };
        if progress.have + 1e-9 >= progress.want {
            progress.state = StepState::Done;
            progress.remark = None;
            self.go_on();
        }
    }

    fn add(&mut self, amount: f64) {
        if let Some(progress) = self.steps.get_mut(self.current) {
            progress.have = (progress.have + amount).min(progress.want);
        }
    }

    fn remark(&mut self, words: Option<&str>) {
        if let Some(progress) = self.steps.get_mut(self.current)
            && progress.remark.as_deref() != words
        {
            progress.remark = words.map(str::to_owned);
        }
    }

    fn range(&self) -> f64 {
        f64::from(self.scale.codes())
    }

    /// Where the control is, 0 at rest, 1 at full, once both ends are known.
    fn travel(&self) -> Option<f64> {
        let (rest, full) = (self.rest?, self.full?);
        let span = full - rest;
        (span.abs() > self.tolerance).then_some((self.watch.now()? - rest) / span)
    }

    fn at_rest(&self) -> bool {
        let near = |rest: f64| {
            self.watch
                .now()
                .is_some_and(|now| (now - rest).abs() <= self.end_band())
        };
        self.rest.is_none_or(near)
    }

    fn end_band(&self) -> f64 {
        match (self.rest, self.full) {
            (Some(rest), Some(full)) => ((full - rest).abs() * AT_END).max(self.tolerance),
            _ => self.tolerance * 2.0,
        }
    }

    fn rest(&mut self, dt_s: f64) -> Label {
        let Some(level) = self.watch.level() else {
            return self.not_yet("waiting for it to stand still");
        };
        if self.expected.nearer_to_full(level) == Some(true) {
            return self.not_yet("that is the full end: let it go");
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

    fn full(&mut self, dt_s: f64) -> Label {
        let Some(level) = self.watch.level() else {
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

    /// Two levels that are not the same end: more than a twentieth of the range apart.
    fn apart(&self, a: f64, b: f64) -> bool {
        (a - b).abs() > self.range() * 0.05
    }

    fn shake(&mut self, dt_s: f64) -> Label {
        if self.at_rest() {
            self.hold(Step::Shake, dt_s, "keep moving the cable")
        } else {
            self.not_yet("let the control go first")
        }
    }

    fn hold(&mut self, step: Step, dt_s: f64, words: &str) -> Label {
        self.remark(Some(words));
        self.add(dt_s);
        Label {
            step,
            position: None,
        }
    }

    fn not_yet(&mut self, words: &str) -> Label {
        self.remark(Some(words));
        IDLE
    }

    fn timed(&mut self, step: Step, dt_s: f64, holds: bool) -> Label {
        if holds {
            self.hold(step, dt_s, "good")
        } else {
            self.not_yet("not there yet")
        }
    }

    fn strokes(&mut self, t_us: u64) -> Label {
        let Some(travel) = self.travel() else {
            return self.ends_from_movement();
        };
        let (at_rest, at_full) = (travel < AT_END, travel > 1.0 - AT_END);
        match self.moving {
            Move::Under {
                from_full,
                since_us,
            } => {
                if (from_full && at_rest) || (!from_full && at_full) {
                    let took_s = crate::units::seconds_from_us(t_us.saturating_sub(since_us));
                    self.add(1.0);
                    self.remark(Some(if took_s < 0.25 {
                        "a little slower, about a second each way"
                    } else {
                        "good"
                    }));
                    self.moving = Move::Under {
                        from_full: !from_full,
                        since_us: t_us,
                    };
                }
                Label {
                    step: Step::Strokes,
                    position: None,
                }
            }
            _ if at_rest || at_full => {
                self.moving = Move::Under {
                    from_full: at_full,
                    since_us: t_us,
                };
                Label {
                    step: Step::Strokes,
                    position: None,
                }
            }
            _ => self.not_yet("begin at either end"),
        }
    }

    /// Strokes on a card without holds: the ends are learnt from the movement itself.
    fn ends_from_movement(&mut self) -> Label {
        if let Some(now) = self.watch.now() {
            self.rest = Some(self.rest.map_or(now, |rest| rest.min(now)));
            self.full = Some(self.full.map_or(now, |full| full.max(now)));
        }
        self.not_yet("move it from end to end")
    }

    fn release(&mut self, t_us: u64) -> Label {
        let releasing = Label {
            step: Step::Release,
            position: None,
        };
        let Some(travel) = self.travel() else {
            return self.not_yet("the full end is not known: repeat that step");
        };
        let still = self.watch.level().is_some();
        match self.moving {
            Move::Held if travel > 1.0 - AT_END => releasing,
            Move::Held => {
                self.moving = Move::Falling;
                releasing
            }
            Move::Falling if travel < AT_END => {
                self.moving = Move::Back { since_us: t_us };
                releasing
            }
            Move::Falling if travel > 1.0 - AT_END => {
                self.moving = Move::Held;
                releasing
            }
            Move::Falling => releasing,
            Move::Back { since_us } if travel < 2.0 * AT_END => {
                if crate::units::seconds_from_us(t_us.saturating_sub(since_us)) >= TAIL_S && still {
                    self.add(1.0);
                    self.moving = Move::Waiting;
                    self.remark(Some("back at rest, once more"));
                }
                releasing
            }
            Move::Back { .. } => {
                self.moving = Move::Waiting;
                self.not_yet("moved too early: leave it for a second after letting go")
            }
            Move::Settling { since_us } if travel > 1.0 - AT_END && still => {
                if crate::units::seconds_from_us(t_us.saturating_sub(since_us)) < HELD_S {
                    return IDLE;
                }
                self.moving = Move::Held;
                self.remark(Some("now let it go"));
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

    fn station_held(&mut self, t_us: u64) -> Label {
        match self.moving {
            Move::Station { position, since_us } => {
                if crate::units::seconds_from_us(t_us.saturating_sub(since_us)) >= STATION_S {
                    self.add(1.0);
                    self.moving = Move::Waiting;
                }
                Label {
                    step: Step::Stations,
                    position: Some(position),
                }
            }
            _ => self.not_yet("set the next position and state it"),
        }
    }
}

pub(super) fn planned(step: Step, wanted: Wanted) -> StepProgress {
    let (want, unit, instruction) = match step {
        Step::Rest => (wanted.rest_s, "s", "Hands off: leave the control at rest."),
        Step::Full => (wanted.full_s, "s", "Hold it against the full stop."),
        Step::Strokes => (
            f64::from(wanted.strokes),
            "strokes",
            "Move it from end to end and back, about a second each way.",
        ),
        Step::Release => (
            f64::from(wanted.returns),
            "returns",
            "Hold it full for a second, let it go, wait; and again.",
        ),
        Step::Shake => (
            wanted.shake_s,
            "s",
            "Hands off the control: wiggle its cable and plug.",
        ),
        Step::Stations => (
            f64::from(wanted.stations),
            "stations",
            "Set a known position, state it, hold it for a second.",
        ),
        Step::Supply => (
            wanted.supply_s,
            "s",
            "Leave the control alone and vary its supply up and down.",
        ),
        Step::Ground => (wanted.tied_s, "s", "Tie the board's input to ground."),
        Step::Reference => (
            wanted.tied_s,
            "s",
            "Tie the board's input to its reference.",
        ),
        Step::Idle => (0.0, "s", ""),
    };
    StepProgress {
        step,
        state: StepState::Waiting,
        have: 0.0,
        want,
        unit,
        instruction,
        remark: None,
    }
}
