//! What `measure` is given and what it gives back.

use crate::figure::Figures;
use crate::measure::{DeviationCurve, TravelMap};
use crate::units::{Code, Passage, Role, Scale, Track};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A capture as slices: all of the same length, indexed by sample.
#[derive(Debug, Clone)]
pub struct Recording<'a> {
    /// The board that sampled.
    pub board: BoardFacts,
    /// Board time of each sample in microseconds, never decreasing.
    pub t_us: &'a [u64],
    /// Runs of one step, in order, without overlap, together covering every sample.
    pub passages: &'a [Passage],
    /// The channels, in the order of the capture's columns.
    pub channels: Vec<Channel<'a>>,
    /// The reference travel, when something measured it.
    pub reference: Option<Reference<'a>>,
}

/// What is known of the board.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoardFacts {
    /// Bits and reference.
    pub scale: Scale,
    /// Nominal samples a second.
    pub rate_hz: f64,
    /// Integral non-linearity in codes that the board's maker states, if any.
    pub inl_code: Option<f64>,
    /// Whether `t_us` is the board's clock; false when it is the time of arrival at the host.
    pub board_time: bool,
}

/// One channel's codes.
#[derive(Debug, Clone, Copy)]
pub struct Channel<'a> {
    /// Name, as the capture's column header has it.
    pub name: &'a str,
    /// What it carries.
    pub role: Role,
    /// Which track of the control.
    pub track: Track,
    /// One code a sample.
    pub codes: &'a [Code],
}

/// Reference travel: known position of the control, sample by sample.
#[derive(Debug, Clone, Copy)]
pub struct Reference<'a> {
    /// One position a sample, in the reference's own unit; NaN where none was given.
    pub position: &'a [f64],
    /// Position of the rest end, if stated.
    pub low: Option<f64>,
    /// Position of the full end, if stated.
    pub high: Option<f64>,
    /// Standard uncertainty of a position, in its unit; 0 when not stated.
    pub u: f64,
}

/// Everything measured from one recording.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Measured {
    /// Signal channels, in the recording's order.
    pub channels: Vec<MeasuredChannel>,
    /// Pairs of tracks.
    pub pairs: Vec<MeasuredPair>,
}

/// What one channel showed.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredChannel {
    /// The channel's name.
    pub name: String,
    /// Its track.
    pub track: Track,
    /// Its figures.
    pub figures: Figures,
    /// Where it is worn.
    pub worn_zones: Vec<WornZone>,
    /// When it dropped out.
    pub dropouts: Vec<Dropout>,
    /// Noise over travel, from strokes.
    pub map: Option<TravelMap>,
    /// The curve over known travel, from a reference.
    pub curve: Option<DeviationCurve>,
}

/// What two tracks showed against each other.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredPair {
    /// Name of the first channel.
    pub a: String,
    /// Name of the second channel.
    pub b: String,
    /// Figures of the pair.
    pub figures: Figures,
}

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
