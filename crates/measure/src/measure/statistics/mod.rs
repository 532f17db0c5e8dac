//! Statistics that know nothing of controls: moments, intervals, lines, smoothing.
//!
//! Does not belong here: codes, steps, figures.

pub mod blocks;
pub mod bootstrap;
pub mod chances;
pub mod hull;
pub mod interval;
pub mod least_squares;
pub mod linear_system;
pub mod local_polynomial;
pub mod moments;
pub mod piecewise;
pub mod polynomials;
pub mod quantise;
pub mod reference_lines;
pub mod robust;
pub mod smooth;
pub mod tolerance;
