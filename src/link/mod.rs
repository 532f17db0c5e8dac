//! Bytes from a board: ports, replay, the simulated board; bytes -> samples.
//!
//! Belongs here: sources, the stream decoder, the counts of what was not a sample. Does not belong here: figures.

mod source;

pub use source::{LinkError, Received, Source};
