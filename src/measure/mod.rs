//! Slices in, figures out.
//!
//! Belongs here: every formula, with its source. Does not belong here: files, ports, clocks, terminals,
//! limits, or a random source without a seed handed in.

mod bins;
pub mod blocks;
mod bootstrap;
mod carry;
pub mod change;
mod compose;
mod curve;
pub mod divider;
pub mod drift;
mod dropouts;
mod elimination;
pub mod holds;
mod hull;
mod hysteresis;
mod interference;
pub mod interval;
mod lag;
pub mod levels;
pub mod line;
pub mod linearity;
pub mod noise;
mod pair;
pub mod pair_line;
mod path;
pub mod piecewise;
mod polynomials;
pub mod quantise;
mod recording;
#[cfg(test)]
mod reference_file;
pub mod release_time;
pub mod releases;
pub mod returns;
pub mod robust;
pub mod ruler;
mod scatter;
mod shape;
pub mod smooth;
pub mod smoothness;
pub mod spectrum;
pub mod stats;
mod straightness;
mod stroke_noise;
mod strokes;
mod strokes_part;
pub mod supply;
pub mod tolerance;
pub mod trend;
pub mod turns;
mod wear;

pub use bins::Manner;
pub use compose::{Jobs, figures, figures_by, figures_with};
pub use divider::DividerModel;
pub use lag::{overlap_correlation, overlap_delay};
pub use pair::pair_part;
pub use recording::{
    BoardFacts, Channel, Dropout, Measured, MeasuredChannel, MeasuredPair, Recording, Reference,
    Towards, WornZone,
};
pub use straightness::{CurvePoint, DeviationCurve, lines_part};
pub use strokes::{Direction, Ends, EndsFrom, Stroke};
pub use strokes_part::{HoldEvidence, Ready, StrokesPart, ready, strokes_part};
pub use wear::{BinNoise, TravelBin, TravelMap, shared_zones};

#[cfg(test)]
mod stroke_bench;
#[cfg(test)]
mod strokes_part_tests;
#[cfg(test)]
mod strokes_speed;
