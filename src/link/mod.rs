//! Bytes from a board: ports, replay, the simulated board; bytes -> samples.
//!
//! Belongs here: sources, the stream decoder, the counts of what was not a sample. Does not belong here: figures.

mod advice;
mod boards;
mod decode;
mod known_boards;
mod piped;
mod ports;
mod source;
mod stream_text;
mod trouble;

pub use advice::FirstBytes;
pub use boards::{
    AskedOfHand, BoardLines, LineSource, MemoryBoard, Pace, RecordedLines, ReplaySource,
};
#[cfg(unix)]
pub use boards::{Overflow, PtyBoard};
use decode::Labelled;
pub use decode::MAX_LINE;
pub use decode::{
    Cause, Counts, Decoder, Event, Header, StreamOptions, TIME_COLUMN, check_channel_name,
};
pub use known_boards::{KNOWN_BOARDS, KnownBoard};
pub use piped::PipedSource;
pub use ports::{
    Access, Candidate, SerialSettings, SerialSource, WhenLost, advice as port_advice, candidates,
};
pub use source::{LinkError, Received, Source};
pub use stream_text::{StreamText, Sums};
pub use trouble::{StreamWatch, Trouble};
