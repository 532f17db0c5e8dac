//! Networks, tolerances, single faults: what the ADC will read, and which broken wire still looks like a command.
//!
//! Belongs here: circuits. Does not belong here: files, screens.
//!
//! From the ground up: `circuit` solves, `network` says how a track is wired, `schematic` draws it with a fault,
//! `hookup` puts it on a supply and a ruler; `reading`, `pull_up`, `valid`, `faults` with `judging`, `windows`, `pair` and `search` look at
//! it; `survey` puts all of that into one value.

pub mod circuit;
pub mod e_series;
pub mod faults;
mod hookup;
mod judging;
mod network;
pub mod pair;
pub mod pull_up;
pub mod reading;
mod schematic;
pub mod search;
mod survey;
pub mod valid;
pub mod windows;

pub use hookup::{Curve, Hookup, HookupError, Pin};
pub use network::{NetworkKind, Wiring, WiringError};
pub use schematic::{Fault, Imperfection, Resistor, Schematic, Wire};
pub use survey::{ControlWiring, MissedFault, SurveyError, TrackReport, TrackWiring, WiringReport};
