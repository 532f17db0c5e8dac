//! The step label of each sample: by recognition (a card) or by the clock.

use super::channels::expected_ends;
use super::events::RunCommand;
use super::setup::{Asking, Plan};
use crate::bench::card::{
    Card, EvidencePlan, Label, Other, StationPlan, StepProgress, StepState, TimedSteps,
};
use crate::capture::{ChannelMeta, RefMeta, SetAside, Tried};
use crate::profile::Profile;
use measure::units::{Code, Role, Scale, Step};

/// How samples get their step, under way.
pub(super) enum Labels {
    /// Until the board's scale is known.
    Pending {
        plan: Plan,
        /// Whether anybody is there to be asked, and for what.
        asking: Asking,
        stations: Option<StationPlan>,
        /// Whether a card is held open at its end for a look at the findings.
        sequential: bool,
    },
    Card(Box<Card>),
    Timed(TimedSteps),
    /// By the clock first, then known positions.
    Both(Box<TimedThenStations>),
}

impl Labels {
    /// The first signal leads a card.
    pub(super) fn begin(
        &mut self,
        channels: &[(String, ChannelMeta)],
        profile: Option<&Profile>,
        scale: Scale,
    ) {
        let Self::Pending {
            plan,
            asking,
            stations,
            sequential,
        } = self
        else {
            return;
        };
        let sensor = channels
            .iter()
            .any(|(_, meta)| meta.role == Role::Reference);
        let expected = |column: usize| expected_ends(channels.get(column), profile, scale);
        let signals = (0..channels.len()).filter(|at| channels[*at].1.role == Role::Signal);
        let mut signals = signals.collect::<Vec<_>>().into_iter();
        let lead = signals.next().unwrap_or(0);
        let card = |steps: &[Step], evidence| {
            let card = Card::new(steps, evidence, lead, scale, expected(lead));
            card.with_stations(stations.clone(), sensor)
        };
        *self = match plan {
            Plan::Card(steps, evidence) => {
                let name = channels.get(lead).map_or("", |(name, _)| name);
                let other = |at: usize| Other::new(at, &channels[at].0, expected(at));
                let others = signals.map(other).collect();
                let mut card = card(steps, *evidence).with_others(name, others);
                card.hold_open(*sequential);
                card = card
                    .before(asking.presence)
                    .telling_apart(asking.tell_apart);
                Self::Card(Box::new(card))
            }
            Plan::Timed(steps) if stations.is_some() => Self::Both(Box::new(TimedThenStations {
                timed: TimedSteps::new(steps),
                stations: card(&[Step::Stations], EvidencePlan::default()),
                lead,
                rest: Mean::default(),
                full: Mean::default(),
                begun: false,
            })),
            Plan::Timed(steps) => Self::Timed(TimedSteps::new(steps)),
        };
    }

    pub(super) fn label(&mut self, t_us: u64, codes: &[Code]) -> Label {
        match self {
            Self::Pending { .. } => Label::of(Step::Idle),
            Self::Card(card) => card.push(t_us, codes),
            Self::Timed(timed) => timed.push(t_us),
            Self::Both(both) => both.push(t_us, codes),
        }
    }

    pub(super) fn progress(&self) -> Vec<StepProgress> {
        match self {
            Self::Pending { .. } => Vec::new(),
            Self::Card(card) => with_cue(card),
            Self::Timed(timed) => timed.progress().to_vec(),
            Self::Both(both) => both.progress(),
        }
    }

    pub(super) fn done(&self) -> bool {
        match self {
            Self::Pending { .. } => false,
            Self::Card(card) => card.done(),
            Self::Timed(timed) => timed.done(),
            Self::Both(both) => both.timed.done() && both.stations.done(),
        }
    }

    /// Whether what was under way in a gap is taken again: steps by the clock are not.
    pub(super) fn takes_again(&self) -> bool {
        match self {
            Self::Card(_) => true,
            Self::Both(both) => both.timed.done(),
            Self::Pending { .. } | Self::Timed(_) => false,
        }
    }

    /// Whether a sample of this step may be taken back a moment later.
    pub(super) fn may_take_back(&self, step: Step) -> bool {
        let holds = matches!(step, Step::Rest | Step::Full | Step::Stations);
        holds && self.card().is_some_and(|card| !card.at_end())
    }

    /// A card at its end is not held open any longer.
    pub(super) fn close(&mut self) {
        if let Self::Card(card) = self {
            card.hold_open(false);
        }
    }

    pub(super) fn command(&mut self, command: RunCommand) {
        match (self, command) {
            (Self::Card(card), command) => card_command(card, command),
            (Self::Both(both), RunCommand::Skip) if !both.timed.done() => both.timed.skip(),
            (Self::Both(both), command) => card_command(&mut both.stations, command),
            (Self::Timed(timed), RunCommand::Skip) => timed.skip(),
            _ => {}
        }
    }

    fn card(&self) -> Option<&Card> {
        match self {
            Self::Card(card) => Some(card),
            Self::Both(both) => Some(&both.stations),
            Self::Pending { .. } | Self::Timed(_) => None,
        }
    }

    /// Whether there are known positions to come.
    pub(super) fn has_stations(&self) -> bool {
        let mut steps = self.card().into_iter().flat_map(Card::progress);
        steps.any(|progress| progress.step == Step::Stations)
    }

    /// What is known of the positions by now.
    pub(super) fn reference(&self) -> Option<RefMeta> {
        self.card().and_then(Card::reference)
    }

    /// What was tried so far.
    pub(super) fn tried(&self) -> &[Tried] {
        match self {
            Self::Card(card) => card.tried(),
            _ => &[],
        }
    }

    /// Stretches that were taken back since the last time.
    pub(super) fn take_aside(&mut self) -> Vec<SetAside> {
        match self {
            Self::Card(card) => card.take_aside(),
            Self::Both(both) => both.stations.take_aside(),
            Self::Pending { .. } | Self::Timed(_) => Vec::new(),
        }
    }
}

fn card_command(card: &mut Card, command: RunCommand) {
    match command {
        RunCommand::GoAhead => card.go_ahead(),
        RunCommand::Skip => card.skip(),
        RunCommand::Repeat => card.repeat(),
        RunCommand::Station(words) => card.say(words),
        RunCommand::Stop | RunCommand::CheckAs(_) => {}
    }
}

/// Steps by the clock, then a card of known positions alone, that knows where the ends were.
pub(super) struct TimedThenStations {
    timed: TimedSteps,
    stations: Card,
    lead: usize,
    rest: Mean,
    full: Mean,
    begun: bool,
}

impl TimedThenStations {
    fn push(&mut self, t_us: u64, codes: &[Code]) -> Label {
        if !self.timed.done() {
            let label = self.timed.push(t_us);
            let code = codes.get(self.lead);
            match (label.step, code) {
                (Step::Rest, Some(code)) => self.rest.add(*code),
                (Step::Full, Some(code)) => self.full.add(*code),
                _ => {}
            }
            return label;
        }
        if !std::mem::replace(&mut self.begun, true) {
            self.stations
                .know_ends(self.rest.value(), self.full.value());
        }
        self.stations.push(t_us, codes)
    }

    fn progress(&self) -> Vec<StepProgress> {
        let timed = self.timed.progress().iter().cloned();
        let mut steps: Vec<_> = timed
            .chain(self.stations.progress().iter().cloned())
            .collect();
        if !self.timed.done()
            && let Some(stations) = steps.last_mut()
        {
            stations.state = StepState::Waiting;
        }
        steps
    }
}

/// A card's steps, the one under way with its cue.
fn with_cue(card: &Card) -> Vec<StepProgress> {
    let mut steps = card.progress().to_vec();
    let current = steps
        .iter_mut()
        .find(|step| step.state == StepState::Current);
    if let Some(step) = current {
        step.cue = card.cue();
    }
    steps
}

/// A running mean of codes.
#[derive(Debug, Default)]
struct Mean {
    sum: u64,
    n: u32,
}

impl Mean {
    fn add(&mut self, code: Code) {
        self.sum += u64::from(code.0);
        self.n += 1;
    }

    #[allow(clippy::cast_precision_loss)] // codes of at most 24 bits
    fn value(&self) -> Option<f64> {
        (self.n > 0).then(|| self.sum as f64 / f64::from(self.n))
    }
}
