//! Networks, tolerances, single faults: what the ADC will read, and which broken wire still looks like a command.
//!
//! Belongs here: circuits. Does not belong here: files, screens.

pub mod circuit;
pub mod e_series;
pub mod faults;
mod hookup;
mod network;
pub mod pull_up;
pub mod reading;
mod schematic;
pub mod valid;
pub mod windows;

pub use hookup::{Curve, Hookup, HookupError, Pin};
pub use network::{NetworkKind, Wiring, WiringError};
pub use schematic::{Fault, Imperfection, Resistor, Schematic, Wire};
