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
mod hull;
pub mod line;
mod recording;
pub mod releases;
pub mod returns;
pub mod stats;

pub use compose::figures;
pub use recording::{
    BoardFacts, Channel, Dropout, Measured, MeasuredChannel, MeasuredPair, Recording, Reference,
    Towards, WornZone,
};
