//! Figures of a control (pedal, dial, lever) from recorded ADC codes, and findings against limits.
//!
//! Slices in, figures out: no file, port, clock, thread, terminal or unseeded chance.
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

pub mod figure;
pub mod judge;
mod measure;
pub mod units;

pub use measure::*;
