//! Trials: steps that a card adds at its end, when two causes fit what it has shown and one of them can be told from the other.
//!
//! Belongs here: offering one, leading through it, the stretches that it took. Does not belong here: which trial tells which causes
//! apart and what it has shown (`diagnose`).
//!
//! What is taken in a trial is no evidence of the part: its samples are `idle`, behind all evidence, and stand in the metadata. Evidence
//! ends with the last step before the first offer: whoever thinks about it may have a hand on the plug.

mod phases;
pub(super) mod presses;

use super::trials::{Offer, TellApart};
use super::{Card, IDLE, Label, StepState};
use crate::capture::Tried;
use measure::units::{Step, Trial, seconds_from_us};
use phases::{offered, phases};

/// Seconds that an offer waits for an answer.
const OFFER_S: f64 = 60.0;
/// Seconds that it takes to pull the charger, when nobody says that it is out.
const PULLED_S: f64 = 10.0;
/// A slow stroke lasts so many seconds at least.
const SLOW_S: f64 = 1.2;

impl Card {
    /// Whether trials are offered at its end.
    pub fn telling_apart(mut self, tell_apart: TellApart) -> Self {
        self.trials.tell_apart = tell_apart;
        self
    }

    /// What was tried so far.
    pub fn tried(&self) -> &[Tried] {
        &self.trials.tried
    }

    /// Adds a trial at the end. False when trials are not wanted, or this one was there before.
    pub fn offer(&mut self, trial: Trial) -> bool {
        let before = self.steps.iter().any(|step| step.trial == Some(trial));
        if before || !self.at_end() || self.trials.tell_apart == TellApart::Never {
            return false;
        }
        self.steps.push(phases(trial));
        self.go_on();
        self.patience.renew();
        self.trials.begin();
        if self.trials.tell_apart == TellApart::Ask {
            self.trials.offer = Some(Offer::default());
            if let Some(progress) = self.steps.get_mut(self.current) {
                progress.ends_in_s = Some(OFFER_S);
            }
        }
        true
    }

    /// The trial whose turn it is.
    pub(super) fn current_trial(&self) -> Option<Trial> {
        self.steps.get(self.current)?.trial
    }

    /// Somebody says yes: to a trial that is offered, that it is ready, or that the card is to go on.
    pub fn go_ahead(&mut self) {
        if self.trials.offer.take().is_some() {
            if let Some(progress) = self.steps.get_mut(self.current) {
                (progress.remark, progress.ends_in_s) = (None, None);
            }
        } else if self.current_trial().is_some() {
            self.trials.ready = true;
        }
        self.go_on_with_it();
    }

    /// The trial under way from its start.
    pub(super) fn try_again(&mut self) {
        let Some(trial) = self.current_trial() else {
            return;
        };
        self.trials.begin();
        // Evidence stays at its end.
        let keeps = |tried: &Tried| tried.trial != trial || tried.step == Step::Idle;
        self.trials.tried.retain(keeps);
        if let Some(progress) = self.steps.get_mut(self.current) {
            progress.have = 0.0;
            progress.remark = None;
        }
        self.begin();
    }

    /// Takes a sample in while a trial is offered or under way.
    pub(super) fn trial(&mut self, trial: Trial, t_us: u64, dt_s: f64) -> Label {
        self.trials.end_evidence(trial, t_us);
        if let Some(offer) = &mut self.trials.offer {
            let since_us = *offer.since_us.get_or_insert(t_us);
            let left_s = OFFER_S - seconds_from_us(t_us.saturating_sub(since_us));
            self.remark(Some(offered(trial)));
            if let Some(progress) = self.steps.get_mut(self.current) {
                progress.ends_in_s = Some(left_s.max(0.0));
            }
            if left_s <= 0.0 {
                self.skip();
            }
            return IDLE;
        }
        let since_us = *self.trials.begun_us.get_or_insert(t_us);
        let passed_s = seconds_from_us(t_us.saturating_sub(since_us));
        let label = match trial {
            Trial::Slower => self.strokes_of(t_us, SLOW_S, "slower, please: two seconds each way"),
            Trial::Plug => self.plug(dt_s),
            Trial::Battery => self.on_battery(passed_s, dt_s),
            Trial::Swap => self.swapped(t_us),
        };
        if label.step == Step::Idle {
            self.trials.open = false;
        } else {
            self.trials.sample(trial, label.step, t_us);
        }
        Label {
            tried: true,
            ..IDLE
        }
    }

    /// Only the plug is moved. What is without contact counts: it is what is looked for.
    fn plug(&mut self, dt_s: f64) -> Label {
        if !self.trials.open && !self.at_rest() {
            return self.not_yet("let the control go first");
        }
        self.remark(Some("keep wiggling the plug, and nothing else"));
        self.add(dt_s);
        Label::of(Step::Shake)
    }

    fn on_battery(&mut self, passed_s: f64, dt_s: f64) -> Label {
        if !self.trials.ready && passed_s < PULLED_S {
            let left_s = (PULLED_S - passed_s).ceil();
            return self.not_yet(&format!("it begins in {left_s:.0} s"));
        }
        if self.watch.level().is_none() {
            return self.not_yet("let it stand still");
        }
        self.remark(Some("good, leave it"));
        self.add(dt_s);
        Label::of(Step::Rest)
    }

    /// The wires change places, and it is pressed twice: what is rest and what is full is known when it is over.
    fn swapped(&mut self, t_us: u64) -> Label {
        let levels = std::iter::once(self.watch.level()).chain(self.others_levels());
        let levels: Option<Vec<f64>> = levels.collect();
        let (same, moved) = (2.0 * self.tolerance, self.range() * 0.05);
        self.trials.presses.push(t_us, levels, same);
        let (have, stretches) = self.trials.presses.seen(same, moved);
        if let Some(progress) = self.steps.get_mut(self.current) {
            progress.have = have;
        }
        for (at, still) in stretches.into_iter().flatten().enumerate() {
            self.trials.tried.push(Tried {
                trial: Trial::Swap,
                step: if at % 2 == 0 { Step::Rest } else { Step::Full },
                from_us: still.from_us,
                to_us: still.to_us,
            });
        }
        self.not_yet(self.words.swapped)
    }

    /// Leaves the trial out that is offered or under way.
    pub(super) fn leave_trial_out(&mut self) {
        self.trials.begin();
        if let Some(progress) = self.steps.get_mut(self.current) {
            progress.state = StepState::Skipped;
            (progress.remark, progress.ends_in_s) = (None, None);
        }
        self.go_on();
    }
}
