//! What a run tells, and what it can be told. All values: the screen's messages are made of these.

use super::channels::usual_role;
use crate::bench::card::{StationWords, StepProgress};
use crate::capture::StreamCounts;
use crate::profile::Profile;
use crate::record::Assessment;
use measure::units::{Code, Role, Step, Track};
use std::path::PathBuf;
use std::sync::Arc;

/// Samples that arrived together: columns of equal length.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Batch {
    /// Board time, microseconds.
    pub t_us: Vec<u64>,
    /// The step that each sample was taken in.
    pub step: Vec<Step>,
    /// Codes: one column a channel, in the order of [`StreamInfo::channels`].
    pub codes: Vec<Vec<Code>>,
}

/// What is being taken: known from the stream's header or the user's options.
#[derive(Debug, Clone, PartialEq)]
pub struct StreamInfo {
    /// Channel names with their track, in column order; `None` for what is no signal of the unit.
    pub channels: Vec<(String, Option<Track>)>,
    /// ADC resolution in bits.
    pub bits: u32,
    /// ADC reference in millivolts.
    pub vref_mv: f64,
    /// Nominal samples a second.
    pub rate_hz: f64,
    /// False when the board sends no time and arrival at the host stands in for it.
    pub board_time: bool,
    /// The source, for people.
    pub source: String,
    pub tag: Option<String>,
}

impl StreamInfo {
    /// The columns' names with their roles; what is no signal and no supply by its name is taken for an output.
    pub fn columns(&self) -> Vec<(&str, Role)> {
        let role = |name: &str, track: Option<Track>| match usual_role(name) {
            _ if track.is_some() => Role::Signal,
            Role::Supply => Role::Supply,
            Role::Enable => Role::Enable,
            Role::Signal | Role::Output | Role::Reference => Role::Output,
        };
        let columns = self.channels.iter();
        columns
            .map(|(name, track)| (name.as_str(), role(name, *track)))
            .collect()
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LinkState {
    Connected,
    /// The source has gone; waiting for it to come back.
    Lost,
    Ended,
}

#[derive(Debug, Clone, PartialEq)]
pub struct StreamHealth {
    /// Counts since the start.
    pub counts: StreamCounts,
    /// Samples a second over the last second or so of board time; absent before there is enough.
    pub rate_hz: Option<f64>,
    /// Samples that were not told of because nobody took them for too long. They are in the capture.
    pub not_shown: u64,
    pub link: LinkState,
    /// What to do when bytes arrive but nothing decodes, or what to know of a very long run.
    pub advice: Option<String>,
}

/// What a run tells.
#[derive(Debug, Clone)]
pub enum RunEvent {
    /// The stream is understood (again: after a changed header).
    Stream(StreamInfo),
    Samples(Batch),
    /// The card moved on. All steps, in order.
    Progress(Vec<StepProgress>),
    Health(StreamHealth),
    Assessed(Arc<Assessment>),
    /// The card or the source is at its end: the last assessment, and the capture if one was written.
    Finished {
        /// The last assessment; absent when no sample was taken, or none was asked for ([`Setup::live`](super::Setup)).
        assessment: Option<Arc<Assessment>>,
        capture: Option<PathBuf>,
    },
    /// The run cannot go on: what happened and what to do.
    Failed(String),
}

#[derive(Debug, Clone, PartialEq)]
pub enum RunCommand {
    Skip,
    /// Do the current step again, or the last one when the card is through.
    Repeat,
    /// Yes: go on, or take the trial that is offered; or it is ready.
    GoAhead,
    /// Check the part as another kind, from here on: what was taken until then is set aside.
    CheckAs(Arc<Profile>),
    /// Of the known positions (`stations`).
    Station(StationWords),
    /// End the run and keep what was taken.
    Stop,
}
