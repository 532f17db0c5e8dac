//! A stream that another program brings: whatever can be read, as a source.

use super::source::{LinkError, Received, Source};
use std::io::{self, Read};
use std::sync::mpsc::{Receiver, RecvTimeoutError, sync_channel};
use std::time::Duration;

/// Pieces that wait to be taken; beyond them the other program waits.
const WAITING: usize = 16;
const PIECE: usize = 1 << 14;

/// A source over a reader that blocks, on a thread of its own. Ends with it.
#[derive(Debug)]
pub struct PipedSource {
    name: String,
    pieces: Receiver<io::Result<Vec<u8>>>,
    piece: Vec<u8>,
    taken: usize,
}

impl PipedSource {
    pub fn new(name: impl Into<String>, mut reader: impl Read + Send + 'static) -> Self {
        let (sender, pieces) = sync_channel(WAITING);
        std::thread::spawn(move || {
            loop {
                let mut piece = vec![0; PIECE];
                let read = match reader.read(&mut piece) {
                    Ok(0) => return,
                    Ok(n) => {
                        piece.truncate(n);
                        Ok(piece)
                    }
                    Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
                    Err(e) => Err(e),
                };
                let over = read.is_err();
                if sender.send(read).is_err() || over {
                    return;
                }
            }
        });
        Self {
            name: name.into(),
            pieces,
            piece: Vec::new(),
            taken: 0,
        }
    }
}

impl Source for PipedSource {
    fn receive(&mut self, buffer: &mut [u8], wait: Duration) -> Result<Received, LinkError> {
        if self.taken == self.piece.len() {
            match self.pieces.recv_timeout(wait) {
                Ok(Ok(piece)) => (self.piece, self.taken) = (piece, 0),
                Ok(Err(e)) => {
                    return Err(LinkError {
                        what: format!("{} cannot be read: {e}", self.name),
                        next: "Look at the program that brings the stream, then take the recording again".to_owned(),
                    });
                }
                Err(RecvTimeoutError::Timeout) => return Ok(Received::Nothing),
                Err(RecvTimeoutError::Disconnected) => return Ok(Received::Ended),
            }
        }
        // From memory: it cannot fail.
        let count = (&self.piece[self.taken..]).read(buffer).unwrap_or(0);
        self.taken += count;
        Ok(Received::Bytes(count))
    }

    fn describe(&self) -> String {
        self.name.clone()
    }

    /// What another program pipes in is what it is.
    fn may_mend(&self) -> bool {
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_piped_arrives_whole_and_ends() {
        let text: Vec<u8> = (0..100_000_u32).map(|n| n.to_le_bytes()[0]).collect();
        let mut source = PipedSource::new("x", io::Cursor::new(text.clone()));
        let (mut buffer, mut taken) = ([0; 777], Vec::new());
        loop {
            match source.receive(&mut buffer, Duration::from_secs(5)).unwrap() {
                Received::Bytes(n) => taken.extend_from_slice(&buffer[..n]),
                Received::Ended => break,
                other => panic!("{other:?}"),
            }
        }
        assert_eq!(taken, text);
    }
}
