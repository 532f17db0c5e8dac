//! Slices in, figures out: every formula, with its source.

pub mod board;
pub mod compose;
pub mod holds;
pub mod measured;
pub mod recording;
#[cfg(test)]
mod reference_file;
pub mod seasons;
mod stamps;
pub mod statistics;
pub mod strokes;
pub mod tracks;
pub mod travel;
