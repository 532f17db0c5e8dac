//! A control that stands still: level, noise, mains hum, drift, and how it comes back.
//!
//! Does not belong here: strokes, known travel.

pub mod creep;
pub mod drift;
pub mod hold;
pub mod levels;
pub mod lines;
pub mod lines_at_rest;
pub mod noise;
pub mod release_time;
pub mod releases;
pub mod returns;
pub mod reversals;
pub mod spectrum;
