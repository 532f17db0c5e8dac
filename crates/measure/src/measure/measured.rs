//! What was measured of a recording.

use crate::figure::Figures;
use crate::measure::holds::lines::Rooms;
use crate::measure::strokes::defects::{Dropout, WornZone};
use crate::measure::strokes::travel_map::TravelMap;
use crate::measure::strokes::wide_codes::WideCode;
use crate::measure::travel::figures::DeviationCurve;
use crate::units::Track;

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
    /// Those of them that may be codes of the board and no wear.
    pub open_zones: Vec<WornZone>,
    /// Those of these in which strokes repeat the same steps, as codes do that are not equally wide; in the others too few samples were taken
    /// to tell.
    pub uneven_zones: Vec<WornZone>,
    /// When it dropped out.
    pub dropouts: Vec<Dropout>,
    /// The highest bounce off a stop, % of travel; it is no dropout.
    pub bounce_pct: Option<f64>,
    /// How often samples are missing as if contact of the part were lost there.
    pub silences: usize,
    /// Codes of the board that are wide, where they looked like wear.
    pub wide_codes: Vec<WideCode>,
    /// What the room does to its holds.
    pub rooms: Rooms,
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
    /// Noise of each track at full, codes rms, without what both do together; `None` where they do nothing together.
    pub own_noise_at_full: Option<[f64; 2]>,
}
