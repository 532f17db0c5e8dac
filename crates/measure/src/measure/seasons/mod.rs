//! Visits over time: what changed between two, where a course leads.
//!
//! Does not belong here: recordings, records.

pub mod change;
mod fit;
pub mod outlook;
pub mod shape;
pub mod trend;
pub mod visits;
