//! The band that the block allows the output at every sample.
//!
//! A core's step never turns around: a higher command of an input, a higher filter or a higher command before never
//! give a lower command after. So two twins, one fed with the lowest and one with the highest readings that the blending
//! board may have had, hold the real output between them at every instant, moving or still. Two things make the readings
//! uncertain: codes of another board at other instants (the range over a few samples before and after, with noise), and a
//! clock that may run [`CLOCK`] fast or slow (the limits of rise and fall).
//!
//! What the board is doing cannot be read from the capture. An output above zero shows that it runs; a sample that is
//! bad beyond doubt for longer than the persistence that it is stopped; anything else allows both.

use super::plausibility::{Plausibility, plausibility};
use super::samples::{Samples, Scaling};
use super::trials::GAP_SAMPLES;
use crate::constants::{
    Block, BlockFields, Factor, Input, InvalidBlock, Q15_ONE, Start, Task, Window,
};
use measure::statistics::ROUNDING_RMS;
use measure::units::Code;
use measure::units::maths;
use std::rc::Rc;

/// How far the blending board's clock may be off: 3 %, a calibrated oscillator without a crystal over its warm-up
/// (common practice, no source).
const CLOCK: f64 = 0.03;
/// Noise allowed on an input's reading, in its standard deviations.
const NOISE_SDS: f64 = 3.0;

/// Lowest and highest readings of every input at one sample, blending board's codes.
pub(super) type Reach = Vec<(u16, u16)>;

/// Everything about the inputs that does not depend on the output.
pub(super) struct Envelope<'a> {
    pub samples: Samples<'a>,
    pub scaling: Scaling,
    pub numbers: &'a BlockFields,
    /// The factors alone, without windows: for readings that are believed.
    pub open: Block,
    /// The same with the limits of the slowest rise and fastest fall, and the other way round.
    pub low_block: Block,
    pub high_block: Block,
    pub gap_us: u64,
    /// Standard deviation of each input's noise, measuring codes.
    pub noise: Vec<f64>,
    /// So many samples before and after a sample may be the ones that the board read.
    pub near: usize,
    /// Readings near each sample.
    pub reach: Rc<Vec<Reach>>,
    /// What they are to the core.
    pub taken: Rc<Vec<Taken>>,
}

/// What the readings near a sample are to the core, whatever its filters and limits of rise and fall.
pub(super) struct Taken {
    pub plausibility: Plausibility,
    /// The factors' readings with the lowest and with the highest command.
    pub low: Vec<u16>,
    pub high: Vec<u16>,
}

impl<'a> Envelope<'a> {
    /// Looks at the inputs. Two samples or more.
    pub fn new(
        block: &'a Block,
        samples: Samples<'a>,
        scaling: Scaling,
    ) -> Result<Self, InvalidBlock> {
        let numbers = block.numbers();
        let gap_us = usual_gap(samples.t_us);
        let step_us = 1e6 / f64::from(numbers.board.rate_hz);
        let lag_steps = f64::from((1_u32 << deepest_filter(numbers)) - 1) * CLOCK;
        let near = near(step_us * (1.0 + lag_steps), gap_us);
        let noise: Vec<f64> = samples.inputs.iter().map(|codes| noise_sd(codes)).collect();
        let mut envelope = Self {
            samples,
            scaling,
            numbers,
            open: open(numbers, 0.0, 0.0)?,
            low_block: open(numbers, -CLOCK, CLOCK)?,
            high_block: open(numbers, CLOCK, -CLOCK)?,
            gap_us,
            noise,
            near,
            reach: Rc::default(),
            taken: Rc::default(),
        };
        envelope.reach = Rc::new(envelope.all_reach());
        envelope.taken = Rc::new(all_taken(numbers, &envelope.reach));
        Ok(envelope)
    }

    /// The same samples and another block of the same boards: what does not depend on its numbers is not looked at again.
    pub fn with(&self, block: &'a Block) -> Result<Self, InvalidBlock> {
        let numbers = block.numbers();
        let filters = deepest_filter(numbers) == deepest_filter(self.numbers);
        if !filters || numbers.board != self.numbers.board {
            return Self::new(block, self.samples, self.scaling);
        }
        let taken = if without_filters(numbers) == without_filters(self.numbers) {
            Rc::clone(&self.taken)
        } else {
            Rc::new(all_taken(numbers, &self.reach))
        };
        Ok(Self {
            samples: self.samples,
            scaling: self.scaling,
            numbers,
            open: open(numbers, 0.0, 0.0)?,
            low_block: open(numbers, -CLOCK, CLOCK)?,
            high_block: open(numbers, CLOCK, -CLOCK)?,
            gap_us: self.gap_us,
            noise: self.noise.clone(),
            near: self.near,
            reach: Rc::clone(&self.reach),
            taken,
        })
    }

    /// Whether a sample follows the one before it: after a longer gap nothing is known of the time between.
    pub fn follows(&self, i: usize) -> bool {
        let t = self.samples.t_us;
        i > 0 && t[i] - t[i - 1] <= GAP_SAMPLES * self.gap_us
    }

    /// The command that standing inputs settle to, DAC codes, from readings that are low or high in command.
    pub fn settled(&self, codes: &[u16]) -> f64 {
        crate::twin::settled(&self.open, codes).map_or(0.0, |shown| f64::from(shown.dac))
    }

    /// The factors' readings with the lowest and with the highest command. Of two tracks the lower counts.
    pub fn ends(&self, reach: &[(u16, u16)]) -> (Vec<u16>, Vec<u16>) {
        ends_of(self.numbers, reach)
    }

    /// Readings that one sample alone allows, without noise.
    pub fn reach_of_one(&self, i: usize) -> Reach {
        let columns = self.samples.inputs.iter();
        columns
            .map(|codes| self.scaling.input(codes[i], 0.0))
            .collect()
    }

    /// Samples until the filters have forgotten where they were: below one code of what they settle to.
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss
    )]
    pub fn filter_samples(&self) -> usize {
        let span = f64::from(1_u32 << self.numbers.board.adc_bits);
        let left = 1.0 - 1.0 / f64::from(1_u32 << deepest_filter(self.numbers));
        let steps = if left > 0.0 {
            maths::ln(span) / -maths::ln(left)
        } else {
            1.0
        };
        let us = steps * 1e6 / f64::from(self.numbers.board.rate_hz) * (1.0 + CLOCK);
        (us / self.gap_us as f64).ceil() as usize
    }

    fn all_reach(&self) -> Vec<Reach> {
        let n = self.samples.t_us.len();
        let columns: Vec<Vec<(u16, u16)>> = self
            .samples
            .inputs
            .iter()
            .zip(&self.noise)
            .map(|(codes, sd)| {
                let one: Vec<(u16, u16)> = codes
                    .iter()
                    .map(|code| self.scaling.input(*code, NOISE_SDS * sd))
                    .collect();
                (0..n)
                    .map(|i| hull(&one[i.saturating_sub(self.near)..(i + self.near + 1).min(n)]))
                    .collect()
            })
            .collect();
        (0..n)
            .map(|i| columns.iter().map(|column| column[i]).collect())
            .collect()
    }
}

fn all_taken(numbers: &BlockFields, reach: &[Reach]) -> Vec<Taken> {
    let one = |reach: &Reach| {
        let (low, high) = ends_of(numbers, reach);
        Taken {
            plausibility: plausibility(numbers, reach),
            low,
            high,
        }
    };
    reach.iter().map(one).collect()
}

/// The inputs as if they had no filters.
fn without_filters(numbers: &BlockFields) -> Vec<Input> {
    let mut inputs = numbers.inputs.clone();
    for input in &mut inputs {
        if let Task::Factor(factor) = &mut input.task {
            factor.filter_shift = 0;
        }
    }
    inputs
}

/// As [`Envelope::ends`], by these numbers.
pub(super) fn ends_of(numbers: &BlockFields, reach: &[(u16, u16)]) -> (Vec<u16>, Vec<u16>) {
    let factors = numbers.inputs.iter().zip(reach).enumerate();
    factors
        .filter_map(|(i, (input, (low, high)))| {
            let factor = input.factor()?;
            let falls = factor.full_edge < factor.rest_edge;
            let own = if falls { (*high, *low) } else { (*low, *high) };
            Some(lower_of_tracks(numbers, reach, i, factor, own))
        })
        .unzip()
}

/// A factor's readings with the lowest and the highest command, brought down to what its check tracks allow: from the code
/// that the track stands for to one code of its own further, and a code for rounding on either side.
fn lower_of_tracks(
    numbers: &BlockFields,
    reach: &[(u16, u16)],
    i: usize,
    factor: &Factor,
    (mut lowest, mut highest): (u16, u16),
) -> (u16, u16) {
    let sign = if factor.full_edge < factor.rest_edge {
        -1.0
    } else {
        1.0
    };
    for (input, (low, high)) in numbers.inputs.iter().zip(reach) {
        let Task::Check(check) = &input.task else {
            continue;
        };
        if usize::from(check.partner) != i {
            continue;
        }
        let gain = f64::from(check.gain_q12) / 4096.0;
        let says = |code: f64| (code - f64::from(check.offset)) / gain * sign;
        let ends = [says(f64::from(*low)), says(f64::from(*high))];
        let (least, most) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
        let rest = f64::from(factor.rest_edge) * sign;
        let down = |code: u16, limit: f64, away: fn(f64) -> f64| {
            let own = f64::from(code) * sign;
            // Never beyond the rest edge, nor up.
            rounded(away(own.min(limit.max(rest)) * sign))
        };
        let outwards: [fn(f64) -> f64; 2] = if sign > 0.0 {
            [f64::floor, f64::ceil]
        } else {
            [f64::ceil, f64::floor]
        };
        lowest = down(lowest, least - 1.0, outwards[0]);
        highest = down(highest, most + 1.0 / gain.abs() + 1.0, outwards[1]);
    }
    (lowest, highest)
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped first
fn rounded(code: f64) -> u16 {
    code.clamp(0.0, f64::from(u16::MAX)) as u16
}

/// The factors alone, every code believed, no persistence; rise and fall limits changed by these shares.
pub(super) fn open(numbers: &BlockFields, rise: f64, fall: f64) -> Result<Block, InvalidBlock> {
    let is_factor = |input: &Input| input.factor().is_some();
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

pub(super) fn deepest_filter(numbers: &BlockFields) -> u8 {
    let factors = numbers.inputs.iter().filter_map(Input::factor);
    factors.map(|factor| factor.filter_shift).max().unwrap_or(0)
}

/// The middle of the times between samples, at least 1 microsecond.
pub(super) fn usual_gap(t_us: &[u64]) -> u64 {
    let mut gaps: Vec<u64> = t_us
        .windows(2)
        .map(|pair| pair[1].saturating_sub(pair[0]))
        .collect();
    let middle = gaps.len() / 2;
    if gaps.is_empty() {
        return 1;
    }
    *gaps.select_nth_unstable(middle).1.max(&mut 1)
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss
)] // small
fn near(us: f64, gap_us: u64) -> usize {
    (us / gap_us as f64).ceil().min(1e6) as usize + 1
}

fn hull(ranges: &[(u16, u16)]) -> (u16, u16) {
    ranges.iter().fold((u16::MAX, 0), |all, one| {
        (all.0.min(one.0), all.1.max(one.1))
    })
}

/// Standard deviation of a column's noise, codes: from the differences of neighbours, whose middle a movement does not
/// move. At least the quantisation, 1/sqrt(12) (GUM F.2.2.1).
pub(super) fn noise_sd(codes: &[Code]) -> f64 {
    let mut steps: Vec<u32> = codes
        .windows(2)
        .map(|pair| pair[0].0.abs_diff(pair[1].0))
        .collect();
    if steps.is_empty() {
        return ROUNDING_RMS;
    }
    let at = steps.len() * 683 / 1000; // half of a normal distribution's |x| above 1 sd is 0.317
    let sd = f64::from(*steps.select_nth_unstable(at).1) / std::f64::consts::SQRT_2;
    sd.max(ROUNDING_RMS)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn noise_of_a_constant_is_its_quantisation() {
        let still = [Code(5); 9];
        assert!((noise_sd(&still) - 0.288_675).abs() < 1e-6);
        assert!((noise_sd(&[]) - 0.288_675).abs() < 1e-6);
        // Every step is 2: sd of the difference 2, of one reading 2/sqrt 2.
        let jumping: Vec<Code> = (0..50)
            .map(|n| Code(if n % 2 == 0 { 10 } else { 12 }))
            .collect();
        assert!((noise_sd(&jumping) - 2_f64.sqrt()).abs() < 1e-12);
    }
}
