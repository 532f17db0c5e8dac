//! When each sample was taken: every time of the latest ones, the time of each block of the older ones.
//!
//! Between the times that are kept of old samples, samples are taken to lie evenly; longer pauses are kept apart, so that they
//! stay where they were.

use super::ring::{FANOUT, Retention, Ring};

/// Pauses that are kept; the oldest ones are forgotten for more.
const PAUSES: usize = 4096;

/// No pause is shorter, microseconds: bunches of lines, as USB hands them over, lie closer.
const SHORTEST_PAUSE_US: u64 = 100_000;

/// A time with nothing for much longer than the samples usually lie apart.
#[derive(Debug, Clone, Copy)]
struct Pause {
    /// The first sample after it.
    sample: usize,
    before_us: u64,
    after_us: u64,
}

/// A sample and its time.
type Known = (usize, u64);

/// A level of block times.
struct Level<'a> {
    times: &'a Ring<u64>,
    /// Samples in one of its blocks.
    size: usize,
    below: Known,
}

impl Level<'_> {
    /// The beginning of a block, if its time is kept, and the next sample whose time is known.
    fn around(&self, block: usize) -> Option<(Known, Known)> {
        let begun = (block * self.size, self.times.get(block)?);
        let next = (block + 1) * self.size;
        let to = match self.times.get(block + 1) {
            Some(t_us) if next < self.below.0 => (next, t_us),
            _ => self.below,
        };
        Some((begun, to))
    }
}

/// The times of a run's samples, which never decrease.
#[derive(Debug, Clone)]
pub(super) struct Times {
    latest: Ring<u64>,
    /// `levels[k]` holds the time of the first sample of each block of `FANOUT^(k + 1)`.
    levels: Vec<Ring<u64>>,
    pauses: Ring<Pause>,
    first_us: u64,
    retention: Retention,
}

impl Times {
    pub(super) fn new(retention: Retention) -> Self {
        Self {
            latest: Ring::new(retention.samples),
            levels: Vec::new(),
            pauses: Ring::new(PAUSES),
            first_us: 0,
            retention,
        }
    }

    pub(super) fn len(&self) -> usize {
        self.latest.len()
    }

    pub(super) fn first_us(&self) -> Option<u64> {
        (self.len() > 0).then_some(self.first_us)
    }

    pub(super) fn last_us(&self) -> Option<u64> {
        self.latest.last()
    }

    /// Takes a time in; one that is earlier than the last becomes the last.
    pub(super) fn push(&mut self, t_us: u64) {
        let sample = self.len();
        let Some(before_us) = self.last_us() else {
            self.first_us = t_us;
            self.latest.push(t_us);
            return;
        };
        let t_us = t_us.max(before_us);
        let apart_us = (before_us - self.first_us) / sample as u64;
        if t_us - before_us > SHORTEST_PAUSE_US.max(apart_us.saturating_mul(FANOUT as u64)) {
            self.pauses.push(Pause {
                sample,
                before_us,
                after_us: t_us,
            });
        }
        self.latest.push(t_us);
        let (mut block, mut level) = (sample, 0);
        while block.is_multiple_of(FANOUT) {
            if self.levels.len() == level {
                let mut fresh = Ring::new(self.retention.blocks);
                fresh.push(self.first_us);
                self.levels.push(fresh);
            }
            self.levels[level].push(t_us);
            block /= FANOUT;
            level += 1;
        }
    }

    /// Time of a sample.
    pub(super) fn of(&self, sample: usize) -> Option<u64> {
        if sample >= self.latest.oldest() {
            return self.latest.get(sample);
        }
        let around = self
            .levels()
            .find_map(|level| level.around(sample / level.size));
        let (mut from, mut to) = around?;
        for pause in self.pauses_after(from.0) {
            if sample < pause.sample {
                to = to.min((pause.sample - 1, pause.before_us));
                break;
            }
            from = (pause.sample, pause.after_us);
        }
        let (along, length) = ((sample - from.0) as u64, to.0.saturating_sub(from.0) as u64);
        Some(from.1 + share(to.1.saturating_sub(from.1), along, length))
    }

    /// The first sample at `t_us` or later; `len()` when there is none.
    pub(super) fn first_at(&self, t_us: u64) -> usize {
        let oldest = self.latest.oldest();
        if oldest == 0 || self.latest.get(oldest).is_some_and(|first| first < t_us) {
            return self.latest.partition_point(|t| *t < t_us);
        }
        if t_us <= self.first_us {
            return 0;
        }
        let around = self.levels().find_map(|level| {
            let begun = level.times.partition_point(|t| *t < t_us);
            level.around(begun.checked_sub(1)?)
        });
        let Some((mut from, mut to)) = around else {
            return oldest;
        };
        for pause in self.pauses_after(from.0) {
            if t_us <= pause.before_us {
                to = to.min((pause.sample - 1, pause.before_us));
                break;
            }
            if t_us <= pause.after_us {
                return pause.sample.min(to.0);
            }
            from = (pause.sample, pause.after_us);
        }
        let (passed, length) = (t_us.saturating_sub(from.1), to.1.saturating_sub(from.1));
        let samples = to.0.saturating_sub(from.0) as u64;
        // Rounded up: the first sample that is not earlier.
        let along =
            share(samples, passed, length) + u64::from(share_is_cut(samples, passed, length));
        (from.0 + usize::try_from(along).unwrap_or(0)).min(to.0)
    }

    /// The levels from the lowest on, each with the oldest sample that is known below it.
    fn levels(&self) -> impl Iterator<Item = Level<'_>> {
        let oldest = self.latest.oldest();
        let below = (oldest, self.latest.get(oldest).unwrap_or(self.first_us));
        self.levels
            .iter()
            .scan((FANOUT, below), move |(size, below), times| {
                let level = Level {
                    times,
                    size: *size,
                    below: *below,
                };
                let oldest = times.oldest();
                *below = (oldest * *size, times.get(oldest).unwrap_or(self.first_us));
                *size *= FANOUT;
                Some(level)
            })
    }

    fn pauses_after(&self, sample: usize) -> impl Iterator<Item = Pause> {
        let first = self.pauses.partition_point(|pause| pause.sample <= sample);
        (first..self.pauses.len()).map_while(|at| self.pauses.get(at))
    }
}

/// `whole * part / of`, rounded down; 0 of nothing.
fn share(whole: u64, part: u64, of: u64) -> u64 {
    let share = u128::from(whole) * u128::from(part) / u128::from(of.max(1));
    u64::try_from(share).unwrap_or(u64::MAX)
}

fn share_is_cut(whole: u64, part: u64, of: u64) -> bool {
    !(u128::from(whole) * u128::from(part)).is_multiple_of(u128::from(of.max(1)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const FEW: Retention = Retention {
        samples: 64,
        blocks: 64,
    };

    fn times(all: &[u64]) -> Times {
        let mut times = Times::new(FEW);
        for t in all {
            times.push(*t);
        }
        times
    }

    #[test]
    fn old_times_of_a_steady_board_are_as_they_were() {
        let all: Vec<u64> = (0..30_000).map(|i| 7_000 + i * 1000).collect();
        let times = times(&all);
        assert_eq!(times.len(), all.len());
        for (sample, t) in all.iter().enumerate() {
            assert_eq!(times.of(sample), Some(*t), "{sample}");
            assert_eq!(times.first_at(*t), sample);
            assert_eq!(times.first_at(t - 1), sample);
        }
        assert_eq!(times.of(30_000), None);
        assert_eq!(times.first_at(u64::MAX), 30_000);
    }

    /// A minute of silence in the middle of a block: the samples on both sides keep their times.
    #[test]
    fn a_long_pause_stays_where_it_was() {
        let at = 1003;
        let t = |i: u64| i * 1000 + if i < at { 0 } else { 60_000_000 };
        let all: Vec<u64> = (0..30_000).map(t).collect();
        let times = times(&all);
        for (sample, t) in all.iter().enumerate() {
            assert_eq!(times.of(sample), Some(*t), "{sample}");
        }
        let inside = 1003 * 1000 + 30_000_000;
        assert_eq!(times.first_at(inside), 1003);
        assert_eq!(times.first_at(all[1002]), 1002);
        assert_eq!(times.first_at(all[1003]), 1003);
    }

    proptest! {
        #[test]
        fn whatever_comes_times_never_go_back_and_what_is_found_lies_in_the_run(
            apart in prop::collection::vec(prop_oneof![Just(1000), 0_u64..3, 0_u64..9_000_000], 1..3000), at in 0_u64..1 << 34,
        ) {
            let all: Vec<u64> = apart.iter().scan(0, |t, apart| { *t += apart; Some(*t) }).collect();
            let times = times(&all);
            let found: Vec<u64> = (0..all.len()).map(|i| times.of(i).unwrap()).collect();
            prop_assert!(found.is_sorted(), "{:?}", found);
            let latest = all.len().saturating_sub(FEW.samples);
            prop_assert_eq!(&found[latest..], &all[latest..]);
            prop_assert_eq!(found[0], all[0]);
            prop_assert!(times.first_at(at) <= times.first_at(at + 1));
            prop_assert!(times.first_at(at) <= all.len());
        }
    }
}
