//! A control that moves: strokes, contact noise along the travel, wear, dropouts, smoothness.
//!
//! Does not belong here: known travel, two tracks.

pub mod bounce;
pub mod defects;
pub mod dropouts;
pub mod figures;
#[cfg(test)]
pub(crate) mod figures_tests;
pub mod interference;
pub mod path;
pub mod segment;
pub mod smoothness;
mod still;
pub mod stroke_noise;
#[cfg(test)]
pub(crate) mod test_bench;
pub mod travel_map;
pub mod wear;
