//! Slices in, figures out.
//!
//! Belongs here: every formula, with its source. Does not belong here: files, ports, clocks, terminals,
//! limits, or a random source without a seed handed in.

mod compose;
pub mod holds;
pub mod interval;
pub mod levels;
pub mod noise;
pub mod quantise;
mod bins;
mod bootstrap;
mod curve;
mod hull;
mod hysteresis;
pub mod line;
pub mod linearity;
mod polynomials;
mod recording;
pub mod releases;
pub mod returns;
pub mod stats;

pub use compose::figures;
mod straightness;

pub use bins::Manner;
pub use recording::{
    BoardFacts, Channel, Dropout, Measured, MeasuredChannel, MeasuredPair, Recording, Reference,
    Towards, WornZone,
};
pub use straightness::{CurvePoint, DeviationCurve, lines_part};
