//! Slices in, figures out.
//!
//! Belongs here: every formula, with its source. Does not belong here: files, ports, clocks, terminals,
//! limits, or a random source without a seed handed in.

pub mod board;
mod compose;
pub mod holds;
mod recording;
#[cfg(test)]
mod reference_file;
pub mod seasons;
pub mod statistics;
pub mod strokes;
pub mod tracks;
pub mod travel;

pub use compose::{Jobs, figures, figures_by, figures_with};
pub use recording::{
    BoardFacts, Channel, Dropout, Measured, MeasuredChannel, MeasuredPair, Recording, Reference,
    Towards, WornZone,
};
pub use strokes::figures::{HoldEvidence, Ready, StrokesPart, ready, strokes_part};
pub use strokes::segment::{Direction, Ends, EndsFrom, Stroke};
pub use strokes::wear::{BinNoise, TravelBin, TravelMap, shared_zones};
pub use tracks::figures::pair_part;
pub use tracks::lag::{overlap_correlation, overlap_delay};
pub use travel::bins::Manner;
pub use travel::divider::DividerModel;
pub use travel::figures::{CurvePoint, DeviationCurve, lines_part};
