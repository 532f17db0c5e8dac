//! Bytes from a board: ports, replay, the simulated board; bytes -> samples.
//!
//! Belongs here: sources, the stream decoder, the counts of what was not a sample. Does not belong here: figures.

mod access;
mod advice;
mod board_lines;
mod decode;
mod lines;
mod memory;
mod ports;
#[cfg(unix)]
mod pty;
#[cfg(unix)]
mod pty_pair;
mod replay;
mod scripted;
mod serial;
mod source;
mod stream_text;

pub use access::Access;
pub use advice::{COMMON_BAUDS, FirstBytes, Looks, ceiling_hz, silence};
pub use board_lines::{BoardLines, Corruption, LineCounts, LineEnd, LineStyle, Separator};
pub use decode::{
    Cause, Counts, Decoder, Event, Header, HeaderError, MAX_LINE, StreamOptions, TIME_COLUMN,
};
pub use lines::{LineSource, Pace};
pub use memory::MemoryBoard;
pub use ports::{Attachment, Candidate, advice as port_advice, candidates};
#[cfg(unix)]
pub use pty::{Overflow, PtyBoard};
pub use replay::{RecordedLines, ReplaySource};
pub use scripted::{Happens, ScriptedSource};
pub use serial::{SerialSettings, SerialSource, WhenLost};
pub use source::{LinkError, Received, Source};
pub use stream_text::{StreamText, Sums};
