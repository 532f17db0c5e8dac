//! Networks, tolerances, single faults: what the ADC will read, and which broken wire still looks like a command.
//!
//! From the ground up: `circuit` solves; `parts` and `network` say how a track is wired, `text` reads it from a profile;
//! `schematic` draws it with a fault, `hookup` puts it on a supply and an ADC, `curve` inverts its reading; `reading`, `pull_up`,
//! `valid`, `faults` with `analysis`, `windows`, `pair` and `search` look at it; `survey` puts all of that into one value.

mod analysis;
pub mod circuit;
mod curve;
pub mod e_series;
pub mod faults;
mod fraction;
mod hookup;
mod network;
pub mod pair;
mod parts;
pub mod pull_up;
pub mod reading;
mod schematic;
pub mod search;
mod survey;
mod sweep;
mod text;
pub mod track;
pub mod valid;
pub mod windows;

pub use analysis::corners::corners;
pub use analysis::{FaultAnalysis, FaultReading};
pub use curve::Curve;
pub use hookup::{Hookup, Pin};
pub use network::{Network, Wiring};
pub use parts::{Fault, Resistor, Wire};
pub use survey::{ControlWiring, JudgedTrack, SurveyError, TrackWiring, WiringReport};
pub use text::{WiringError, WiringText};
pub use track::TrackReport;

#[cfg(feature = "inside")]
pub use parts::{Over, Severities, SeverityUnit};
#[cfg(feature = "inside")]
pub use schematic::{Parasitics, Schematic};
