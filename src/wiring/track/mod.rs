//! What is said of one track, and what follows for the whole control.

pub mod answer;
pub mod rules;

use super::faults::{Class, Direction, FaultRow};
use super::network::Wiring;
use super::parts::Fault;
use super::pull_up::PullUpChoice;
use super::reading::Expected;
use super::search::{Advice, Recommendation};
use super::windows::Windows;
use measure::units::Track;
use schemars::JsonSchema;
use serde::Serialize;

/// A fault that windows miss, with what to do.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct MissedFault {
    #[schemars(with = "String")]
    pub fault: Fault,
    #[schemars(with = "String")]
    pub class: Class,
    /// Which way it errs.
    pub direction: Option<Direction>,
    /// What it is taken for where it is not caught, percent of command.
    pub reads_as_pct: Option<[f64; 2]>,
    /// The cheapest change that helps.
    #[schemars(with = "String")]
    pub advice: Advice,
    /// Whether the recommended change takes the danger away.
    #[serde(skip)]
    pub cured: bool,
}

/// Everything about one track.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct TrackReport {
    pub track: Track,
    #[schemars(with = "crate::wiring::WiringText")]
    pub wiring: Wiring,
    pub expected: Expected,
    /// The choice of a pull-up; rheostats only.
    pub pull_up: Option<PullUpChoice>,
    pub faults: Vec<FaultRow>,
    /// The valid range and the thresholds around it.
    pub windows: Windows,
    /// The faults that the windows miss.
    pub hidden: Vec<MissedFault>,
    /// The one change that leaves fewest of them; `None` when none helps or none is needed.
    pub recommended: Option<Recommendation>,
    /// What was assumed and what to look up.
    pub notes: Vec<String>,
    /// What the search for changes tried, in words; `None` where there was nothing to look for.
    pub searched: Option<String>,
}
