//! Defects that strokes show and that have a place: worn zones and dropouts.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A zone of travel whose noise stands out in most strokes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WornZone {
    /// Where it begins, % of travel.
    pub from_pct: f64,
    /// Where it ends, % of travel.
    pub to_pct: f64,
    /// Its noise over that of the rest of the travel.
    pub noise_ratio: f64,
    /// Strokes in which it stood out.
    pub strokes_seen: u64,
    /// Strokes that crossed it.
    pub strokes: u64,
}

/// An excursion that returned.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Dropout {
    /// When it began, seconds from the first sample.
    pub t_s: f64,
    /// How long it lasted.
    pub duration_ms: f64,
    /// How deep it went, % of span.
    pub depth_pct: f64,
    /// Where the control stood, % of travel; absent when not known.
    pub travel_pct: Option<f64>,
    /// Which rail it went towards.
    pub towards: Towards,
}

/// The rail that a dropout went towards.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Towards {
    /// Towards code 0.
    Ground,
    /// Towards the largest code.
    Supply,
}
