//! A control that moves: strokes, contact noise along the travel, wear, dropouts, smoothness.
//!
//! Does not belong here: known travel, two tracks.

pub mod bounce;
mod contact_loss;
pub mod defects;
pub mod dropouts;
pub(crate) mod excursions;
pub mod figures;
#[cfg(test)]
pub(crate) mod figures_tests;
pub mod interference;
mod losses;
pub mod path;
mod rail;
pub mod segment;
mod silences;
pub mod smoothness;
mod still;
pub mod stroke_noise;
#[cfg(test)]
pub(crate) mod test_bench;
pub mod travel_map;
pub mod wear;
pub mod wide_codes;
