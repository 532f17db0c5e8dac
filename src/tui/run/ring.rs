//! A list of which only the latest entries are retained, under the numbers that they were given.

use std::collections::VecDeque;

/// Samples under one block of the lowest level, and blocks under one block of the next.
/// Larger: fewer levels to keep, more samples to look at on the edges of a stretch.
pub(super) const FANOUT: usize = 16;

/// How much is kept.
#[derive(Debug, Clone, Copy)]
pub(super) struct Retention {
    /// Samples, the latest ones: 8 bytes each and 4 more a channel.
    pub(super) samples: usize,
    /// Blocks of each level, the latest ones: 8 bytes each and 8 more a channel. At least `FANOUT`.
    pub(super) blocks: usize,
}

impl Retention {
    /// Of four channels at 1 kHz: every sample of the last four minutes, blocks of 16 ms of the last half hour, of 256 ms of
    /// the last nine hours; 6 MiB for the samples and 5 MiB for each level that is full.
    pub(super) const USUAL: Self = Self {
        samples: 1 << 18,
        blocks: 1 << 17,
    };
}

/// The latest entries of a list.
#[derive(Debug, Clone)]
pub(super) struct Ring<T> {
    entries: VecDeque<T>,
    /// Entries that were dropped; the number of the oldest that is kept.
    dropped: usize,
    capacity: usize,
}

impl<T: Copy> Ring<T> {
    /// Keeps so many, at least one.
    pub(super) fn new(capacity: usize) -> Self {
        Self {
            entries: VecDeque::new(),
            dropped: 0,
            capacity: capacity.max(1),
        }
    }

    pub(super) fn push(&mut self, entry: T) {
        if self.entries.len() == self.capacity {
            self.entries.pop_front();
            self.dropped += 1;
        }
        self.entries.push_back(entry);
    }

    /// Entry number `index`, unless it was dropped or has not come.
    pub(super) fn get(&self, index: usize) -> Option<T> {
        self.entries.get(index.checked_sub(self.dropped)?).copied()
    }

    /// The number of the oldest that is kept.
    pub(super) fn oldest(&self) -> usize {
        self.dropped
    }

    /// Entries that came, dropped ones included.
    pub(super) fn len(&self) -> usize {
        self.dropped + self.entries.len()
    }

    pub(super) fn last(&self) -> Option<T> {
        self.entries.back().copied()
    }

    /// The number of the first kept entry for which `before` does not hold; it holds for all before and for none after.
    pub(super) fn partition_point(&self, before: impl FnMut(&T) -> bool) -> usize {
        self.dropped + self.entries.partition_point(before)
    }
}
