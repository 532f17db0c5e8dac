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

use super::board::{Board, open};
use super::samples::{Ruler, Samples};
use crate::constants::{Block, Draft, Impossible, Task};
use measure::units::Code;

/// How far the blending board's clock may be off: 3 %, a calibrated oscillator without a crystal over its warm-up
/// (common practice, no source).
const CLOCK: f64 = 0.03;
/// A longer gap between two samples than so many usual ones: what happened meanwhile is not known.
const GAP_SAMPLES: u64 = 4;
/// Noise allowed on an input's reading, in its standard deviations.
const NOISE_SDS: f64 = 3.0;

/// The band at one sample, DAC codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Band {
    /// Lowest.
    pub low: u16,
    /// Highest.
    pub high: u16,
    /// The board runs beyond doubt, so that `low` means something.
    pub runs: bool,
    /// Stopped beyond doubt.
    pub stopped: bool,
}

/// Lowest and highest readings of every input at one sample, blending board's codes.
pub(super) type Reach = Vec<(u16, u16)>;

/// Everything about the inputs that does not depend on the output.
pub(super) struct Envelope<'a> {
    samples: Samples<'a>,
    pub ruler: Ruler,
    pub numbers: &'a Draft,
    /// The factors alone, without windows: for readings that are believed.
    pub open: Block,
    /// The same with the limits of the slowest rise and fastest fall, and the other way round.
    pub low_block: Block,
    pub high_block: Block,
    /// Usual time between samples, microseconds.
    pub gap_us: u64,
    /// Standard deviation of each input's noise, measuring codes.
    pub noise: Vec<f64>,
    /// So many samples before and after a sample may be the ones that the board read.
    pub near: usize,
    /// Readings near each sample.
    pub reach: Vec<Reach>,
}

impl<'a> Envelope<'a> {
    /// Looks at the inputs. Two samples or more.
    pub fn new(block: &'a Block, samples: Samples<'a>, ruler: Ruler) -> Result<Self, Impossible> {
        let numbers = block.numbers();
        let gap_us = usual_gap(samples.t_us);
        let step_us = 1e6 / f64::from(numbers.board.rate_hz);
        let lag_steps = f64::from((1_u32 << deepest_filter(numbers)) - 1) * CLOCK;
        let near = near(step_us * (1.0 + lag_steps), gap_us);
        let noise: Vec<f64> = samples.inputs.iter().map(|codes| noise_sd(codes)).collect();
        let mut envelope = Self {
            samples,
            ruler,
            numbers,
            open: open(numbers, 0.0, 0.0)?,
            low_block: open(numbers, -CLOCK, CLOCK)?,
            high_block: open(numbers, CLOCK, -CLOCK)?,
            gap_us,
            noise,
            near,
            reach: Vec::new(),
        };
        envelope.reach = envelope.all_reach();
        Ok(envelope)
    }

    /// What the block allows at every sample. `power_us`: when power was cycled.
    pub fn bands(&self, power_us: &[u64]) -> Vec<Band> {
        let mut board = Board::new(self);
        let mut power = power_us.iter().peekable();
        let mut bands = Vec::with_capacity(self.samples.t_us.len());
        for (i, reach) in self.reach.iter().enumerate() {
            let t_us = self.samples.t_us[i];
            if power.next_if(|cycled| **cycled <= t_us).is_some() {
                board.power_cycled();
            }
            let before = i
                .checked_sub(1)
                .map_or(t_us, |before| self.samples.t_us[before]);
            if t_us - before > GAP_SAMPLES * self.gap_us {
                board.lost_sight();
            } else {
                for _ in 0..steps_between(self.samples.t_us[0], before, t_us, self.numbers) {
                    board.step(reach);
                }
            }
            bands.push(board.band(self.samples.output[i]));
        }
        widened(&bands, self.near)
    }

    /// The command that standing inputs settle to, DAC codes, from readings that are low or high in command.
    pub fn settled(&self, codes: &[u16]) -> f64 {
        crate::twin::settled(&self.open, codes).map_or(0.0, |shown| f64::from(shown.dac))
    }

    /// The factors' readings with the lowest and with the highest command.
    pub fn ends(&self, reach: &[(u16, u16)]) -> (Vec<u16>, Vec<u16>) {
        let factors = self.numbers.inputs.iter().zip(reach);
        factors
            .filter_map(|(input, (low, high))| match &input.task {
                Task::Factor(factor) if factor.full_edge < factor.rest_edge => Some((*high, *low)),
                Task::Factor(_) => Some((*low, *high)),
                Task::Check(_) => None,
            })
            .unzip()
    }

    /// One code of the measuring board, millivolts.
    pub fn code_mv(&self) -> f64 {
        self.ruler.code_mv()
    }

    /// Readings that one sample alone allows, without noise.
    pub fn reach_of_one(&self, i: usize) -> Reach {
        let columns = self.samples.inputs.iter();
        columns
            .map(|codes| self.ruler.input(codes[i], 0.0))
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
            span.ln() / -left.ln()
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
                    .map(|code| self.ruler.input(*code, NOISE_SDS * sd))
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

pub(super) fn deepest_filter(numbers: &Draft) -> u8 {
    let shifts = numbers.inputs.iter().map(|input| match &input.task {
        Task::Factor(factor) => factor.filter_shift,
        Task::Check(_) => 0,
    });
    shifts.max().unwrap_or(0)
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

/// Steps of the blending board's clock between two moments, counted so that none is lost over many.
fn steps_between(first_us: u64, from_us: u64, to_us: u64, numbers: &Draft) -> u64 {
    let steps = |t_us: u64| (t_us - first_us) * u64::from(numbers.board.rate_hz) / 1_000_000;
    steps(to_us) - steps(from_us)
}

fn hull(ranges: &[(u16, u16)]) -> (u16, u16) {
    ranges.iter().fold((u16::MAX, 0), |all, one| {
        (all.0.min(one.0), all.1.max(one.1))
    })
}

/// Each band as wide as those near it: the boards' clocks do not tick together.
fn widened(bands: &[Band], near: usize) -> Vec<Band> {
    (0..bands.len())
        .map(|i| {
            let around = &bands[i.saturating_sub(near)..(i + near + 1).min(bands.len())];
            Band {
                low: around.iter().map(|band| band.low).min().unwrap_or(0),
                high: around.iter().map(|band| band.high).max().unwrap_or(0),
                runs: around.iter().all(|band| band.runs),
                stopped: around.iter().all(|band| band.stopped),
            }
        })
        .collect()
}

/// Standard deviation of a column's noise, codes: from the differences of neighbours, whose middle a movement does not
/// move. At least the quantisation, 1/sqrt(12) (GUM F.2.2.1).
pub(super) fn noise_sd(codes: &[Code]) -> f64 {
    let mut steps: Vec<u32> = codes
        .windows(2)
        .map(|pair| pair[0].0.abs_diff(pair[1].0))
        .collect();
    let quantised = 1.0 / 12_f64.sqrt();
    if steps.is_empty() {
        return quantised;
    }
    let at = steps.len() * 683 / 1000; // half of a normal distribution's |x| above 1 sd is 0.317
    let sd = f64::from(*steps.select_nth_unstable(at).1) / std::f64::consts::SQRT_2;
    sd.max(quantised)
}

#[cfg(test)]
mod tests {
    use super::super::testing::block;
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

    #[test]
    fn steps_are_counted_without_loss() {
        let numbers = block().into_draft();
        let times: Vec<u64> = (0..1000).map(|n| 5_000 + n * 970).collect();
        let all: u64 = times
            .windows(2)
            .map(|pair| steps_between(times[0], pair[0], pair[1], &numbers))
            .sum();
        assert_eq!(all, 999 * 970 / 1000);
    }
}
