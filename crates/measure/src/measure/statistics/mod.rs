//! Statistics that know nothing of controls: moments, intervals, lines, smoothing.
//!
//! Does not belong here: codes, steps, figures.

pub mod batch_means;
pub mod bootstrap;
pub mod elimination;
pub mod hull;
pub mod interval;
pub mod line;
pub mod piecewise;
pub mod polynomials;
pub mod quantise;
pub mod robust;
pub mod smooth;
pub mod stats;
pub mod tolerance;
