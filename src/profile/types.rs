//! What a good unit of a kind looks like, as values.

use crate::wiring::Wiring;
use crate::wiring::faults::ZeroEnd;
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
    pub limits: BTreeMap<FigureName, Limit>,
    /// Why each limit is what it is, where the profile says so.
    pub reasons: BTreeMap<FigureName, String>,
}

/// What a good unit of a kind looks like. Every limit names a figure of its scope: enforced on reading.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    pub name: String,
    pub kind: Kind,
    /// The steps a unit goes through, in order.
    pub card: Vec<Step>,
    /// Bits of the board whose codes its limits in codes are.
    pub code_bits: u32,
    pub supply_mv: f64,
    pub tracks: BTreeMap<Track, TrackPart>,
    pub pair: Option<PairPart>,
    pub zero_command_at: ZeroEnd,
    /// Within which time a fault must have stopped the output.
    pub stop_within_ms: f64,
    /// What warmth and age may move an end by, percent of span: the edges of the constants leave it.
    pub drift_allowance_pct: f64,
    pub comment: Option<String>,
}

/// What warmth and age may move an end by, percent of span, unless a profile says otherwise. Common practice, no source: a hall sensor's
/// or a track's drift over a vehicle's temperatures.
pub const USUAL_DRIFT_PCT: f64 = 3.0;
/// Most that a profile may allow: with a quarter of the span at either end nothing is left to steer by.
pub const MOST_DRIFT_PCT: f64 = 25.0;

/// Bits of the board whose codes limits are in, unless a profile says otherwise.
pub const USUAL_CODE_BITS: u32 = 10;

impl Profile {
    /// A limit as it applies on a board of so many bits: one in codes means the same voltage there.
    pub fn on_board(&self, name: FigureName, limit: Limit, bits: u32) -> Limit {
        limit.scaled(name.unit().scale_between(self.code_bits, bits))
    }
    /// Of these signals those on a track of which it says nothing: that all checks passed does not speak for them. `None` without any.
    pub fn not_judged<'a>(
        &self,
        signals: impl IntoIterator<Item = (&'a str, Track)>,
    ) -> Option<String> {
        let signals = signals.into_iter();
        let others: Vec<&str> = signals
            .filter(|(_, track)| !self.tracks.contains_key(track))
            .map(|(name, _)| name)
            .collect();
        (!others.is_empty()).then(|| {
            let (name, others) = (&self.name, others.join(", "));
            format!("\"{name}\" knows one track: {others} was not judged")
        })
    }
}
