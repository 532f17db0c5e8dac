//! What a good unit of a kind looks like, as values.

use crate::wiring::Wiring;
use measure::figure::FigureName;
use measure::judge::Limit;
use measure::units::{Step, Track};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What sort of control.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// Worked by foot.
    Pedal,
    /// Turned by hand.
    Dial,
    /// Moved by hand.
    Lever,
}

/// One track: how it is wired and what it must do.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TrackPart {
    /// How it is wired to the board.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wiring: Option<Wiring>,
    /// Limits on its figures.
    pub limits: BTreeMap<FigureName, Limit>,
    /// Why each limit is what it is, where the profile says so.
    pub reasons: BTreeMap<FigureName, String>,
}

/// Limits on the pair of tracks.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct PairPart {
    /// Limits on the pair's figures.
    pub limits: BTreeMap<FigureName, Limit>,
    /// Why each limit is what it is, where the profile says so.
    pub reasons: BTreeMap<FigureName, String>,
}

/// Where the control commands zero: the end that must be seen before the board starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum StartRule {
    /// At the rest end.
    Rest,
    /// At the full end.
    Full,
}

/// What a good unit of a kind looks like. Every limit names a figure of its scope: enforced on reading.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// Its name.
    pub name: String,
    /// What sort of control.
    pub kind: Kind,
    /// The steps a unit goes through, in order.
    pub card: Vec<Step>,
    /// Nominal supply of the control in millivolts.
    pub supply_mv: f64,
    /// The tracks.
    pub tracks: BTreeMap<Track, TrackPart>,
    /// The pair of tracks, when there are two.
    pub pair: Option<PairPart>,
    /// Where it commands zero.
    pub zero_command_at: StartRule,
    /// Within which time a fault must have stopped the output.
    pub stop_within_ms: f64,
    /// A word to the reader.
    pub comment: Option<String>,
}
