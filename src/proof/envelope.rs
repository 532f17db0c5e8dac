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

use super::samples::{Ruler, Samples};
use crate::constants::{Block, Check, Draft, Impossible, Input, Q15_ONE, Start, Task, Window};
use crate::twin::Twin;
use crate::units::Code;

/// How far the blending board's clock may be off: 3 %, a calibrated oscillator without a crystal over its warm-up
/// (common practice, no source).
const CLOCK: f64 = 0.03;
/// A longer gap between two samples than so many usual ones: what happened meanwhile is not known.
const GAP_SAMPLES: u64 = 4;
/// Noise allowed on an input's reading, in its standard deviations.
const NOISE_SDS: f64 = 3.0;
/// Steps that the count of bad samples may be off, for two clocks.
const STEPS_OFF: u32 = 2;

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
    ruler: Ruler,
    numbers: &'a Draft,
    /// The factors alone, without windows: for readings that are believed.
    pub open: Block,
    low_block: Block,
    high_block: Block,
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
        let lag_steps = f64::from(1_u32 << deepest_filter(numbers)) * CLOCK;
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

/// Whether a sample is bad for the core.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Belief {
    /// Good beyond doubt.
    Good,
    /// Good or bad.
    Open,
    /// Bad beyond doubt.
    Bad,
}

/// Whether readings within these ranges are good to a core with this block.
pub(super) fn belief(numbers: &Draft, reach: &[(u16, u16)]) -> Belief {
    let mut all = Belief::Good;
    for (input, (low, high)) in numbers.inputs.iter().zip(reach) {
        let window = input.window;
        let mut this = if *high < window.low || *low > window.high {
            Belief::Bad
        } else if window.holds(*low) && window.holds(*high) {
            Belief::Good
        } else {
            Belief::Open
        };
        if let (Task::Check(check), Belief::Good) = (&input.task, this)
            && let Some(partner) = reach.get(usize::from(check.partner))
        {
            this = agreement(*check, (*low, *high), *partner);
        }
        all = match (all, this) {
            (Belief::Bad, _) | (_, Belief::Bad) => Belief::Bad,
            (Belief::Open, _) | (_, Belief::Open) => Belief::Open,
            _ => Belief::Good,
        };
    }
    all
}

/// Whether a check track agrees with its partner, each within its range.
fn agreement(check: Check, own: (u16, u16), partner: (u16, u16)) -> Belief {
    let gain = f64::from(check.gain_q12) / 4096.0;
    let ends = [gain * f64::from(partner.0), gain * f64::from(partner.1)];
    let off = |code: u16, expected: f64| f64::from(code) - f64::from(check.offset) - expected;
    let lowest = off(own.0, ends[0].max(ends[1]));
    let highest = off(own.1, ends[0].min(ends[1]));
    let band = f64::from(check.band);
    if lowest > band || highest < -band {
        Belief::Bad
    } else if lowest >= -band && highest <= band {
        Belief::Good
    } else {
        Belief::Open
    }
}

/// What the board may be doing, and its two twins.
struct Board<'e, 'a> {
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
    fn new(of: &'e Envelope<'a>) -> Self {
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

    fn power_cycled(&mut self) {
        (self.may_run, self.may_be_zero, self.stopped) = (false, true, false);
        (self.fewest, self.most) = (0, 0);
        self.waiting = Some(0);
        self.low = self.lowest.clone();
    }

    /// Samples are missing: whatever the inputs did meanwhile.
    fn lost_sight(&mut self) {
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

    fn step(&mut self, reach: &Reach) {
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

    fn band(&mut self, output: Code) -> Band {
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
fn open(numbers: &Draft, rise: f64, fall: f64) -> Result<Block, Impossible> {
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

fn deepest_filter(numbers: &Draft) -> u8 {
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
    use super::super::testing::{block, guarded};
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

    /// Windows of `guarded`: 82 to 942 and 10 to 720.
    #[test]
    fn a_reading_on_the_edge_of_a_window_is_open() {
        let numbers = guarded().into_draft();
        assert_eq!(belief(&numbers, &[(82, 84), (300, 302)]), Belief::Good);
        assert_eq!(belief(&numbers, &[(81, 83), (300, 302)]), Belief::Open);
        assert_eq!(belief(&numbers, &[(79, 81), (300, 302)]), Belief::Bad);
        assert_eq!(belief(&numbers, &[(81, 83), (721, 723)]), Belief::Bad);
    }

    /// Expected code = 0.5 x 400 + 3 = 203, band 12: 215 agrees, 216 does not; the partner one code off is half a code.
    #[test]
    fn a_check_track_is_held_against_its_partner() {
        let check = Check {
            partner: 0,
            gain_q12: 2048,
            offset: 3,
            band: 12,
        };
        assert_eq!(agreement(check, (213, 214), (399, 401)), Belief::Good);
        assert_eq!(agreement(check, (214, 216), (399, 401)), Belief::Open);
        assert_eq!(agreement(check, (216, 218), (399, 401)), Belief::Bad);
        assert_eq!(agreement(check, (188, 190), (400, 400)), Belief::Bad);
    }

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
        let numbers = block().into_draft();
        let times: Vec<u64> = (0..1000).map(|n| 5_000 + n * 970).collect();
        let all: u64 = times
            .windows(2)
            .map(|pair| steps_between(times[0], pair[0], pair[1], &numbers))
            .sum();
        assert_eq!(all, 999 * 970 / 1000);
    }
}
