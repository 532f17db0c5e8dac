//! What every screen shares.

use super::run::Run;
use super::theme::Theme;
use crate::profile::Profile;
use std::time::Duration;

/// What the lanes' height stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Height {
    /// The limits and everything seen so far.
    #[default]
    Limits,
    /// The board's whole range of codes.
    FullScale,
    /// What is on the screen now.
    CloseUp,
}

/// How a card speaks to somebody who stands at the control.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Prompting {
    /// In letters that fill the screen while hands are on the control.
    pub big: bool,
    /// The terminal's bell: once for what counts, twice for what does not, three times at the end.
    pub bell: bool,
}

/// The sitting: the run on the screen, and what outlives a run.
#[derive(Debug, Clone)]
pub struct Session {
    pub theme: Theme,
    /// Time since the screen was opened.
    pub clock: Duration,
    /// The profiles that can be chosen, the likeliest first.
    pub profiles: Vec<Profile>,
    /// The run on the screen, or the last one.
    pub run: Run,
    /// Whether a machine is open: its runs and proofs are saved and added to it by themselves.
    pub machine: bool,
    /// Whether the person wants to leave as soon as the run has ended.
    pub leaving: bool,
    pub prompting: Prompting,
    pub height: Height,
    /// Whether every figure of the catalogue is listed.
    pub all_figures: bool,
}
