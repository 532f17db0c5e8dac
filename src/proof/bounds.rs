//! What the blending board may be doing, and the lowest and the highest twin of it.

use super::envelope::{Envelope, Reach, Taken, deepest_filter};
use super::plausibility::{Plausibility, start_travel};
use crate::constants::{Block, BlockFields, Input, Q15_ONE, Task};
use crate::twin::Twin;
use measure::units::Code;
use std::ops::Range;

/// Steps that the count of bad samples may be off, for two clocks.
const STEPS_OFF: u32 = 2;

/// The band at one sample, DAC codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Band {
    pub low: u16,
    pub high: u16,
    /// The board runs beyond doubt, so that `low` means something.
    pub runs: bool,
    pub stopped: bool,
}

impl Band {
    /// Nothing is known.
    const ANY: Self = Self {
        low: 0,
        high: u16::MAX,
        runs: false,
        stopped: false,
    };
}

/// What the block allows at every sample. `power_us`: when power was cycled; `blind`: while a fault was made that the inputs do
/// not show, so that nothing is known.
pub(super) fn bands(envelope: &Envelope<'_>, power_us: &[u64], blind: &[Range<u64>]) -> Vec<Band> {
    let samples = envelope.samples;
    let mut board = BoardBounds::new(envelope);
    let mut power = power_us.iter().peekable();
    let mut bands = Vec::with_capacity(samples.t_us.len());
    let mut before = samples.t_us.first().copied().unwrap_or(0);
    for (i, (reach, taken)) in envelope.reach.iter().zip(&*envelope.taken).enumerate() {
        let t_us = samples.t_us[i];
        if power.next_if(|cycled| **cycled <= t_us).is_some() {
            board.power_cycled();
        }
        let steps = steps_between(samples.t_us[0], before, t_us, envelope.numbers);
        if i > 0 && !envelope.follows(i) {
            board.lost_sight(steps);
        } else {
            for _ in 0..steps {
                board.step(reach, taken);
            }
        }
        bands.push(if blind.iter().any(|range| range.contains(&t_us)) {
            board.lost_sight(u64::MAX);
            Band::ANY
        } else {
            board.band(samples.output[i])
        });
        before = t_us;
    }
    widened(&bands, envelope.near)
}

/// What the board may be doing, and its two twins.
struct BoardBounds<'e, 'a> {
    of: &'e Envelope<'a>,
    /// Below and above every board that runs.
    lowest: Twin,
    highest: Twin,
    low: Twin,
    high: Twin,
    low_dac: u16,
    high_dac: u16,
    may_run: bool,
    may_be_zero: bool,
    stopped: bool,
    /// Bad samples, as few and as many as there may have been.
    fewest: u32,
    most: u32,
    /// Samples in a row that may have been at the start condition; `None` unless it waits beyond doubt.
    waiting: Option<u32>,
}

impl<'e, 'a> BoardBounds<'e, 'a> {
    /// A board of which nothing is known.
    pub fn new(of: &'e Envelope<'a>) -> Self {
        let zero = of.numbers.output.zero_dac;
        let full = of.numbers.output.full_dac;
        let lowest = at_end(&of.low_block, End::Rest);
        let highest = at_end(&of.high_block, End::Full);
        Self {
            of,
            low: lowest.clone(),
            high: highest.clone(),
            lowest,
            highest,
            low_dac: zero,
            high_dac: full,
            may_run: true,
            may_be_zero: true,
            stopped: false,
            fewest: 0,
            most: 0,
            waiting: None,
        }
    }

    /// It begins anew, waiting.
    pub fn power_cycled(&mut self) {
        (self.may_run, self.may_be_zero, self.stopped) = (false, true, false);
        (self.fewest, self.most) = (0, 0);
        self.waiting = Some(0);
        self.low = self.lowest.clone();
    }

    /// Samples are missing: whatever the inputs did in so many steps. They may have stopped the board only where there were enough.
    pub fn lost_sight(&mut self, steps: u64) {
        if self.stopped {
            return;
        }
        let persistence = u32::from(self.of.numbers.persistence);
        let steps = u32::try_from(steps).unwrap_or(u32::MAX);
        self.fewest = self.fewest.saturating_sub(steps);
        self.most = self.most.saturating_add(steps).min(persistence);
        self.may_be_zero |= self.most.saturating_add(STEPS_OFF) >= persistence;
        self.low = self.lowest.clone();
        self.low_dac = self.of.numbers.output.zero_dac;
        self.high = self.highest.clone();
        self.high_dac = self.of.numbers.output.full_dac;
        self.may_run = true;
        self.waiting = None;
    }

    pub fn step(&mut self, reach: &Reach, taken: &Taken) {
        let numbers = self.of.numbers;
        let plausibility = taken.plausibility;
        let persistence = u32::from(numbers.persistence);
        match plausibility {
            Plausibility::Good => {
                self.fewest = self.fewest.saturating_sub(1);
                self.most = self.most.saturating_sub(1);
            }
            Plausibility::Open => {
                self.fewest = self.fewest.saturating_sub(1);
                self.most = self.most.saturating_add(1).min(persistence);
            }
            Plausibility::Bad => {
                self.fewest = self.fewest.saturating_add(1).min(persistence + STEPS_OFF);
                self.most = self.most.saturating_add(1).min(persistence);
            }
        }
        self.stopped |= self.fewest >= persistence + STEPS_OFF;
        self.may_be_zero |=
            self.most + STEPS_OFF >= persistence && plausibility != Plausibility::Good;
        if plausibility != Plausibility::Good || self.most > 0 {
            // It may hold, or not rise yet.
            self.low = self.lowest.clone();
        }
        self.low_dac = self.low.step(&taken.low).dac;
        if plausibility != Plausibility::Bad {
            self.wait_for_start(reach, &taken.high);
            self.high_dac = self.high.step(&taken.high).dac;
        }
    }

    /// After a power cycle nothing may come out before the start condition may have been seen.
    fn wait_for_start(&mut self, reach: &Reach, high: &[u16]) {
        let Some(seen) = self.waiting else { return };
        let numbers = self.of.numbers;
        let Some(travel) = start_travel(numbers, reach) else {
            return;
        };
        let may_be_at_rest = travel.iter().any(|codes| *codes <= 0);
        let seen = if may_be_at_rest { seen + 1 } else { 0 };
        self.waiting = Some(seen);
        if seen + STEPS_OFF >= u32::from(numbers.start.samples) {
            self.waiting = None;
            self.may_run = true;
            // Command 0, the filters where the inputs are.
            let mut codes = high.to_vec();
            let start = numbers.inputs.get(usize::from(numbers.start.input));
            if let (Some(code), Some(start)) = (
                codes.get_mut(usize::from(self.of.open.numbers().start.input)),
                start.and_then(Input::factor),
            ) {
                *code = start.rest_edge;
            }
            self.high = Twin::new(&self.of.high_block);
            self.high.step(&codes);
        }
    }

    /// What it may put out now; the output seen may show that it runs.
    pub fn band(&mut self, output: Code) -> Band {
        if !self.of.scaling.may_be_zero(output) {
            // It can be seen to run, unless it must not.
            self.may_be_zero = false;
        }
        let may_run = self.may_run && !self.stopped;
        let runs = may_run && !self.may_be_zero;
        Band {
            low: if runs { self.low_dac } else { 0 },
            high: if may_run {
                self.high_dac
            } else if self.stopped {
                0
            } else {
                self.of.numbers.output.zero_dac
            },
            runs,
            stopped: self.stopped,
        }
    }
}

#[derive(Clone, Copy)]
enum End {
    Rest,
    Full,
}

/// A running core whose every input has been at one end for ever.
fn at_end(block: &Block, end: End) -> Twin {
    let numbers = block.numbers();
    let top = (1_u16 << numbers.board.adc_bits) - 1;
    let codes = |full: bool| -> Vec<u16> {
        let ends = numbers.inputs.iter().map(|input| match &input.task {
            Task::Factor(factor) if (factor.full_edge < factor.rest_edge) == full => 0,
            _ => top,
        });
        ends.collect()
    };
    let mut twin = Twin::new(block);
    twin.step(&codes(false));
    if let End::Full = end {
        let filters = 16 << deepest_filter(numbers);
        let ramp = u32::from(Q15_ONE) / u32::from(numbers.output.rise_q15.max(1));
        let full = codes(true);
        for _ in 0..=filters + ramp {
            twin.step(&full);
        }
    }
    twin
}

/// Steps of the blending board's clock between two moments, counted so that none is lost over many.
fn steps_between(first_us: u64, from_us: u64, to_us: u64, numbers: &BlockFields) -> u64 {
    let steps = |t_us: u64| (t_us - first_us) * u64::from(numbers.board.rate_hz) / 1_000_000;
    steps(to_us) - steps(from_us)
}

/// Each band as wide as those near it: the boards' clocks do not tick together.
fn widened(bands: &[Band], near: usize) -> Vec<Band> {
    let both = |a: Band, b: &Band| Band {
        low: a.low.min(b.low),
        high: a.high.max(b.high),
        runs: a.runs && b.runs,
        stopped: a.stopped && b.stopped,
    };
    (0..bands.len())
        .map(|i| {
            let around = &bands[i.saturating_sub(near)..(i + near + 1).min(bands.len())];
            around.iter().fold(bands[i], both)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::envelope::open;
    use super::super::testing::{block, guarded};
    use super::*;

    /// The two ends of every running board.
    #[test]
    fn the_ends_are_zero_and_full() {
        let block = open(guarded().numbers(), 0.0, 0.0).unwrap();
        let full: Vec<u16> = vec![1023, 0];
        assert_eq!(at_end(&block, End::Full).step(&full).dac, 4095);
        assert_eq!(at_end(&block, End::Rest).step(&[0, 1023]).dac, 100);
    }

    #[test]
    fn steps_are_counted_without_loss() {
        let numbers = block().numbers().clone();
        let times: Vec<u64> = (0..1000).map(|n| 5_000 + n * 970).collect();
        let all: u64 = times
            .windows(2)
            .map(|pair| steps_between(times[0], pair[0], pair[1], &numbers))
            .sum();
        assert_eq!(all, 999 * 970 / 1000);
    }
}
