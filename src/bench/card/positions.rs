//! The `stations` step of a card: what is said of known positions, and their words.
//!
//! Belongs here: the card's side of it. Does not belong here: when a position is taken (`stations`).

use super::stations::{Lead, Seen, StationPlan, StationWords, Stations};
use super::{Card, IDLE, Label, StepProgress, StepState};
use crate::capture::RefMeta;
use measure::units::Step;

/// How often the words of a known position are renewed, microseconds.
const WORDS_US: u64 = 50_000;

impl Card {
    /// With these known positions, or a sensor that measures them.
    pub fn with_stations(mut self, plan: Option<StationPlan>, sensor: bool) -> Self {
        self.stations = Stations::new(plan, sensor);
        self.word_stations();
        self
    }

    /// Where the ends were seen before, in codes.
    pub fn know_ends(&mut self, rest: Option<f64>, full: Option<f64>) {
        (self.rest, self.full) = (rest, full);
    }

    /// What somebody says of the known positions.
    pub fn say(&mut self, words: StationWords) {
        let here = self.current_step() == Some(Step::Stations);
        match words {
            StationWords::Plan(plan) => self.stations.state(plan),
            StationWords::Here(position) if here => self.stations.here(position),
            StationWords::TakeBack => self.take_station_back(),
            StationWords::End if here => self.skip(),
            StationWords::Here(_) | StationWords::End => {}
        }
        self.word_stations();
    }

    /// The last known position once more, also when it was the last of all.
    fn take_station_back(&mut self) {
        let stations = |progress: &&mut StepProgress| progress.step == Step::Stations;
        if self.stations.take_back()
            && let Some(progress) = self.steps.iter_mut().find(stations)
            && progress.state == StepState::Done
        {
            progress.state = StepState::Waiting;
            if let Some(under_way) = self.steps.get_mut(self.current) {
                under_way.state = StepState::Waiting;
            }
            self.go_on();
        }
    }

    /// What is known of the positions that were stated.
    pub fn reference(&self) -> Option<RefMeta> {
        self.stations.reference(self.ends())
    }

    /// A known position: asked for, held, taken.
    pub(super) fn station(&mut self, t_us: u64) -> Label {
        let lead = Lead {
            watch: &self.watch,
            tolerance: self.tolerance,
            range: self.range(),
            ends: self.ends(),
        };
        let seen = self.stations.push(t_us, lead);
        if matches!(seen, Seen::Taken(_)) || t_us.saturating_sub(self.worded_us) >= WORDS_US {
            self.worded_us = t_us;
            self.word_stations();
        }
        match seen {
            Seen::Nothing => IDLE,
            Seen::Held(position) | Seen::Taken(position) => Label {
                position,
                ..Label::of(Step::Stations)
            },
        }
    }

    /// How far the known positions are, in the step's own words.
    pub(super) fn word_stations(&mut self) {
        let stations = |progress: &&mut StepProgress| progress.step == Step::Stations;
        let Some(progress) = self.steps.iter_mut().find(stations) else {
            return;
        };
        progress.want = self.stations.want();
        progress.have = self.stations.have();
        progress.instruction = self.stations.instruction().into();
        progress.asked = self.stations.asked();
        progress.remark = self.stations.remark();
    }
}
