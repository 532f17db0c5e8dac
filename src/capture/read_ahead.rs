//! A file read ahead and hashed by one thread while another one makes sense of it.
//!
//! Belongs here: the blocks between both threads. Does not belong here: which file, and what it says.

use crate::files;
use sha2::{Digest, Sha256};
use std::io::{self, BufRead, Read};
use std::sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel};
use std::thread;

const BLOCK: usize = 1 << 18;
/// Blocks that may wait.
const WAITING: usize = 4;

/// What `read` makes of the bytes of `file`, and the SHA-256 of all of them in lower-case hex.
pub(super) fn hashed<T, E>(
    file: impl Read + Send,
    read: impl FnOnce(ReadAhead) -> Result<T, E>,
) -> Result<(T, String), E> {
    let (blocks, coming) = sync_channel(WAITING);
    let (spent, again) = channel();
    thread::scope(|scope| {
        let hashing = scope.spawn(move || hash(file, &blocks, &again));
        let made = read(ReadAhead {
            coming,
            spent,
            block: Vec::new(),
            at: 0,
        })?;
        let sum = hashing.join();
        Ok((made, sum.unwrap_or_else(|e| std::panic::resume_unwind(e))))
    })
}

/// Reads and hashes block after block until the end, an error, or until nobody wants any more.
fn hash(
    mut file: impl Read,
    blocks: &SyncSender<io::Result<Vec<u8>>>,
    again: &Receiver<Vec<u8>>,
) -> String {
    let mut sum = Sha256::new();
    loop {
        let mut block = again.try_recv().unwrap_or_default();
        block.clear();
        block.reserve(BLOCK);
        let read = file.by_ref().take(BLOCK as u64).read_to_end(&mut block);
        let over = block.is_empty();
        sum.update(&block);
        let sent = blocks.send(read.map(|_| block));
        if over || sent.is_err() {
            return files::hex(&sum.finalize());
        }
    }
}

/// The bytes of the file, in blocks.
pub(super) struct ReadAhead {
    coming: Receiver<io::Result<Vec<u8>>>,
    spent: Sender<Vec<u8>>,
    block: Vec<u8>,
    at: usize,
}

impl BufRead for ReadAhead {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        // A closed channel is the end of the file: the last block was empty.
        if self.at == self.block.len()
            && let Ok(next) = self.coming.recv()
        {
            let before = std::mem::replace(&mut self.block, next?);
            self.at = 0;
            self.spent.send(before).ok();
        }
        Ok(&self.block[self.at..])
    }

    fn consume(&mut self, count: usize) {
        self.at = (self.at + count).min(self.block.len());
    }
}

impl Read for ReadAhead {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let mut block = self.fill_buf()?;
        let count = block.read(buffer)?;
        self.consume(count);
        Ok(count)
    }
}
