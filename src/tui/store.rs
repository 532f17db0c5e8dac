//! The trace store: every sample of the run, with a min/max pyramid over each channel.
//!
//! Belongs here: keeping samples, and the extremes of any stretch of them at a cost that does not grow with the
//! run's length. Does not belong here: drawing, figures.

use crate::units::{Code, Step};
use std::ops::Range;

/// Samples under one block of the lowest floor, and blocks under one block of the next.
/// Larger: fewer floors to keep, more samples to look at on the edges of a stretch.
const FANOUT: usize = 16;

/// What stands where a channel gave no reading. No code comes near it: codes have at most 24 bits.
const NOTHING: u32 = u32::MAX;

/// Smallest and largest code of a stretch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Extremes {
    /// Smallest code.
    pub min: u32,
    /// Largest code.
    pub max: u32,
}

impl Extremes {
    fn join(a: Option<Self>, b: Option<Self>) -> Option<Self> {
        match (a, b) {
            (Some(a), Some(b)) => Some(Self {
                min: a.min.min(b.min),
                max: a.max.max(b.max),
            }),
            (one, None) | (None, one) => one,
        }
    }

    fn of(code: u32) -> Option<Self> {
        (code != NOTHING).then_some(Self {
            min: code,
            max: code,
        })
    }
}

/// One channel: a code for each sample and the floors of extremes above them.
#[derive(Debug, Clone, Default)]
struct Lane {
    codes: Vec<u32>,
    /// `floors[0]` holds the extremes of whole blocks of `FANOUT` codes, `floors[k + 1]` those of whole blocks
    /// of `FANOUT` entries of `floors[k]`.
    floors: Vec<Vec<Option<Extremes>>>,
}

impl Lane {
    fn push(&mut self, code: u32) {
        self.codes.push(code);
        let mut filled = self.codes.len();
        let mut floor = 0;
        while filled.is_multiple_of(FANOUT) {
            let block = (0..FANOUT).fold(None, |sum, back| {
                let below = filled - 1 - back;
                Extremes::join(sum, self.entry(floor, below))
            });
            if self.floors.len() == floor {
                self.floors.push(Vec::new());
            }
            if let Some(blocks) = self.floors.get_mut(floor) {
                blocks.push(block);
            }
            filled /= FANOUT;
            floor += 1;
        }
    }

    /// Entry `index` of floor `floor`, where floor 0 is the codes themselves.
    fn entry(&self, floor: usize, index: usize) -> Option<Extremes> {
        match floor.checked_sub(1) {
            None => self.codes.get(index).copied().and_then(Extremes::of),
            Some(above) => self
                .floors
                .get(above)
                .and_then(|blocks| blocks.get(index))
                .copied()
                .flatten(),
        }
    }

    /// Extremes of `range`, climbing from both edges towards the floors where whole blocks serve.
    fn extremes(&self, range: Range<usize>) -> Option<Extremes> {
        let (mut from, mut to) = (range.start, range.end.min(self.codes.len()));
        let mut sum = None;
        let mut floor = 0;
        while from < to {
            let last_floor = floor >= self.floors.len();
            while from < to && (last_floor || !from.is_multiple_of(FANOUT)) {
                sum = Extremes::join(sum, self.entry(floor, from));
                from += 1;
            }
            while from < to && !to.is_multiple_of(FANOUT) {
                to -= 1;
                sum = Extremes::join(sum, self.entry(floor, to));
            }
            from /= FANOUT;
            to /= FANOUT;
            floor += 1;
        }
        sum
    }
}

/// Every sample of a run. Sample times never decrease: enforced by [`Store::feed`].
#[derive(Debug, Clone, Default)]
pub struct Store {
    t_us: Vec<u64>,
    lanes: Vec<Lane>,
    /// First sample of each run of one step.
    steps: Vec<(usize, Step)>,
}

impl Store {
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
            self.lanes.push(Lane::default());
            let (before, last) = (self.t_us.len(), self.lanes.len() - 1);
            (0..before).for_each(|_| self.lanes[last].push(NOTHING));
        }
        let column_of = |lane: usize| lanes.iter().position(|at| *at == lane);
        let columns: Vec<Option<&Vec<Code>>> = (0..self.lanes.len())
            .map(|lane| column_of(lane).and_then(|column| codes.get(column)))
            .collect();
        for (i, t) in t_us.iter().enumerate() {
            let step = step.get(i).copied().unwrap_or(Step::Idle);
            if self.steps.last().is_none_or(|(_, last)| *last != step) {
                self.steps.push((self.t_us.len(), step));
            }
            let earliest = self.t_us.last().copied().unwrap_or(0);
            self.t_us.push((*t).max(earliest));
            for (lane, column) in self.lanes.iter_mut().zip(&columns) {
                let code = column.and_then(|codes| codes.get(i));
                lane.push(code.map_or(NOTHING, |code| code.0));
            }
        }
    }

    /// Samples in the store.
    #[must_use]
    pub fn len(&self) -> usize {
        self.t_us.len()
    }

    /// Whether nothing has arrived yet.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.t_us.is_empty()
    }

    /// Time of the first and the last sample, microseconds.
    #[must_use]
    pub fn extent_us(&self) -> Option<(u64, u64)> {
        Some((*self.t_us.first()?, *self.t_us.last()?))
    }

    /// Time of a sample, microseconds.
    #[must_use]
    pub fn time_us(&self, sample: usize) -> Option<u64> {
        self.t_us.get(sample).copied()
    }

    /// Index of the first sample at `t_us` or later; `len()` when there is none.
    #[must_use]
    pub fn first_at(&self, t_us: u64) -> usize {
        self.t_us.partition_point(|t| *t < t_us)
    }

    /// The code of a lane at a sample; absent where the channel gave none.
    #[must_use]
    pub fn code(&self, lane: usize, sample: usize) -> Option<u32> {
        let code = *self.lanes.get(lane)?.codes.get(sample)?;
        (code != NOTHING).then_some(code)
    }

    /// The last code of a lane; absent where the channel gave none.
    #[must_use]
    pub fn last_code(&self, lane: usize) -> Option<u32> {
        self.code(lane, self.t_us.len().checked_sub(1)?)
    }

    /// Smallest and largest code of a lane over samples `range`, exact, in a time that grows with the logarithm
    /// of its length. Absent when it holds no reading.
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
        let runs = self.steps.partition_point(|(first, _)| *first <= sample);
        (sample < self.len())
            .then(|| runs.checked_sub(1).and_then(|run| self.steps.get(run)))
            .flatten()
            .map(|(_, step)| *step)
    }

    /// When each step was first begun, in the order of beginning, microseconds. Idle is no step here.
    #[must_use]
    pub fn step_starts(&self) -> Vec<(Step, u64)> {
        let mut starts: Vec<(Step, u64)> = Vec::new();
        for (sample, step) in &self.steps {
            let seen = *step == Step::Idle || starts.iter().any(|(known, _)| known == step);
            if let (false, Some(t)) = (seen, self.time_us(*sample)) {
                starts.push((*step, t));
            }
        }
        starts
    }

    /// Runs of one step that touch samples `range`: the samples of each (cut to `range`) and its step.
    pub fn steps_in(&self, range: Range<usize>) -> impl Iterator<Item = (Range<usize>, Step)> {
        let from = self
            .steps
            .partition_point(|(first, _)| *first <= range.start)
            .saturating_sub(1);
        let to = range.end.min(self.len());
        let start = range.start;
        self.steps[from.min(self.steps.len())..]
            .iter()
            .enumerate()
            .map(move |(i, (first, step))| {
                let next = self
                    .steps
                    .get(from + i + 1)
                    .map_or(self.len(), |(first, _)| *first);
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

    proptest! {
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
            store.extremes(0, 654_322..999_999),
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
