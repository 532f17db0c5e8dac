//! The card: the steps that a unit goes through, each recognised from what the signal does.
//!
//! Every sample gets a step label as it arrives. A label other than `idle` is given only while the step's own
//! condition holds, so that what reaches the capture is evidence and not somebody reaching for the pedal.
//!
//! Belongs here: the order of steps, what is common to them. The recognition of each lies beside: `holds`, `strokes`,
//! `release`.

mod beyond;
mod evidence_plan;
mod furthest;
mod hold;
mod holds;
mod others;
mod patience;
mod positions;
mod progress;
mod release;
mod stations;
mod stillness;
mod strokes;
mod taken;
#[cfg(test)]
mod tests;
mod timed;
mod trial;
mod trials;
mod waited;

pub use evidence_plan::{EvidencePlan, LOOKS};
pub(super) use others::Other;
pub use progress::{Cue, StepProgress, StepState};
pub use stations::{StationPlan, StationWords, USUAL_STATIONS};
pub(super) use timed::TimedSteps;
pub use trials::TellApart;
pub use waited::Presence;

use crate::capture::SetAside;
use evidence_plan::{Words, planned};
use furthest::Furthest;
use hold::Hold;
use measure::units::{Code, Scale, Step};
use stations::Stations;
use stillness::Stillness;
use taken::Taken;
use trials::Trials;
use waited::Patience;

/// Where the ends are expected, in codes, when somebody knows: from a profile's limits.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ExpectedEnds {
    pub rest: Option<f64>,
    pub full: Option<f64>,
    /// The limit of the full end that is nearest to rest.
    pub full_near: Option<f64>,
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
    pub step: Step,
    /// The stated position, in a station.
    pub position: Option<f64>,
    /// Whether a trial is under way: no evidence, and yet not to be lost.
    pub tried: bool,
}

impl Label {
    pub const fn of(step: Step) -> Self {
        Self {
            step,
            position: None,
            tried: false,
        }
    }
}

const IDLE: Label = Label::of(Step::Idle);
/// Fraction of the span within which a control is at an end.
const AT_END: f64 = 0.1;
/// Fraction of the span below which a press is over.
const LET_GO: f64 = 0.5;
/// Longest time between samples, in seconds, that is no gap.
const GAP_S: f64 = 0.5;
/// Seconds that words of what went wrong stay.
const WORDS_S: f64 = 3.0;
/// Whether there is a gap between two samples at these board times, microseconds.
pub fn is_gap(from_us: u64, to_us: u64) -> bool {
    measure::units::seconds_from_us(to_us.saturating_sub(from_us)) > GAP_S
}

/// Where a recognition of several moves stands.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Move {
    /// Waiting for the movement that begins it.
    Waiting,
    /// Strokes: on the way, the last end reached was the full one or not; and whether that end is well behind.
    Under {
        from_full: bool,
        since_us: u64,
        left: bool,
    },
    /// Release: still at the full end since; a stroke dwells there too, but not as long.
    Settling { since_us: u64 },
    /// Release: held at the full end.
    Held,
    /// Release: let go; and since when it has stood still on the way.
    Falling { still_us: Option<u64> },
    /// Release: back at rest since.
    Back { since_us: u64 },
}

/// The card under way, leading on one channel.
#[derive(Debug, Clone)]
pub struct Card {
    steps: Vec<StepProgress>,
    current: usize,
    lead: usize,
    lead_name: String,
    /// The other signals.
    others: Vec<Other>,
    scale: Scale,
    watch: Stillness,
    tolerance: f64,
    last_us: Option<u64>,
    rest: Option<f64>,
    full: Option<f64>,
    /// The furthest place that it was seen at, held or moved to.
    furthest_full: Option<f64>,
    furthest: Furthest,
    expected: ExpectedEnds,
    hold: Hold,
    taken: Taken,
    /// How often the holds of an end were set aside for a place beyond it.
    ends_moved: u32,
    patience: Patience,
    /// Words that stand before any other remark, until then.
    notice: Option<(String, u64)>,
    moving: Move,
    /// Seconds of quiet at rest after which a release has come back.
    quiet_s: f64,
    stations: Stations,
    /// When the words of the known positions were renewed.
    worded_us: u64,
    held_open: bool,
    /// It is still pressed as it was when its full end was taken: more of that press is no other press.
    same_press: bool,
    trials: Trials,
    words: &'static Words,
}

impl Card {
    /// A card of `steps` (an `idle` among them is passed over), led by the channel at index `lead`.
    pub fn new(
        steps: &[Step],
        wanted: EvidencePlan,
        lead: usize,
        scale: Scale,
        expected: ExpectedEnds,
    ) -> Self {
        let steps: Vec<_> = steps
            .iter()
            .filter(|step| **step != Step::Idle)
            .map(|step| planned(*step, &wanted))
            .collect();
        // 0.8 % of the range: 8 codes of 1023, well above the noise of block means, well below any movement.
        let tolerance = (f64::from(scale.codes()) * 0.008).max(2.0);
        let mut card = Self {
            steps,
            current: 0,
            lead,
            lead_name: String::new(),
            others: Vec::new(),
            scale,
            watch: Stillness::new(tolerance),
            tolerance,
            last_us: None,
            rest: None,
            full: None,
            furthest_full: None,
            furthest: Furthest::default(),
            expected,
            hold: Hold::default(),
            taken: Taken::default(),
            ends_moved: 0,
            patience: Patience::default(),
            notice: None,
            moving: Move::Waiting,
            quiet_s: wanted.quiet_s,
            stations: Stations::new(None, false),
            worded_us: 0,
            held_open: false,
            same_press: false,
            trials: Trials::default(),
            words: Words::of(wanted.kind),
        };
        card.begin();
        card
    }

    /// Takes a sample (all channels) and says what it was taken as.
    pub fn push(&mut self, t_us: u64, codes: &[Code]) -> Label {
        let Some(code) = codes.get(self.lead).copied() else {
            return IDLE;
        };
        let mut dt_s = self.last_us.map_or(0.0, |last| {
            measure::units::seconds_from_us(t_us.saturating_sub(last))
        });
        self.last_us = Some(t_us);
        let gap = dt_s > GAP_S;
        if gap {
            dt_s = 0.0;
            // A gap: whatever was under way is not continued across it.
            self.break_hold();
            self.watch.forget();
            self.furthest.forget();
            self.others.iter_mut().for_each(Other::forget);
            self.moving = Move::Waiting;
            self.stations.forget_hold();
            if self
                .current_step()
                .is_some_and(|step| step != Step::Stations)
            {
                self.tell("the connection was lost: what was under way is taken again");
            }
        }
        for other in &mut self.others {
            other.push(t_us, codes);
        }
        if self.watch.push(t_us, code) {
            self.see_block(t_us);
        }
        let Some((step, trial)) = self.steps.get(self.current).map(|p| (p.step, p.trial)) else {
            self.trials.through_us.get_or_insert(t_us);
            return IDLE;
        };
        if let Some(trial) = trial {
            let label = self.trial(trial, t_us, dt_s);
            self.advance_if_done();
            return label;
        }
        let label = match step {
            Step::Rest => self.rest(t_us),
            Step::Full => self.full(t_us),
            Step::Strokes => self.strokes(t_us),
            Step::Release => self.release(t_us),
            Step::Shake => self.shake(t_us, dt_s),
            Step::Stations => self.station(t_us),
            Step::Supply => self.timed(Step::Supply, dt_s, true),
            Step::Ground => self.timed(Step::Ground, dt_s, code.as_f64() < self.range() * 0.02),
            Step::Reference => {
                self.timed(Step::Reference, dt_s, code.as_f64() > self.range() * 0.98)
            }
            Step::Idle => IDLE,
        };
        // A passage has no gap in it.
        let label = if gap { IDLE } else { label };
        if !matches!(label.step, Step::Rest | Step::Full | Step::Shake) {
            self.taken.sample(label.step, t_us);
        }
        self.advance_if_done();
        label
    }

    /// Whatever is looked at once a block, 50 times a second.
    fn see_block(&mut self, t_us: u64) {
        self.same_press &= self.travel().is_none_or(|travel| travel > LET_GO);
        let step = self.current_step();
        if self.current_trial().is_some() {
            return self.be_patient(t_us);
        }
        if step == Some(Step::Rest) {
            self.others.iter_mut().for_each(Other::rests);
        }
        if matches!(step, Some(Step::Full | Step::Strokes | Step::Release)) {
            self.follow_what_moves();
            self.see_how_far();
        }
        self.be_patient(t_us);
    }

    /// Nothing that was taken of a step is evidence any more: it is to be done anew.
    fn set_aside(&mut self, step: Step) {
        self.same_press &= step != Step::Full;
        self.taken.drop_step(step);
        if self
            .steps
            .get(self.current)
            .is_some_and(|now| now.step == step)
        {
            self.hold.forget_before();
        }
        let mut steps = self.steps.iter_mut();
        let Some(progress) = steps.find(|progress| progress.step == step) else {
            return;
        };
        progress.have = 0.0;
        if progress.state == StepState::Done {
            progress.state = StepState::Waiting;
        }
    }

    pub fn progress(&self) -> &[StepProgress] {
        &self.steps
    }

    /// Whether every step is done or skipped, and nobody keeps the card open.
    pub fn done(&self) -> bool {
        self.at_end() && !self.held_open
    }

    /// Whether every step is done or skipped for now.
    pub fn at_end(&self) -> bool {
        self.current >= self.steps.len()
    }

    /// At its end the card waits, labelling `idle`, for [`Self::reopen`] or for `hold_open(false)`.
    pub fn hold_open(&mut self, open: bool) {
        self.held_open = open;
    }

    /// Takes a step up again that was done, until there is `want` of it in all. False when the card has no such step, it
    /// was left out, or there is as much already.
    pub fn reopen(&mut self, step: Step, want: f64) -> bool {
        let done = |progress: &&mut StepProgress| {
            progress.step == step
                && progress.trial.is_none()
                && progress.state == StepState::Done
                && progress.want < want
        };
        if !self.tried().is_empty() {
            // Nothing is evidence any more that comes behind a trial.
            return false;
        }
        let Some(progress) = self.steps.iter_mut().find(done) else {
            return false;
        };
        progress.want = want;
        progress.state = StepState::Waiting;
        self.go_on();
        self.trials.through_us = None;
        if self.current_step() == Some(step) {
            self.tell(if step == Step::Full && self.same_press {
                self.words.not_sure
            } else {
                "not sure yet: a little more of this, please"
            });
        }
        true
    }

    pub fn skip(&mut self) {
        if self.current_trial().is_some() {
            return self.leave_trial_out();
        }
        self.break_hold();
        if let Some(progress) = self.steps.get_mut(self.current) {
            progress.state = StepState::Skipped;
            progress.remark = None;
            self.go_on();
        }
    }

    /// Does the current step again from the start; when nothing of it was done yet, or the card is through, the
    /// step before. What was taken of it is set aside.
    pub fn repeat(&mut self) {
        if self.steps.iter().any(|step| step.trial.is_some()) {
            // Nothing is evidence any more that comes behind a trial.
            return self.try_again();
        }
        self.break_hold();
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
            let step = progress.step;
            self.taken.drop_step(step);
            if step == Step::Full {
                self.same_press = false;
                self.furthest_full = None;
            }
        }
        self.furthest.forget();
        self.begin();
        if self.current_step() == Some(Step::Stations) {
            self.stations.begin_again();
            self.word_stations();
        }
    }

    /// Stretches that were taken back since the last time.
    pub fn take_aside(&mut self) -> Vec<SetAside> {
        let mut aside = std::mem::take(&mut self.stations.aside);
        aside.extend(self.taken.take_aside());
        aside
    }

    fn ends(&self) -> Option<(f64, f64)> {
        Some((self.rest?, self.full?))
    }

    fn current_step(&self) -> Option<Step> {
        self.steps.get(self.current).map(|progress| progress.step)
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
        self.hold = Hold::default();
        self.stations.forget_hold();
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

    /// Words that stand for a while, whatever is remarked meanwhile.
    fn tell(&mut self, words: &str) {
        self.tell_for(words, WORDS_S);
    }

    fn tell_for(&mut self, words: &str, seconds: f64) {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a few seconds
        let until_us = self.last_us.unwrap_or_default() + (seconds * 1e6) as u64;
        self.notice = Some((words.to_owned(), until_us));
    }

    fn remark(&mut self, words: Option<&str>) {
        let now_us = self.last_us.unwrap_or_default();
        self.notice.take_if(|(_, until_us)| *until_us < now_us);
        let notice = self.notice.clone();
        let words = notice.as_ref().map_or(words, |(notice, _)| Some(notice));
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

    /// Two levels that are not the same end: more than a twentieth of the range apart.
    fn apart(&self, a: f64, b: f64) -> bool {
        (a - b).abs() > self.range() * 0.05
    }

    fn not_yet(&mut self, words: &str) -> Label {
        self.remark(Some(words));
        IDLE
    }
}
