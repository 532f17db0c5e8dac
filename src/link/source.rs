//! One trait for everything that gives bytes: a serial port, a replay, a simulated board, a script in a test.

use std::time::Duration;
use thiserror::Error;

/// What one wait on a source brought.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Received {
    /// So many bytes at the start of the buffer (at least one).
    Bytes(usize),
    /// Nothing within the time allowed; the source is still there.
    Nothing,
    /// The source has gone away and may come back (a cable was pulled).
    Lost,
    /// The source has come back after [`Received::Lost`]; the bytes that follow begin in the middle of a line.
    Back,
    /// There will be no more.
    Ended,
}

/// A link that cannot go on: what happened, with what, and what to do next.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{what}\n  {next}")]
pub struct LinkError {
    pub what: String,
    pub next: String,
}

/// Something that gives a stream of bytes.
pub trait Source: Send {
    /// Waits at most `wait` for bytes.
    fn receive(&mut self, buffer: &mut [u8], wait: Duration) -> Result<Received, LinkError>;

    /// What it is, for people: `serial port /dev/ttyUSB0 at 1000000 baud`.
    fn describe(&self) -> String;

    /// What it still looks for before it passes anything on, in words; `None` when it looks for nothing.
    fn search(&self) -> Option<String> {
        None
    }

    /// Whether what it gives was made by the program itself, and nothing was measured.
    fn is_simulated(&self) -> bool {
        false
    }

    /// Whether it can still become a stream when what comes is none: a board may be flashed or its port set right meanwhile.
    fn may_mend(&self) -> bool {
        true
    }
}
