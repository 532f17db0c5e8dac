//! A board in memory: the lines of any [`LineSource`] as a source, without a port. For every system, and for replay.

use super::lines::{Due, PacedLines};
use super::{LineSource, Pace};
use crate::link::{LinkError, Received, Source};
use std::io::Read;
use std::time::{Duration, Instant};

/// A source over a [`LineSource`]. Ends with it.
pub struct MemoryBoard<L> {
    name: String,
    lines: PacedLines<L>,
    out: Vec<u8>,
    taken: usize,
}

impl<L: LineSource> MemoryBoard<L> {
    pub fn new(name: impl Into<String>, lines: L, pace: Pace) -> Self {
        Self {
            name: name.into(),
            lines: PacedLines::new(lines, pace),
            out: Vec::new(),
            taken: 0,
        }
    }
}

impl<L: LineSource> Source for MemoryBoard<L> {
    fn receive(&mut self, buffer: &mut [u8], wait: Duration) -> Result<Received, LinkError> {
        if self.taken == self.out.len() {
            self.out.clear();
            self.taken = 0;
            match self
                .lines
                .collect(Instant::now(), buffer.len(), &mut self.out)
            {
                Due::Lines => {}
                Due::Over => return Ok(Received::Ended),
                Due::In(until) => {
                    std::thread::sleep(until.min(wait));
                    return Ok(Received::Nothing);
                }
            }
        }
        // From memory: it cannot fail.
        let count = (&self.out[self.taken..]).read(buffer).unwrap_or(0);
        self.taken += count;
        Ok(Received::Bytes(count))
    }

    fn describe(&self) -> String {
        self.name.clone()
    }
}

impl<L> std::fmt::Debug for MemoryBoard<L> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_tuple("MemoryBoard").field(&self.name).finish()
    }
}
