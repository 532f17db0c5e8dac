//! Visits over time: what changed between two, where a course leads.
//!
//! Does not belong here: recordings, records.

pub mod change;
pub mod trend;
