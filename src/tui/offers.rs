//! What can be chosen before a run, and what was chosen. All ready words: the screen knows no ports or files.
//!
//! Belongs here: offers, choices, and the trait through which the screen asks for things to happen.
//! Does not belong here: how they happen.

use crate::bench::{RunCommand, RunEvent};
use crate::profile::Profile;
use crate::record::Assessment;
use std::path::Path;
use std::sync::mpsc::{Receiver, Sender};

/// Both ends of a run.
#[derive(Debug)]
pub struct RunHandles {
    /// What it tells.
    pub events: Receiver<RunEvent>,
    /// What it can be told.
    pub commands: Sender<RunCommand>,
}

/// What sort of source; offers are listed by sort, in this order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum SourceKind {
    /// A board at a port.
    Port,
    /// A simulated board.
    Simulated,
    /// A capture to go through again.
    Capture,
}

/// Something that samples can come from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SourceOffer {
    /// What sort.
    pub kind: SourceKind,
    /// What it is called: `/dev/ttyUSB0`.
    pub name: String,
    /// What it is, in a few words.
    pub detail: String,
    /// Why it cannot be used as it is, and what to do; absent when it can.
    pub blocked: Option<String>,
    /// The tag of the unit on it, when known.
    pub tag: Option<String>,
    /// The name of the profile that goes with it, when known.
    pub profile: Option<String>,
}

/// What was chosen.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// The source.
    pub source: SourceOffer,
    /// The tag of the unit; absent when none was given.
    pub tag: Option<String>,
    /// What to hold the unit against; absent for figures without a verdict.
    pub profile: Option<Profile>,
}

/// What the screen asks of the rest of the program. The real one opens ports and files; a test scripts it.
pub trait Outside {
    /// What samples can come from, now.
    fn sources(&mut self) -> Vec<SourceOffer>;

    /// Begins a run.
    ///
    /// # Errors
    /// Why it cannot begin and what to do, in words.
    fn start(&mut self, choice: &Choice) -> Result<RunHandles, String>;

    /// Keeps what was found (record, copy of the capture). Gives what was saved and where, in words.
    ///
    /// # Errors
    /// Why it could not be saved and what to do, in words.
    fn save(&mut self, assessment: &Assessment, capture: Option<&Path>) -> Result<String, String>;
}
