//! Where the trials of a card are: what was offered, what was tried so far.

use super::trial::presses::Presses;
use crate::capture::Tried;
use measure::units::{Step, Trial};

/// Whether a card offers trials, and whether it waits for an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum TellApart {
    /// It does not: nobody is there, or nobody asked for it.
    #[default]
    Never,
    /// Somebody is asked first.
    Ask,
    /// They are taken without asking.
    Take,
}

/// A trial that is offered.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Offer {
    /// Since the first sample after it.
    pub since_us: Option<u64>,
}

/// Trials of a card.
#[derive(Debug, Clone, Default)]
pub(super) struct Trials {
    pub tell_apart: TellApart,
    pub tried: Vec<Tried>,
    /// The first sample after the last step, as long as the card waits for what follows.
    pub through_us: Option<u64>,
    /// The last stretch goes on.
    pub open: bool,
    /// An offer that nobody has answered yet.
    pub offer: Option<Offer>,
    /// When the trial began.
    pub begun_us: Option<u64>,
    /// Somebody said that it is ready.
    pub ready: bool,
    pub presses: Presses,
}

impl Trials {
    pub fn begin(&mut self) {
        self.open = false;
        self.offer = None;
        self.begun_us = None;
        self.ready = false;
        self.presses = Presses::default();
    }

    /// An `idle` stretch says since when nothing is evidence: since the last step was over, before the trial was offered or begun.
    pub fn end_evidence(&mut self, trial: Trial, t_us: u64) {
        if self.tried.iter().all(|tried| tried.trial != trial) {
            let t_us = self.through_us.take().unwrap_or(t_us);
            self.tried.push(Tried {
                trial,
                step: Step::Idle,
                from_us: t_us,
                to_us: t_us,
            });
        }
    }

    pub fn sample(&mut self, trial: Trial, step: Step, t_us: u64) {
        match self.tried.last_mut() {
            Some(last) if self.open && last.trial == trial && last.step == step => {
                last.to_us = t_us;
            }
            _ => self.tried.push(Tried {
                trial,
                step,
                from_us: t_us,
                to_us: t_us,
            }),
        }
        self.open = true;
    }
}
