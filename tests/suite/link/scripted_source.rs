//! A source that does what a test says: bytes, silence, losses and errors, in that order.

use pedalproof::link::{LinkError, Received, Source};
use std::collections::VecDeque;
use std::time::Duration;

/// One thing that a scripted source does.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Happens {
    /// These bytes arrive; over several waits if the reader's buffer is smaller.
    Bytes(Vec<u8>),
    /// A wait brings nothing.
    Nothing,
    /// The source goes away.
    Lost,
    /// It comes back.
    Back,
    /// It breaks for good.
    Breaks(LinkError),
}

/// Plays a list of happenings, then ends. Never sleeps.
#[derive(Debug, Clone, Default)]
pub struct ScriptedSource {
    script: VecDeque<Happens>,
    waits: u64,
    cut: Option<(u64, Happens)>,
    broken: Option<LinkError>,
}

impl ScriptedSource {
    /// A source that does these things in order.
    #[must_use]
    pub fn new(script: impl IntoIterator<Item = Happens>) -> Self {
        Self {
            script: script.into_iter().collect(),
            ..Self::default()
        }
    }

    /// On wait number `at` (the first is 1) this happens instead, and nothing after it.
    #[must_use]
    pub fn cut_at(mut self, at: u64, happens: Happens) -> Self {
        self.cut = Some((at, happens));
        self
    }
}

impl Source for ScriptedSource {
    fn receive(&mut self, buffer: &mut [u8], _wait: Duration) -> Result<Received, LinkError> {
        if let Some(error) = &self.broken {
            return Err(error.clone());
        }
        self.waits += 1;
        if self.cut.as_ref().is_some_and(|(at, _)| *at == self.waits)
            && let Some((_, happens)) = self.cut.take()
        {
            self.script.clear();
            self.script.push_back(happens);
        }
        Ok(match self.script.pop_front() {
            None => Received::Ended,
            Some(Happens::Nothing) => Received::Nothing,
            Some(Happens::Lost) => Received::Lost,
            Some(Happens::Back) => Received::Back,
            Some(Happens::Breaks(error)) => {
                self.broken = Some(error.clone());
                return Err(error);
            }
            Some(Happens::Bytes(mut bytes)) => {
                let count = bytes.len().min(buffer.len());
                buffer[..count].copy_from_slice(&bytes[..count]);
                if count < bytes.len() {
                    bytes.drain(..count);
                    self.script.push_front(Happens::Bytes(bytes));
                }
                if count == 0 {
                    Received::Nothing
                } else {
                    Received::Bytes(count)
                }
            }
        })
    }

    fn describe(&self) -> String {
        "scripted source".to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn play(mut source: ScriptedSource) -> Vec<Result<Received, LinkError>> {
        let mut seen = Vec::new();
        let mut buffer = [0; 4];
        loop {
            let received = source.receive(&mut buffer, Duration::ZERO);
            let last = matches!(received, Ok(Received::Ended) | Err(_));
            seen.push(received);
            if last {
                return seen;
            }
        }
    }

    fn script() -> ScriptedSource {
        ScriptedSource::new([
            Happens::Bytes(b"123456".to_vec()),
            Happens::Nothing,
            Happens::Lost,
            Happens::Back,
        ])
    }

    #[test]
    fn in_order() {
        use Received::{Back, Bytes, Ended, Lost, Nothing};
        let expected = [Bytes(4), Bytes(2), Nothing, Lost, Back, Ended].map(Ok);
        assert_eq!(play(script()), expected);
    }

    #[test]
    fn cut_at_every_wait() {
        let error = LinkError {
            what: "gone".into(),
            next: "look".into(),
        };
        for at in 1..=6 {
            let seen = play(script().cut_at(at, Happens::Breaks(error.clone())));
            assert_eq!(seen.len() as u64, at);
            assert_eq!(seen.last(), Some(&Err(error.clone())));
        }
        assert_eq!(play(script().cut_at(2, Happens::Lost)).len(), 3);
    }
}
