//! The trace store: the latest samples of the run, and a min/max pyramid over each channel from its beginning on.
//!
//! The extremes of any stretch cost the same however long the run is.
//! Memory has an end, a run has not: every level of the pyramid keeps its latest entries. An old stretch is known by the
//! extremes of blocks of 16, 256, ... samples: a single sample that fell out is in its block's extremes for ever, only its
//! place in the block is not known any more. Every sample is in the capture.

use super::ring::{FANOUT, Retention, Ring};
use super::times::Times;
use measure::units::{Code, Step};
use std::ops::Range;

/// What stands where a channel gave no reading. No code comes near it: codes have at most 24 bits.
const NOTHING: u32 = u32::MAX;

/// Smallest and largest code of a stretch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Extremes {
    pub min: u32,
    pub max: u32,
}

impl Extremes {
    /// Those of no reading at all.
    const NONE: Self = Self {
        min: NOTHING,
        max: 0,
    };

    fn join(self, other: Self) -> Self {
        Self {
            min: self.min.min(other.min),
            max: self.max.max(other.max),
        }
    }

    fn of(code: u32) -> Self {
        if code == NOTHING {
            return Self::NONE;
        }
        Self {
            min: code,
            max: code,
        }
    }
}

/// One channel: its latest codes and the levels of extremes above them.
#[derive(Debug, Clone)]
struct Channel {
    codes: Ring<u32>,
    /// `levels[0]` holds the extremes of whole blocks of `FANOUT` codes, `levels[k + 1]` those of whole blocks
    /// of `FANOUT` entries of `levels[k]`.
    levels: Vec<Ring<Extremes>>,
    retention: Retention,
}

impl Channel {
    fn new(retention: Retention) -> Self {
        Self {
            codes: Ring::new(retention.samples),
            levels: Vec::new(),
            retention,
        }
    }

    fn push(&mut self, code: u32) {
        self.codes.push(code);
        let mut filled = self.codes.len();
        let mut level = 0;
        while filled.is_multiple_of(FANOUT) {
            let block = (filled - FANOUT..filled).fold(Extremes::NONE, |sum, below| {
                sum.join(self.entry(level, below))
            });
            if self.levels.len() == level {
                self.levels.push(Ring::new(self.retention.blocks));
            }
            if let Some(blocks) = self.levels.get_mut(level) {
                blocks.push(block);
            }
            filled /= FANOUT;
            level += 1;
        }
    }

    /// Entry `index` of level `level`, where level 0 is the codes themselves; for one that is gone, the block that holds it.
    fn entry(&self, level: usize, index: usize) -> Extremes {
        let (found, oldest) = match level.checked_sub(1) {
            None => (self.codes.get(index).map(Extremes::of), self.codes.oldest()),
            Some(above) => match self.levels.get(above) {
                Some(blocks) => (blocks.get(index), blocks.oldest()),
                None => (None, 0),
            },
        };
        match found {
            Some(extremes) => extremes,
            None if index < oldest => self.entry(level + 1, index / FANOUT),
            None => Extremes::NONE,
        }
    }

    /// Extremes of `range`, climbing from both edges towards the levels where whole blocks serve.
    fn extremes(&self, range: Range<usize>) -> Option<Extremes> {
        let (mut from, mut to) = (range.start, range.end.min(self.codes.len()));
        let mut sum = Extremes::NONE;
        let mut level = 0;
        while from < to {
            let last_level = level >= self.levels.len();
            while from < to && (last_level || !from.is_multiple_of(FANOUT)) {
                sum = sum.join(self.entry(level, from));
                from += 1;
            }
            while from < to && !to.is_multiple_of(FANOUT) {
                to -= 1;
                sum = sum.join(self.entry(level, to));
            }
            from /= FANOUT;
            to /= FANOUT;
            level += 1;
        }
        (sum.min <= sum.max).then_some(sum)
    }

    /// Samples of the smallest block that holds a sample.
    fn together(&self, sample: usize) -> usize {
        let (mut size, mut oldest) = (1, self.codes.oldest());
        for level in &self.levels {
            if sample / size >= oldest {
                break;
            }
            size *= FANOUT;
            oldest = level.oldest();
        }
        size
    }
}

/// The samples of a run. Sample times never decrease: enforced by [`Store::feed`].
#[derive(Debug, Clone)]
pub struct Store {
    times: Times,
    lanes: Vec<Channel>,
    /// First sample of each run of one step and its time, microseconds.
    steps: Vec<(usize, u64, Step)>,
    retention: Retention,
}

impl Default for Store {
    fn default() -> Self {
        Self::retention(Retention::USUAL)
    }
}

impl Store {
    fn retention(retention: Retention) -> Self {
        Self {
            times: Times::new(retention),
            lanes: Vec::new(),
            steps: Vec::new(),
            retention,
        }
    }

    /// Takes samples in. `lanes[i]` is the lane that column `i` of the batch belongs to. A column that is shorter
    /// than the batch, and a lane without a column, get "no reading" for the rest; nothing is thrown away.
    pub fn feed(&mut self, t_us: &[u64], step: &[Step], codes: &[Vec<Code>], lanes: &[usize]) {
        let wanted = lanes
            .iter()
            .take(codes.len())
            .map(|lane| lane + 1)
            .max()
            .unwrap_or(0);
        while self.lanes.len() < wanted {
            self.lanes.push(Channel::new(self.retention));
            let (before, last) = (self.len(), self.lanes.len() - 1);
            (0..before).for_each(|_| self.lanes[last].push(NOTHING));
        }
        let column_of = |lane: usize| lanes.iter().position(|at| *at == lane);
        let columns: Vec<Option<&Vec<Code>>> = (0..self.lanes.len())
            .map(|lane| column_of(lane).and_then(|column| codes.get(column)))
            .collect();
        for (i, t) in t_us.iter().enumerate() {
            let step = step.get(i).copied().unwrap_or(Step::Idle);
            self.times.push(*t);
            if self.steps.last().is_none_or(|(.., last)| *last != step) {
                let began_us = self.times.last_us().unwrap_or(*t);
                self.steps.push((self.len() - 1, began_us, step));
            }
            for (lane, column) in self.lanes.iter_mut().zip(&columns) {
                let code = column.and_then(|codes| codes.get(i));
                lane.push(code.map_or(NOTHING, |code| code.0));
            }
        }
    }

    pub fn len(&self) -> usize {
        self.times.len()
    }

    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Time of the first and the last sample, microseconds.
    pub fn extent_us(&self) -> Option<(u64, u64)> {
        Some((self.times.first_us()?, self.times.last_us()?))
    }

    /// Time of a sample, microseconds; of an old one as if the samples of its block lay evenly.
    pub fn time_us(&self, sample: usize) -> Option<u64> {
        self.times.of(sample)
    }

    /// Index of the first sample at `t_us` or later; `len()` when there is none.
    pub fn first_at(&self, t_us: u64) -> usize {
        self.times.first_at(t_us)
    }

    /// The code of a lane at a sample; absent where the channel gave none, and for an old sample that is only known
    /// [together](Self::together) with others.
    pub fn code(&self, lane: usize, sample: usize) -> Option<u32> {
        let code = self.lanes.get(lane)?.codes.get(sample)?;
        (code != NOTHING).then_some(code)
    }

    /// How many samples are only known together, by their extremes, where this one lies: 1 for the latest, 16, 256, ... for
    /// older ones.
    pub fn together(&self, sample: usize) -> usize {
        self.lanes.first().map_or(1, |lane| lane.together(sample))
    }

    /// The last code of a lane; absent where the channel gave none.
    pub fn last_code(&self, lane: usize) -> Option<u32> {
        self.code(lane, self.len().checked_sub(1)?)
    }

    /// Smallest and largest code of a lane over samples `range`, in a time that grows with the logarithm of its length:
    /// exact for the latest samples; for old ones the blocks at its edges count whole. Absent when it holds no reading.
    pub fn extremes(&self, lane: usize, range: Range<usize>) -> Option<Extremes> {
        self.lanes.get(lane)?.extremes(range)
    }

    /// Smallest and largest code of a lane over the whole run.
    pub fn whole(&self, lane: usize) -> Option<Extremes> {
        self.extremes(lane, 0..self.len())
    }

    /// When each step was first begun, in the order of beginning, microseconds. Idle is no step here.
    pub fn step_starts(&self) -> Vec<(Step, u64)> {
        let mut starts: Vec<(Step, u64)> = Vec::new();
        for (_, began_us, step) in &self.steps {
            let seen = *step == Step::Idle || starts.iter().any(|(known, _)| known == step);
            if !seen {
                starts.push((*step, *began_us));
            }
        }
        starts
    }

    /// Runs of one step that touch samples `range`: the samples of each (cut to `range`) and its step.
    pub fn steps_in(&self, range: Range<usize>) -> impl Iterator<Item = (Range<usize>, Step)> {
        let from = self
            .steps
            .partition_point(|(first, ..)| *first <= range.start)
            .saturating_sub(1);
        let to = range.end.min(self.len());
        let start = range.start;
        self.steps[from.min(self.steps.len())..]
            .iter()
            .enumerate()
            .map(move |(i, (first, _, step))| {
                let next = self
                    .steps
                    .get(from + i + 1)
                    .map_or(self.len(), |(first, ..)| *first);
                ((*first).max(start)..next.min(to), *step)
            })
            .take_while(move |(run, _)| run.start < to)
            .filter(|(run, _)| !run.is_empty())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn store(codes: &[u32]) -> Store {
        let mut store = Store::default();
        let t: Vec<u64> = (0..codes.len() as u64).collect();
        let column: Vec<Code> = codes
            .iter()
            .map(|c| Code(if *c == 7 { NOTHING } else { *c }))
            .collect();
        store.feed(&t, &vec![Step::Rest; codes.len()], &[column], &[0]);
        store
    }

    const FEW: Retention = Retention {
        samples: 64,
        blocks: 32,
    };

    /// One sample fell out, long ago: every stretch with it in it still shows it, and where it is not, all is quiet again a
    /// block further.
    #[test]
    fn one_sample_that_fell_out_is_seen_for_ever() {
        for at in [0_usize, 1, 4095, 70_001, 99_999] {
            let mut store = Store::retention(FEW);
            for i in 0..100_000 {
                let code = Code(if i == at { 3 } else { 500 });
                store.feed(&[i as u64], &[], &[vec![code]], &[0]);
            }
            let min = |range: Range<usize>| store.extremes(0, range).map(|e| e.min);
            for wide in [1, 2, 50, 3000, 100_000] {
                assert_eq!(
                    min(at.saturating_sub(wide - 1)..at + 1),
                    Some(3),
                    "{at} {wide}"
                );
                assert_eq!(min(at..at + wide), Some(3), "{at} {wide}");
            }
            let block = store.together(at);
            assert_eq!(
                min(at / block * block + block..100_000),
                (at < 99_999).then_some(500)
            );
            assert_eq!(store.whole(0), Some(Extremes { min: 3, max: 500 }));
        }
    }

    #[test]
    fn memory_ends_however_long_the_run() {
        let mut store = Store::retention(FEW);
        for i in 0..200_000_u64 {
            store.feed(&[i], &[], &[vec![Code(5)]], &[0]);
        }
        let lane = &store.lanes[0];
        let kept: usize = lane
            .levels
            .iter()
            .map(|level| level.len() - level.oldest())
            .sum();
        assert_eq!(lane.codes.len() - lane.codes.oldest(), 64);
        // 200 000 = 12500 blocks of 16, 781 of 256, 48 of 4096, 3 of 65 536.
        assert_eq!(kept, 32 + 32 + 32 + 3);
        assert_eq!(store.len(), 200_000);
        let together = [0, 180_000, 199_500, 199_940].map(|sample| store.together(sample));
        assert_eq!(together, [65_536, 4096, 16, 1]);
    }

    proptest! {
        #[test]
        fn old_extremes_hold_the_true_ones_and_no_more_than_their_blocks(
            codes in prop::collection::vec(0_u32..1024, 1..5000), a in 0_usize..5000, length in 1_usize..5000,
        ) {
            let mut store = Store::retention(FEW);
            let t: Vec<u64> = (0..codes.len() as u64).collect();
            store.feed(&t, &[], &[codes.iter().copied().map(Code).collect()], &[0]);
            let (a, b) = (a.min(codes.len() - 1), (a + length).min(codes.len()).max(1));
            prop_assume!(a < b);
            // Every sample with the block that holds it: where coarser blocks end, one may reach beyond `b`.
            let blocks = (a..b).map(|sample| (sample / store.together(sample), store.together(sample)));
            let wide = blocks.fold(a..b, |wide, (block, size)| {
                wide.start.min(block * size)..wide.end.max((block + 1) * size).min(codes.len())
            });
            let of = |range: Range<usize>| {
                let codes = codes[range].iter().copied();
                (codes.clone().min().unwrap(), codes.max().unwrap())
            };
            let (inner, outer) = (of(a..b), of(wide));
            let found = store.extremes(0, a..b).unwrap();
            prop_assert!(outer.0 <= found.min && found.min <= inner.0, "{found:?} {inner:?} {outer:?}");
            prop_assert!(inner.1 <= found.max && found.max <= outer.1, "{found:?} {inner:?} {outer:?}");
        }

        /// Against brute force over the same stretch, at lengths around every block edge. Code 7 is "no reading".
        #[test]
        fn extremes_are_those_of_brute_force(
            codes in prop::collection::vec(0_u32..1024, 0..5000), a in 0_usize..5100, b in 0_usize..5100,
        ) {
            let store = store(&codes);
            let stretch = codes.iter().skip(a).take(b.saturating_sub(a)).copied().filter(|c| *c != 7);
            let expected = stretch.clone().min().zip(stretch.max());
            let found = store.extremes(0, a..b).map(|e| (e.min, e.max));
            prop_assert_eq!(found, expected);
        }
    }

    #[test]
    fn one_sample_in_a_million_is_found() {
        let mut codes = vec![500; 1_000_000];
        codes[654_321] = 3;
        let store = store(&codes);
        assert_eq!(
            store.extremes(0, 1..999_999),
            Some(Extremes { min: 3, max: 500 })
        );
        assert_eq!(
            store.extremes(0, 654_336..999_999),
            Some(Extremes { min: 500, max: 500 })
        );
    }

    #[test]
    fn a_channel_that_joins_late_and_one_that_leaves_keep_their_places() {
        let mut store = Store::default();
        store.feed(&[0, 1], &[Step::Rest; 2], &[vec![Code(5), Code(6)]], &[0]);
        store.feed(
            &[2, 3],
            &[Step::Full; 2],
            &[vec![Code(9)], vec![Code(1), Code(2)]],
            &[1, 0],
        );
        assert_eq!(store.code(0, 3), Some(2));
        assert_eq!(store.code(1, 1), None);
        assert_eq!((store.code(1, 2), store.code(1, 3)), (Some(9), None));
        let steps: Vec<_> = store.steps_in(1..4).collect();
        assert_eq!(steps, [(1..2, Step::Rest), (2..4, Step::Full)]);
    }

    #[test]
    fn time_that_goes_back_is_held() {
        let mut store = Store::default();
        store.feed(&[5, 3, 9], &[], &[vec![Code(1); 3]], &[0]);
        assert_eq!(store.extent_us(), Some((5, 9)));
        assert_eq!(store.time_us(1), Some(5));
        assert_eq!(store.first_at(6), 2);
    }
}
