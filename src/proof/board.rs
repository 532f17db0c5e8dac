//! What the blending board may be doing, and the lowest and the highest twin of it.

use super::belief::{Belief, belief};
use super::envelope::{Band, Envelope, Reach, deepest_filter};
use crate::constants::{Block, Draft, Impossible, Input, Q15_ONE, Start, Task, Window};
use crate::twin::Twin;
use measure::units::Code;

/// Steps that the count of bad samples may be off, for two clocks.
const STEPS_OFF: u32 = 2;

/// What the board may be doing, and its two twins.
pub(super) struct Board<'e, 'a> {
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

impl<'e, 'a> Board<'e, 'a> {
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

    /// Samples are missing: whatever the inputs did meanwhile.
    pub fn lost_sight(&mut self) {
        if self.stopped {
            return;
        }
        self.low = self.lowest.clone();
        self.low_dac = self.of.numbers.output.zero_dac;
        self.high = self.highest.clone();
        self.high_dac = self.of.numbers.output.full_dac;
        self.may_run = true;
        self.may_be_zero = true;
        self.waiting = None;
        self.fewest = 0;
        self.most = u32::from(self.of.numbers.persistence);
    }

    /// One step with readings in these ranges.
    pub fn step(&mut self, reach: &Reach) {
        let numbers = self.of.numbers;
        let belief = belief(numbers, reach);
        let (low, high) = self.of.ends(reach);
        let persistence = u32::from(numbers.persistence);
        match belief {
            Belief::Good => {
                self.fewest = self.fewest.saturating_sub(1);
                self.most = self.most.saturating_sub(1);
            }
            Belief::Open => {
                self.fewest = self.fewest.saturating_sub(1);
                self.most = self.most.saturating_add(1).min(persistence);
            }
            Belief::Bad => {
                self.fewest = self.fewest.saturating_add(1).min(persistence + STEPS_OFF);
                self.most = self.most.saturating_add(1).min(persistence);
            }
        }
        self.stopped |= self.fewest >= persistence + STEPS_OFF;
        self.may_be_zero |= self.most + STEPS_OFF >= persistence && belief != Belief::Good;
        if belief != Belief::Good || self.most > 0 {
            // It may hold, or not rise yet.
            self.low = self.lowest.clone();
        }
        self.low_dac = self.low.step(&low).dac;
        if belief != Belief::Bad {
            self.wait_for_start(reach, &high);
            self.high_dac = self.high.step(&high).dac;
        }
    }

    /// After a power cycle nothing may come out before the start condition may have been seen.
    fn wait_for_start(&mut self, reach: &Reach, high: &[u16]) {
        let Some(seen) = self.waiting else { return };
        let numbers = self.of.numbers;
        let at = usize::from(numbers.start.input);
        let (Some(Task::Factor(factor)), Some((low, top))) = (
            numbers.inputs.get(at).map(|input| &input.task),
            reach.get(at),
        ) else {
            return;
        };
        let may_be_at_rest = factor.travel(*low) <= 0 || factor.travel(*top) <= 0;
        let seen = if may_be_at_rest { seen + 1 } else { 0 };
        self.waiting = Some(seen);
        if seen + STEPS_OFF >= u32::from(numbers.start.samples) {
            self.waiting = None;
            self.may_run = true;
            // Command 0, the filters where the inputs are.
            let mut codes = high.to_vec();
            if let (Some(code), Some(Task::Factor(start))) = (
                codes.get_mut(usize::from(self.of.open.numbers().start.input)),
                numbers.inputs.get(at).map(|input| &input.task),
            ) {
                *code = start.rest_edge;
            }
            self.high = Twin::new(&self.of.high_block);
            self.high.step(&codes);
        }
    }

    /// What it may put out now; the output seen may show that it runs.
    pub fn band(&mut self, output: Code) -> Band {
        if !self.of.ruler.may_be_zero(output) {
            // It can be seen to run, unless it must not.
            self.may_be_zero = false;
        }
        let may_run = self.may_run && !self.stopped;
        let runs = may_run && !self.may_be_zero;
        Band {
            low: if runs { self.low_dac } else { 0 },
            high: if may_run {
                self.high_dac
            } else {
                self.of.numbers.output.zero_dac
            },
            runs,
            stopped: self.stopped,
        }
    }
}

/// The factors alone, every code believed, no persistence; rise and fall limits changed by these shares.
pub(super) fn open(numbers: &Draft, rise: f64, fall: f64) -> Result<Block, Impossible> {
    let is_factor = |input: &Input| matches!(input.task, Task::Factor(_));
    let top = (1_u16 << numbers.board.adc_bits) - 1;
    let before = &numbers.inputs[..usize::from(numbers.start.input).min(numbers.inputs.len())];
    let start = before.iter().filter(|input| is_factor(input)).count();
    let mut draft = numbers.clone();
    draft.inputs.retain(is_factor);
    for input in &mut draft.inputs {
        input.window = Window { low: 0, high: top };
    }
    draft.start = Start {
        input: u8::try_from(start).unwrap_or(0),
        samples: 1,
    };
    draft.persistence = u16::MAX;
    draft.output.rise_q15 = changed(draft.output.rise_q15, rise);
    draft.output.fall_q15 = changed(draft.output.fall_q15, fall);
    Block::new(draft)
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped to 1 ..= 32768
fn changed(limit: u16, share: f64) -> u16 {
    let exact = f64::from(limit) * (1.0 + share);
    let away = if share > 0.0 {
        exact.ceil()
    } else {
        exact.floor()
    };
    away.clamp(1.0, f64::from(Q15_ONE)) as u16
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

#[cfg(test)]
mod tests {
    use super::super::testing::guarded;
    use super::*;

    /// The two ends of every running board.
    #[test]
    fn the_ends_are_zero_and_full() {
        let block = open(guarded().numbers(), 0.0, 0.0).unwrap();
        let full: Vec<u16> = vec![1023, 0];
        assert_eq!(at_end(&block, End::Full).step(&full).dac, 4095);
        assert_eq!(at_end(&block, End::Rest).step(&[0, 1023]).dac, 100);
    }
}
