//! Bytes from a board: ports, replay, the simulated board; bytes -> samples.
//!
//! Belongs here: sources, the stream decoder, the counts of what was not a sample. Does not belong here: figures.

mod decode;
pub mod simulated;
mod source;
mod stream_text;

pub use decode::{
    Cause, Counts, Decoder, Event, Header, HeaderError, MAX_LINE, StreamOptions, TIME_COLUMN,
};
pub use source::{LinkError, Received, Source};
pub use stream_text::{StreamText, Sums};
