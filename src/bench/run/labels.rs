//! The step label of each sample: by recognition (a card) or by the clock.

use super::events::RunCommand;
use super::setup::Plan;
use crate::bench::card::{Card, ExpectedEnds, Label, StepProgress, TimedSteps};
use measure::units::{Code, Scale, Step};

/// How samples get their step, under way.
pub(super) enum Labels {
    /// Until the board's scale is known.
    Pending {
        plan: Plan,
        /// Whether a card is held open at its end for a look at the findings.
        sequential: bool,
    },
    Card(Box<Card>),
    Timed(TimedSteps),
}

impl Labels {
    pub(super) fn begin(&mut self, lead: usize, scale: Scale, expected: ExpectedEnds) {
        if let Self::Pending { plan, sequential } = self {
            *self = match plan {
                Plan::Card(steps, evidence) => {
                    let mut card = Card::new(steps, *evidence, lead, scale, expected);
                    card.hold_open(*sequential);
                    Self::Card(Box::new(card))
                }
                Plan::Timed(steps) => Self::Timed(TimedSteps::new(steps)),
            };
        }
    }

    pub(super) fn label(&mut self, t_us: u64, codes: &[Code]) -> Label {
        match self {
            Self::Pending { .. } => Label::of(Step::Idle),
            Self::Card(card) => card.push(t_us, codes),
            Self::Timed(timed) => timed.push(t_us),
        }
    }

    pub(super) fn progress(&self) -> &[StepProgress] {
        match self {
            Self::Pending { .. } => &[],
            Self::Card(card) => card.progress(),
            Self::Timed(timed) => timed.progress(),
        }
    }

    pub(super) fn done(&self) -> bool {
        match self {
            Self::Pending { .. } => false,
            Self::Card(card) => card.done(),
            Self::Timed(timed) => timed.done(),
        }
    }

    /// A card at its end is not held open any longer.
    pub(super) fn close(&mut self) {
        if let Self::Card(card) = self {
            card.hold_open(false);
        }
    }

    pub(super) fn command(&mut self, command: RunCommand) {
        match (self, command) {
            (Self::Card(card), RunCommand::Skip) => card.skip(),
            (Self::Card(card), RunCommand::Repeat) => card.repeat(),
            (Self::Card(card), RunCommand::Station(position)) => card.station(position),
            (Self::Timed(timed), RunCommand::Skip) => timed.skip(),
            _ => {}
        }
    }
}
