//! A list of which only the latest entries are kept, under the numbers that they were given.
//!
//! Belongs here: forgetting. Does not belong here: what an entry is.

use std::collections::VecDeque;

/// The latest entries of a list.
#[derive(Debug, Clone)]
pub(super) struct Latest<T> {
    entries: VecDeque<T>,
    /// Entries that are gone; the number of the oldest that is kept.
    gone: usize,
    most: usize,
}

impl<T: Copy> Latest<T> {
    /// Keeps so many, at least one.
    pub(super) fn new(most: usize) -> Self {
        Self {
            entries: VecDeque::new(),
            gone: 0,
            most: most.max(1),
        }
    }

    pub(super) fn push(&mut self, entry: T) {
        if self.entries.len() == self.most {
            self.entries.pop_front();
            self.gone += 1;
        }
        self.entries.push_back(entry);
    }

    /// Entry number `index`, unless it is gone or has not come.
    pub(super) fn get(&self, index: usize) -> Option<T> {
        self.entries.get(index.checked_sub(self.gone)?).copied()
    }

    /// The number of the oldest that is kept.
    pub(super) fn oldest(&self) -> usize {
        self.gone
    }

    /// Entries that came, with those that are gone.
    pub(super) fn len(&self) -> usize {
        self.gone + self.entries.len()
    }

    /// The last one.
    pub(super) fn last(&self) -> Option<T> {
        self.entries.back().copied()
    }

    /// The number of the first kept entry for which `before` does not hold; it holds for all before and for none after.
    pub(super) fn partition_point(&self, before: impl FnMut(&T) -> bool) -> usize {
        self.gone + self.entries.partition_point(before)
    }
}
