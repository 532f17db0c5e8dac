//! A source and its decoder together: waits, decodes, and measures the gaps that the host sees.
//!
//! Belongs here: the order of calls that keeps every line and every gap counted. Does not belong here: what to do
//! with a sample, and when to stop.

use super::{
    Counts, Decoder, Event, FirstBytes, Header, LinkError, Received, Source, StreamOptions,
};
use std::time::{Duration, Instant};

/// Bytes taken in one wait; at 2 Mbaud this is 20 ms of a line.
const BUFFER: usize = 4096;

/// Listens to one board.
pub struct Listener {
    source: Box<dyn Source>,
    decoder: Decoder,
    first: FirstBytes,
    buffer: Box<[u8; BUFFER]>,
    started: Instant,
    last_bytes: Instant,
}

impl Listener {
    /// Listens to `source` and reads its stream as `options` say.
    #[must_use]
    pub fn new(source: Box<dyn Source>, options: StreamOptions) -> Self {
        let now = Instant::now();
        Self {
            source,
            decoder: Decoder::new(options),
            first: FirstBytes::default(),
            buffer: Box::new([0; BUFFER]),
            started: now,
            last_bytes: now,
        }
    }

    /// Waits at most `wait` for bytes and gives what they hold to `sink`; says what the wait brought.
    ///
    /// After [`Received::Ended`] a last line without an end has been counted.
    ///
    /// # Errors
    /// When the source is broken for good; a last line without an end has been counted then too.
    pub fn listen(
        &mut self,
        wait: Duration,
        sink: &mut impl FnMut(Event<'_>),
    ) -> Result<Received, LinkError> {
        let received = self.source.receive(self.buffer.as_mut_slice(), wait);
        let now = Instant::now();
        match received {
            Ok(Received::Bytes(count)) => {
                let bytes = &self.buffer[..count];
                self.first.add(bytes);
                let host_us = micros(now.duration_since(self.started));
                self.decoder.feed(bytes, host_us, sink);
                self.last_bytes = now;
            }
            Ok(Received::Back) => {
                let gap = micros(now.duration_since(self.last_bytes));
                self.decoder.resume_after_gap(gap, sink);
                self.last_bytes = now;
            }
            Ok(Received::Ended) | Err(_) => self.decoder.end(sink),
            Ok(Received::Nothing | Received::Lost) => {}
        }
        received
    }

    /// Counts what was held of a last line as cut: the listener stops in the middle of a stream.
    pub fn stop(&mut self, sink: &mut impl FnMut(Event<'_>)) {
        self.decoder.end(sink);
    }

    /// The counts up to now.
    #[must_use]
    pub fn counts(&self) -> &Counts {
        self.decoder.counts()
    }

    /// What samples mean at the moment; `None` while nobody has said it.
    #[must_use]
    pub fn header(&self) -> Option<&Header> {
        self.decoder.header()
    }

    /// The first bytes that arrived, for advice when nothing decodes.
    #[must_use]
    pub fn first_bytes(&self) -> &FirstBytes {
        &self.first
    }

    /// How long ago the last bytes arrived, or the listener began.
    #[must_use]
    pub fn silent_for(&self) -> Duration {
        self.last_bytes.elapsed()
    }

    /// What is listened to, for people.
    #[must_use]
    pub fn describe(&self) -> String {
        self.source.describe()
    }
}

impl std::fmt::Debug for Listener {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_tuple("Listener").field(&self.describe()).finish()
    }
}

fn micros(duration: Duration) -> u64 {
    u64::try_from(duration.as_micros()).unwrap_or(u64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::link::{Cause, Happens, ScriptedSource};

    const HEADER: &[u8] = b"# pedalproof 1 bits=10 vref_mv=5000 rate_hz=1000 cols=t_us,a\n";

    fn script() -> ScriptedSource {
        ScriptedSource::new([
            Happens::Bytes(HEADER.to_vec()),
            Happens::Bytes(b"1000,1\n2000,2\n30".to_vec()),
            Happens::Nothing,
            Happens::Lost,
            Happens::Nothing,
            Happens::Back,
            Happens::Bytes(b"00,3\n9000,4\n10000,".to_vec()),
            Happens::Bytes(b"5\n11000".to_vec()),
        ])
    }

    fn run(source: ScriptedSource) -> (Vec<u32>, Counts, Option<LinkError>) {
        let mut listener = Listener::new(Box::new(source), StreamOptions::default());
        let mut codes = Vec::new();
        loop {
            let received = listener.listen(Duration::ZERO, &mut |event| {
                if let Event::Sample { codes: seen, .. } = event {
                    codes.push(seen[0].0);
                }
            });
            match received {
                Ok(Received::Ended) => return (codes, *listener.counts(), None),
                Err(error) => return (codes, *listener.counts(), Some(error)),
                Ok(_) => {}
            }
        }
    }

    fn accounted(counts: &Counts) -> u64 {
        counts.samples + counts.headers + counts.comments + counts.blank + counts.rejected_total()
    }

    #[test]
    fn a_run_with_a_pulled_cable() {
        let (codes, counts, error) = run(script());
        assert_eq!((codes, error), (vec![1, 2, 4, 5], None));
        // `30` before the loss, `00,3` after it, and the last line.
        assert_eq!(counts.rejected(Cause::Cut), 3);
        assert_eq!(counts.rejected_total(), 3);
        // The board's clock ran on from 2000 to 9000 us.
        assert_eq!((counts.missing, counts.restarts), (6, 0));
        assert_eq!(accounted(&counts), counts.lines);
    }

    #[test]
    fn cut_at_every_wait_until_the_run_completes() {
        let whole = run(script()).0;
        let mut at = 0;
        loop {
            at += 1;
            let broken = LinkError {
                what: "the port broke".into(),
                next: "look at it".into(),
            };
            let (codes, counts, error) = run(script().cut_at(at, Happens::Breaks(broken.clone())));
            assert!(
                whole.starts_with(&codes),
                "wait {at}: what was taken is kept"
            );
            assert_eq!(accounted(&counts), counts.lines, "wait {at}");
            match error {
                Some(error) => assert_eq!(error, broken, "wait {at}"),
                None => break,
            }
        }
        assert_eq!(at, 10, "eight happenings and the end, each was cut once");
    }
}
