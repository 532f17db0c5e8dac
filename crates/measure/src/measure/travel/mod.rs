//! Codes against known travel: the curve, its linearities, hysteresis, the divider.
//!
//! Does not belong here: travel that is guessed.

pub mod bins;
pub mod branches;
pub mod candidates;
pub mod curve;
pub mod divider;
pub mod figures;
pub mod gap_extrapolation;
pub mod hysteresis;
pub mod linearity;
pub mod nodes;
pub mod scatter;
