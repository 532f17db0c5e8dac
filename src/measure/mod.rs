//! Slices in, figures out.
//!
//! Belongs here: every formula, with its source. Does not belong here: files, ports, clocks, terminals,
//! limits, or a random source without a seed handed in.

mod recording;
#[cfg(test)]
mod reference_file;
pub mod robust;
pub mod smooth;

pub use recording::{
    BoardFacts, Channel, Dropout, Measured, MeasuredChannel, MeasuredPair, Recording, Reference,
    Towards, WornZone,
};
