//! Slices in, figures out.
//!
//! Belongs here: every formula, with its source. Does not belong here: files, ports, clocks, terminals,
//! limits, or a random source without a seed handed in.

mod bins;
mod bootstrap;
mod compose;
mod curve;
pub mod holds;
mod hull;
mod hysteresis;
pub mod interval;
pub mod levels;
pub mod line;
pub mod linearity;
pub mod noise;
mod polynomials;
pub mod quantise;
mod recording;
pub mod releases;
pub mod returns;
pub mod stats;
mod straightness;

pub use bins::Manner;
pub use compose::figures;
pub use recording::{
    BoardFacts, Channel, Dropout, Measured, MeasuredChannel, MeasuredPair, Recording, Reference,
    Towards, WornZone,
};
pub use straightness::{CurvePoint, DeviationCurve, lines_part};
