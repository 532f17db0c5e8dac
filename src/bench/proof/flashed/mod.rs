//! A simulated flashed board with a measuring board on it: the twin of a block behind a hand, wires and noise.
//!
//! Belongs here: the example block of the trolley, what the hand does, the stream that a measuring board would print.
//! Does not belong here: judging it.
//!
//! The two boards have clocks of their own (0.2 % apart), samples of their own and noise of their own, as on a bench.

mod controls;
mod hand;

use crate::constants::{
    Block, BlockFields, Check, Factor, Input, InvalidBlock, OWN_REFERENCE_MV, Output, Point, Start,
    TargetBoard, Task, Watch, Window,
};
use crate::link::{Header, LineSource, StreamText, Sums};
use crate::proof::Fault;
use crate::twin::{Seen, State, Twin};
use controls::{Controls, names};
pub use hand::Hand;
use measure::units::maths;
use measure::units::{Code, Scale, ScaleError};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// Noise of either board's readings, standard deviation in codes.
const NOISE: f64 = 0.4;
/// The measuring board's clock runs slow by this share.
const SLOW: f64 = 0.002;
const VREF_MV: f64 = 5000.0;
/// Resolution of the measuring board, unless the block's board reads finer.
const BITS: u32 = 10;
/// The pumped enable line while the board runs, as a share of the reference, and what a step without a change leaves of it: 470 nF
/// on 10 kOhm.
const ENABLE_ON: f64 = 0.86;
const ENABLE_TAU_S: f64 = 0.0047;

/// Constants for trolley T1: pedal with a second track at half slope, dial that falls with its code's rise; 0.8 to 4.2 V.
pub fn trolley_block() -> Result<Block, InvalidBlock> {
    let point = |code, q15| Point { code, q15 };
    let factor = |low, high, rest_edge, full_edge, points: &[Point], filter_shift| Input {
        window: Window { low, high },
        task: Task::Factor(Factor {
            rest_edge,
            full_edge,
            points: points.to_vec(),
            filter_shift,
        }),
    };
    Block::new(BlockFields {
        board: TargetBoard {
            adc_bits: 10,
            dac_bits: 12,
            rate_hz: 1000,
        },
        output: Output {
            zero_dac: 655,
            full_dac: 3440,
            rise_q15: 200,
            fall_q15: 900,
            waits_at_zero: false,
        },
        start: Start {
            input: 0,
            samples: 100,
        },
        persistence: 8,
        watch: Watch::usual((10, 12), VREF_MV, OWN_REFERENCE_MV),
        inputs: vec![
            factor(60, 960, 135, 860, &[point(400, 9_000)], 2),
            Input {
                window: Window { low: 30, high: 480 },
                task: Task::Check(Check {
                    partner: 0,
                    gain_q12: 2048,
                    offset: 0,
                    band: 12,
                }),
            },
            factor(0, 858, 30, 680, &[], 3),
        ],
    })
}

/// A board that runs a block, its controls, and a board that measures all of it: prints `pedal_a,pedal_b,dial,output,enable`.
/// When the script is over the controls rest, for ever.
#[derive(Debug, Clone)]
pub struct FlashedBoard {
    block: Block,
    twin: Twin,
    powered: bool,
    script: Vec<Hand>,
    at: usize,
    /// When the present part of the script began, true seconds.
    since_s: f64,
    from: (f64, f64),
    text: StreamText,
    rate_hz: f64,
    chance: ChaCha8Rng,
    controls: Controls,
    bits: u32,
    dac: u16,
    /// A reset while it ran: it stays stopped until its power is cycled.
    halted: bool,
    /// The enable line behind its pump, share of the reference.
    enable: f64,
    steps: u32,
    samples: u32,
    since_header: u32,
    latches: bool,
}

impl FlashedBoard {
    /// A board flashed with this block, measured so many times a second.
    pub fn new(
        block: &Block,
        script: Vec<Hand>,
        rate_hz: f64,
        seed: u64,
    ) -> Result<Self, ScaleError> {
        let numbers = block.numbers();
        let bits = BITS.max(u32::from(numbers.board.adc_bits));
        let mut columns = names(numbers);
        columns.extend(["output".to_owned(), "enable".to_owned()]);
        let header = Header {
            scale: Scale::new(bits, VREF_MV)?,
            rate_hz: Some(rate_hz),
            columns,
            time_field: Some(0),
            time_count_us: 1,
        };
        Ok(Self {
            block: block.clone(),
            twin: Twin::new(block),
            powered: true,
            from: script
                .first()
                .map_or((0.0, 0.0), |hand| (hand.pedal, hand.dial)),
            script,
            at: 0,
            since_s: 0.0,
            text: StreamText::new(header, Sums::With),
            rate_hz,
            chance: ChaCha8Rng::seed_from_u64(seed),
            controls: Controls::of(block),
            bits,
            dac: 0,
            halted: false,
            enable: 0.0,
            steps: 0,
            samples: 0,
            since_header: 0,
            latches: true,
        })
    }

    /// The same board with a firmware that begins anew instead of staying stopped: to see that this is found.
    #[cfg(feature = "inside")]
    #[must_use]
    pub fn without_latch(mut self) -> Self {
        self.latches = false;
        self
    }

    /// How long the script lasts, seconds.
    pub fn script_s(script: &[Hand]) -> f64 {
        script.iter().map(|hand| hand.s).sum()
    }

    /// The hand at a moment, which does not go back.
    fn hand(&mut self, t_s: f64) -> Hand {
        while let Some(now) = self.script.get(self.at) {
            if t_s - self.since_s < now.s {
                break;
            }
            self.from = (now.pedal, now.dial);
            self.since_s += now.s;
            self.at += 1;
        }
        let Some(now) = self.script.get(self.at).copied() else {
            return Hand::at(0.0, 0.0, self.from.1);
        };
        let done = ((t_s - self.since_s) / now.move_s).clamp(0.0, 1.0);
        let between = |from: f64, to: f64| from + (to - from) * done;
        Hand {
            pedal: between(self.from.0, now.pedal),
            dial: between(self.from.1, now.dial),
            ..now
        }
    }

    /// What a board of so many bits reads of this share of its reference.
    fn read(&mut self, share: f64, bits: u32) -> u16 {
        let noise: f64 = StandardNormal.sample(&mut self.chance);
        let exact = share * f64::from(1_u32 << bits) + NOISE * noise;
        let top = f64::from((1_u32 << bits) - 1);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        // clamped to at most 65535
        let code = exact.floor().clamp(0.0, top) as u16;
        code
    }

    /// What a board of so many bits reads of the controls.
    fn read_controls(&mut self, hand: Hand, bits: u32) -> Vec<u16> {
        let codes = f64::from(1_u32 << self.block.numbers().board.adc_bits);
        let exact = self.controls.codes(hand);
        exact
            .into_iter()
            .map(|code| self.read((code + 0.5) / codes, bits))
            .collect()
    }

    /// One step of the blending board.
    fn step(&mut self, t_s: f64) {
        let hand = self.hand(t_s);
        if !hand.power {
            (self.powered, self.dac) = (false, 0);
        }
        let runs = hand.power && self.runs(hand);
        let step_s = 1.0 / f64::from(self.block.numbers().board.rate_hz);
        self.enable = if runs {
            f64::midpoint(self.enable, ENABLE_ON)
        } else {
            self.enable * maths::exp(-step_s / ENABLE_TAU_S)
        };
    }

    /// A step with power; whether the enable line changed its level.
    fn runs(&mut self, hand: Hand) -> bool {
        if !self.powered {
            self.powered = true;
            self.halted = false;
            self.twin = Twin::new(&self.block);
        }
        let fault = hand.fault.map(|trial| trial.fault);
        if fault == Some(Fault::Reset) {
            self.twin = Twin::new(&self.block);
            self.halted = self.latches;
        }
        let bits = u32::from(self.block.numbers().board.adc_bits);
        let codes = self.read_controls(hand, bits);
        let dac_takes = fault != Some(Fault::DacWire);
        if self.halted {
            self.dac = 0;
            return false;
        }
        let seen = Seen {
            dac_takes,
            ..Seen::default()
        };
        let shown = self.twin.step_seeing(&codes, seen);
        if shown.state == State::Stopped && !self.latches {
            self.twin = Twin::new(&self.block);
        }
        if dac_takes {
            self.dac = shown.dac;
        }
        shown.state == State::Running
    }
}

impl LineSource for FlashedBoard {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a time in microseconds, not negative
    fn next_line(&mut self, out: &mut Vec<u8>) -> Option<u64> {
        let told_s = f64::from(self.samples) / self.rate_hz;
        let t_us = (told_s * 1e6).round() as u64;
        if self.since_header == 0 {
            self.since_header = self.rate_hz.ceil() as u32;
            self.text.write_header(out);
            return Some(t_us);
        }
        self.since_header -= 1;
        self.samples += 1;
        let true_s = told_s * (1.0 + SLOW);
        let board = self.block.numbers().board;
        while f64::from(self.steps) / f64::from(board.rate_hz) <= true_s {
            let step_s = f64::from(self.steps) / f64::from(board.rate_hz);
            self.step(step_s);
            self.steps += 1;
        }

        let hand = self.hand(true_s);
        let output = f64::from(self.dac) / f64::from(1_u32 << board.dac_bits);
        let mut codes = self.read_controls(hand, self.bits);
        codes.push(self.read(output, self.bits));
        codes.push(self.read(self.enable, self.bits));
        let codes: Vec<Code> = codes
            .into_iter()
            .map(|code| Code(u32::from(code)))
            .collect();
        self.text.write_sample(t_us, &codes, out);
        Some(t_us)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_trolleys_block_is_possible() {
        assert_eq!(trolley_block().unwrap().numbers().inputs.len(), 3);
    }

    #[test]
    fn it_begins_at_zero_and_comes_up() {
        let mut board =
            FlashedBoard::new(&trolley_block().unwrap(), Hand::comparing(), 1000.0, 1).unwrap();
        let mut out = Vec::new();
        for _ in 0..8000 {
            board.next_line(&mut out);
        }
        let text = String::from_utf8(out).unwrap();
        assert!(text.starts_with(
            "# pedalproof 1 bits=10 vref_mv=5000 rate_hz=1000 cols=t_us,pedal_a,pedal_b,dial,output,enable"
        ));
        let output = |line: &str| {
            line.split([',', '*'])
                .nth(4)
                .unwrap()
                .parse::<f64>()
                .unwrap()
        };
        let samples: Vec<&str> = text.lines().filter(|line| !line.starts_with('#')).collect();
        // DAC code 655 of 4096 is code 163.75 of 1024; then full pedal and least dial, travel 0.15.
        assert!(
            (output(samples[500]) - 163.5).abs() < 4.0,
            "{}",
            samples[500]
        );
        // The dial reads 15 + 0.15 x 684 = 118 there: (118 - 30) / 650 of 2785 DAC codes above 655, a quarter of it 258.
        assert!(
            (output(samples[6700]) - 258.0).abs() < 4.0,
            "{}",
            samples[6700]
        );
    }
}
