//! A simulated flashed board with a measuring board on it: the twin of a block behind a hand, wires and noise.
//!
//! Belongs here: the example block of the trolley, what the hand does, the stream that a measuring board would print.
//! Does not belong here: judging it.
//!
//! The two boards have clocks of their own (0.2 % apart), samples of their own and noise of their own, as on a bench.

use crate::constants::{
    Block, BlockFields, Check, Factor, Input, InvalidBlock, OWN_REFERENCE_MV, Output, Point, Start,
    TargetBoard, Task, Watch, Window,
};
use crate::link::{Header, LineSource, StreamText, Sums};
use crate::proof::Fault;
use crate::twin::Twin;
use measure::units::{Code, Scale, ScaleError};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// Noise of either board's readings, standard deviation in codes.
const NOISE: f64 = 0.4;
/// How long a movement from one position to the next takes, seconds.
const MOVE_S: f64 = 0.25;
/// The measuring board's clock runs slow by this share.
const SLOW: f64 = 0.002;
const VREF_MV: f64 = 5000.0;
const BITS: u32 = 10;

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

/// One thing that the hand does: moves both controls, then holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hand {
    /// Seconds, the movement included.
    pub s: f64,
    /// Pedal travel, 0 to 1.
    pub pedal: f64,
    /// Dial travel, 0 to 1.
    pub dial: f64,
    /// What is wrong with the pedal's first track.
    pub fault: Option<Fault>,
    /// Whether the blending board has power.
    pub power: bool,
}

impl Hand {
    const fn at(s: f64, pedal: f64, dial: f64) -> Self {
        Self {
            s,
            pedal,
            dial,
            fault: None,
            power: true,
        }
    }

    /// Stands still at twenty places of pedal x dial, about 23 seconds.
    pub fn comparing() -> Vec<Self> {
        let mut script = vec![Self::at(1.5, 0.0, 0.15)];
        for dial in [0.15, 0.4, 0.65, 1.0] {
            for pedal in [0.0, 0.2, 0.45, 0.7, 1.0] {
                script.push(Self::at(1.05, pedal, dial));
            }
        }
        script
    }

    /// Does what a round of faults asks for, in its order.
    pub fn faults(faults: &[Fault]) -> Vec<Self> {
        let mut script = Vec::new();
        for fault in faults {
            let held = Self::at(1.8, 0.6, 0.8);
            let broken = Self {
                s: 1.2,
                fault: Some(*fault),
                ..held
            };
            let off = Self {
                s: 0.6,
                power: false,
                ..Self::at(0.6, 0.0, 0.8)
            };
            script.extend([Self::at(1.8, 0.0, 0.8), held, broken]);
            script.extend([Self::at(1.2, 0.6, 0.8), Self::at(1.8, 0.0, 0.8)]);
            script.extend([Self::at(1.5, 0.6, 0.8), Self::at(0.8, 0.0, 0.8), off]);
        }
        script
    }
}

/// A board that runs a block, its controls, and a board that measures all of it: prints `pedal_a,pedal_b,dial,output`.
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
    dac: u16,
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
        let header = Header {
            scale: Scale::new(BITS, VREF_MV)?,
            rate_hz: Some(rate_hz),
            columns: ["pedal_a", "pedal_b", "dial", "output"]
                .map(str::to_owned)
                .to_vec(),
            time_field: Some(0),
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
            dac: 0,
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
        let done = ((t_s - self.since_s) / MOVE_S).clamp(0.0, 1.0);
        let between = |from: f64, to: f64| from + (to - from) * done;
        Hand {
            pedal: between(self.from.0, now.pedal),
            dial: between(self.from.1, now.dial),
            ..now
        }
    }

    /// Ratios of the reference at the pins: hall pedal, half-slope track, rheostat under a pull-up, without noise.
    fn pins(hand: Hand) -> [f64; 3] {
        if !hand.power {
            return [0.0; 3];
        }
        let pedal = 0.12 + 0.75 * hand.pedal;
        let track = match hand.fault {
            None => pedal,
            Some(Fault::Open | Fault::Ground) => 0.0,
            Some(Fault::Supply) => 1.0,
        };
        let dial = 0.2 + 9.8 * hand.dial;
        [track, pedal / 2.0, dial / (dial + 4.7)]
    }

    fn read(&mut self, ratio: f64) -> u16 {
        let noise: f64 = StandardNormal.sample(&mut self.chance);
        let exact = ratio * f64::from(1 << BITS) + NOISE * noise;
        let top = f64::from((1 << BITS) - 1);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped to 0 ..= 1023
        let code = exact.floor().clamp(0.0, top) as u16;
        code
    }

    /// One step of the blending board.
    fn step(&mut self, t_s: f64) {
        let hand = self.hand(t_s);
        if !hand.power {
            self.powered = false;
            self.dac = 0;
            return;
        }
        if !self.powered {
            self.powered = true;
            self.twin = Twin::new(&self.block);
        }
        let codes = Self::pins(hand).map(|ratio| self.read(ratio));
        let shown = self.twin.step(&codes);
        if shown.state == crate::twin::State::Stopped && !self.latches {
            self.twin = Twin::new(&self.block);
        }
        self.dac = shown.dac;
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
        let [a, b, dial] = Self::pins(hand).map(|ratio| Code(u32::from(self.read(ratio))));
        let output = f64::from(self.dac) / f64::from(1_u32 << board.dac_bits);
        let output = Code(u32::from(self.read(output)));
        self.text.write_sample(t_us, &[a, b, dial, output], out);
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
            "# pedalproof 1 bits=10 vref_mv=5000 rate_hz=1000 cols=t_us,pedal_a,pedal_b,dial,output"
        ));
        let output = |line: &str| {
            line.split([',', '*'])
                .nth(4)
                .unwrap()
                .parse::<f64>()
                .unwrap()
        };
        let samples: Vec<&str> = text.lines().filter(|line| !line.starts_with('#')).collect();
        // DAC code 655 of 4096 is code 163.75 of 1024; at full pedal and least dial, travel 0.15: about 0.26 of the command.
        assert!(
            (output(samples[500]) - 163.5).abs() < 4.0,
            "{}",
            samples[500]
        );
        assert!(output(samples[6700]) > 300.0, "{}", samples[6700]);
    }
}
