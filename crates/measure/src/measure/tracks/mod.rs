//! Two tracks of one control: gain, offset, disagreement, delay.
//!
//! Does not belong here: one track alone.

pub mod departures;
pub mod figures;
pub mod lag;
pub(crate) mod together;
