//! Networks, tolerances, single faults: what the ADC will read, and which broken wire still looks like a command.
//!
//! Belongs here: circuits. Does not belong here: files, screens.

pub mod circuit;
mod network;
mod schematic;

pub use network::{NetworkKind, Wiring, WiringError};
pub use schematic::{BoardPart, Fault, Imperfection, Schematic, Wire};
