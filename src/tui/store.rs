//! The trace store: the latest samples of the run, and a min/max pyramid over each channel from its beginning on.
//!
//! Belongs here: keeping samples, and the extremes of any stretch of them at a cost that does not grow with the
//! run's length. Does not belong here: drawing, figures.
//!
//! Memory has an end, a run has not: every floor of the pyramid keeps its latest entries. An old stretch is known by the
//! extremes of blocks of 16, 256, ... samples: a single sample that fell out is in its block's extremes for ever, only its
//! place in the block is not known any more. Every sample is in the capture.

use super::latest::Latest;
use super::times::Times;
use measure::units::{Code, Step};
use std::ops::Range;

/// Samples under one block of the lowest floor, and blocks under one block of the next.
/// Larger: fewer floors to keep, more samples to look at on the edges of a stretch.
pub(super) const FANOUT: usize = 16;

/// What stands where a channel gave no reading. No code comes near it: codes have at most 24 bits.
const NOTHING: u32 = u32::MAX;

/// How much is kept.
#[derive(Debug, Clone, Copy)]
pub(super) struct Keeping {
    /// Samples, the latest ones: 8 bytes each and 4 more a channel.
    pub(super) samples: usize,
    /// Blocks of each floor, the latest ones: 8 bytes each and 8 more a channel. At least `FANOUT`.
    pub(super) blocks: usize,
}

impl Keeping {
    /// Of four channels at 1 kHz: every sample of the last four minutes, blocks of 16 ms of the last half hour, of 256 ms of
    /// the last nine hours; 6 MiB for the samples and 5 MiB for each floor that is full.
    const USUAL: Self = Self {
        samples: 1 << 18,
        blocks: 1 << 17,
    };
}

/// Smallest and largest code of a stretch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Extremes {
    /// Smallest code.
    pub min: u32,
    /// Largest code.
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

/// One channel: its latest codes and the floors of extremes above them.
#[derive(Debug, Clone)]
struct Lane {
    codes: Latest<u32>,
    /// `floors[0]` holds the extremes of whole blocks of `FANOUT` codes, `floors[k + 1]` those of whole blocks
    /// of `FANOUT` entries of `floors[k]`.
    floors: Vec<Latest<Extremes>>,
    keeping: Keeping,
}

impl Lane {
    fn new(keeping: Keeping) -> Self {
        Self {
            codes: Latest::new(keeping.samples),
            floors: Vec::new(),
            keeping,
        }
    }

    fn push(&mut self, code: u32) {
        self.codes.push(code);
        let mut filled = self.codes.len();
        let mut floor = 0;
        while filled.is_multiple_of(FANOUT) {
            let block = (filled - FANOUT..filled).fold(Extremes::NONE, |sum, below| {
                sum.join(self.entry(floor, below))
            });
            if self.floors.len() == floor {
                self.floors.push(Latest::new(self.keeping.blocks));
            }
            if let Some(blocks) = self.floors.get_mut(floor) {
                blocks.push(block);
            }
            filled /= FANOUT;
            floor += 1;
        }
    }

    /// Entry `index` of floor `floor`, where floor 0 is the codes themselves; for one that is gone, the block that holds it.
    fn entry(&self, floor: usize, index: usize) -> Extremes {
        let (found, oldest) = match floor.checked_sub(1) {
            None => (self.codes.get(index).map(Extremes::of), self.codes.oldest()),
            Some(above) => match self.floors.get(above) {
                Some(blocks) => (blocks.get(index), blocks.oldest()),
                None => (None, 0),
            },
        };
        match found {
            Some(extremes) => extremes,
            None if index < oldest => self.entry(floor + 1, index / FANOUT),
            None => Extremes::NONE,
        }
    }

    /// Extremes of `range`, climbing from both edges towards the floors where whole blocks serve.
    fn extremes(&self, range: Range<usize>) -> Option<Extremes> {
        let (mut from, mut to) = (range.start, range.end.min(self.codes.len()));
        let mut sum = Extremes::NONE;
        let mut floor = 0;
        while from < to {
            let last_floor = floor >= self.floors.len();
            while from < to && (last_floor || !from.is_multiple_of(FANOUT)) {
                sum = sum.join(self.entry(floor, from));
                from += 1;
            }
            while from < to && !to.is_multiple_of(FANOUT) {
                to -= 1;
                sum = sum.join(self.entry(floor, to));
            }
            from /= FANOUT;
            to /= FANOUT;
            floor += 1;
        }
        (sum.min <= sum.max).then_some(sum)
    }

    /// Samples of the smallest block that holds a sample.
    fn together(&self, sample: usize) -> usize {
        let (mut size, mut oldest) = (1, self.codes.oldest());
        for floor in &self.floors {
            if sample / size >= oldest {
                break;
            }
            size *= FANOUT;
            oldest = floor.oldest();
        }
        size
    }
}

/// The samples of a run. Sample times never decrease: enforced by [`Store::feed`].
#[derive(Debug, Clone)]
pub struct Store {
    times: Times,
    lanes: Vec<Lane>,
    /// First sample of each run of one step and its time, microseconds.
    steps: Vec<(usize, u64, Step)>,
    keeping: Keeping,
}

impl Default for Store {
    fn default() -> Self {
        Self::keeping(Keeping::USUAL)
    }
}

impl Store {
    fn keeping(keeping: Keeping) -> Self {
        Self {
            times: Times::new(keeping),
            lanes: Vec::new(),
            steps: Vec::new(),
            keeping,
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
            self.lanes.push(Lane::new(self.keeping));
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

    /// Samples taken in.
    #[must_use]
    pub fn len(&self) -> usize {
        self.times.len()
    }

    /// Whether nothing has arrived yet.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Time of the first and the last sample, microseconds.
    #[must_use]
    pub fn extent_us(&self) -> Option<(u64, u64)> {
        Some((self.times.first_us()?, self.times.last_us()?))
    }

    /// Time of a sample, microseconds; of an old one as if the samples of its block lay evenly.
    #[must_use]
    pub fn time_us(&self, sample: usize) -> Option<u64> {
        self.times.of(sample)
    }

    /// Index of the first sample at `t_us` or later; `len()` when there is none.
    #[must_use]
    pub fn first_at(&self, t_us: u64) -> usize {
        self.times.first_at(t_us)
    }

    /// The code of a lane at a sample; absent where the channel gave none, and for an old sample that is only known
    /// [together](Self::together) with others.
    #[must_use]
    pub fn code(&self, lane: usize, sample: usize) -> Option<u32> {
        let code = self.lanes.get(lane)?.codes.get(sample)?;
        (code != NOTHING).then_some(code)
    }

    /// How many samples are only known together, by their extremes, where this one lies: 1 for the latest, 16, 256, ... for
    /// older ones.
    #[must_use]
    pub fn together(&self, sample: usize) -> usize {
        self.lanes.first().map_or(1, |lane| lane.together(sample))
    }

    /// The last code of a lane; absent where the channel gave none.
    #[must_use]
    pub fn last_code(&self, lane: usize) -> Option<u32> {
        self.code(lane, self.len().checked_sub(1)?)
    }

    /// Smallest and largest code of a lane over samples `range`, in a time that grows with the logarithm of its length:
    /// exact for the latest samples; for old ones the blocks at its edges count whole. Absent when it holds no reading.
    #[must_use]
    pub fn extremes(&self, lane: usize, range: Range<usize>) -> Option<Extremes> {
        self.lanes.get(lane)?.extremes(range)
    }

    /// Smallest and largest code of a lane over the whole run.
    #[must_use]
    pub fn whole(&self, lane: usize) -> Option<Extremes> {
        self.extremes(lane, 0..self.len())
    }

    /// The step that a sample was taken in.
    #[must_use]
    pub fn step(&self, sample: usize) -> Option<Step> {
        let runs = self.steps.partition_point(|(first, ..)| *first <= sample);
        (sample < self.len())
            .then(|| runs.checked_sub(1).and_then(|run| self.steps.get(run)))
            .flatten()
            .map(|(.., step)| *step)
    }

    /// When each step was first begun, in the order of beginning, microseconds. Idle is no step here.
    #[must_use]
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

    const FEW: Keeping = Keeping {
        samples: 64,
        blocks: 32,
    };

    /// One sample fell out, long ago: every stretch with it in it still shows it, and where it is not, all is quiet again a
    /// block further.
    #[test]
    fn one_sample_that_fell_out_is_seen_for_ever() {
        for at in [0_usize, 1, 4095, 70_001, 99_999] {
            let mut store = Store::keeping(FEW);
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
        let mut store = Store::keeping(FEW);
        for i in 0..200_000_u64 {
            store.feed(&[i], &[], &[vec![Code(5)]], &[0]);
        }
        let lane = &store.lanes[0];
        let kept: usize = lane
            .floors
            .iter()
            .map(|floor| floor.len() - floor.oldest())
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
            let mut store = Store::keeping(FEW);
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
        assert_eq!(store.step(1), Some(Step::Rest));
        assert_eq!(store.step(2), Some(Step::Full));
        assert_eq!(store.step(4), None);
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
