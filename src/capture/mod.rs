//! Recordings: format `capture/1` of DESIGN 4.2, bytes <-> values.
//!
//! Belongs here: CSV and metadata, read and written. `disk` alone touches files. Does not belong here: screens,
//! figures.

mod types;

pub use types::{Board, Capture, ChannelMeta, Clock, Metadata, RefMeta, StreamCounts, UnitMeta};
