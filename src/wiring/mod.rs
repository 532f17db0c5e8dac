//! Networks, tolerances, single faults: what the ADC will read, and which broken wire still looks like a command.
//!
//! Belongs here: circuits. Does not belong here: files, screens.

mod network;

pub use network::{NetworkKind, Wiring, WiringError};
