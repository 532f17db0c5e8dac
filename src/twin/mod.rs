//! The firmware's arithmetic, bit for bit, in Rust: what a board with this block puts out for these codes.
//!
//! Belongs here: one step of `src/firmware/core`, and what it settles to. Does not belong here: anything but the
//! block; hardware; units of measure.

mod curve;

use crate::constants::{Block, Check, Draft, Q15_ONE, Task, Window};
use curve::{Curve, product};

/// What an input gives when its reading failed. No window reaches it.
pub const UNREAD: u16 = 0xFFFF;

/// What the board is doing. The numbers are those of `enum pp_state`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum State {
    /// Output zero until the start condition was seen.
    Waiting = 0,
    /// Output follows the inputs.
    Running = 1,
    /// Output zero until power is cycled.
    Stopped = 2,
}

/// Why a running core stopped. The numbers are those of `enum pp_cause`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Cause {
    /// An input was outside its window.
    Outside = 8,
    /// A check track disagreed.
    Tracks = 9,
    /// The DAC did not take what was written.
    Dac = 10,
}

/// What one step showed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shown {
    /// The code written to the DAC.
    pub dac: u16,
    /// The command behind it, Q15.
    pub command_q15: u16,
    /// After the step.
    pub state: State,
    /// Why it is stopped.
    pub cause: Option<Cause>,
}

#[derive(Debug, Clone)]
struct FactorNow {
    shift: u8,
    sum: u16,
    filtered: u16,
    curve: Curve,
}

#[derive(Debug, Clone)]
enum Now {
    Factor(FactorNow),
    Check(Check),
}

/// A core with its block, from power-up on.
#[derive(Debug, Clone)]
pub struct Twin {
    numbers: Draft,
    inputs: Vec<(Window, Now)>,
    state: State,
    cause: Option<Cause>,
    command: u16,
    start_seen: u16,
    suspicion: u16,
    dac_failed: bool,
}

impl Twin {
    /// A core that has just accepted this block.
    #[must_use]
    pub fn new(block: &Block) -> Self {
        let numbers = block.numbers().clone();
        let inputs = numbers
            .inputs
            .iter()
            .map(|input| {
                let now = match &input.task {
                    Task::Factor(factor) => Now::Factor(FactorNow {
                        shift: factor.filter_shift,
                        sum: 0,
                        filtered: 0,
                        curve: Curve::new(factor),
                    }),
                    Task::Check(check) => Now::Check(*check),
                };
                (input.window, now)
            })
            .collect();
        Self {
            numbers,
            inputs,
            state: State::Waiting,
            cause: None,
            command: 0,
            start_seen: 0,
            suspicion: 0,
            dac_failed: false,
        }
    }

    /// One step with one code for every input, in order; a missing one counts as [`UNREAD`]. The DAC takes what is
    /// written.
    pub fn step(&mut self, codes: &[u16]) -> Shown {
        self.step_with_dac(codes, true)
    }

    /// One step; whether the DAC takes what this step writes.
    pub fn step_with_dac(&mut self, codes: &[u16], dac_takes: bool) -> Shown {
        if self.state != State::Stopped {
            self.take_sample(codes);
        }
        self.dac_failed = !dac_takes;
        Shown {
            dac: dac_code(&self.numbers, self.command),
            command_q15: self.command,
            state: self.state,
            cause: self.cause,
        }
    }

    fn take_sample(&mut self, codes: &[u16]) {
        if let Some(cause) = self.judge(codes) {
            self.start_seen = 0;
            self.suspicion += 1; // below the persistence until now
            if self.suspicion >= self.numbers.persistence {
                self.state = State::Stopped;
                self.cause = Some(cause);
                self.command = 0;
            }
            return;
        }
        self.suspicion = self.suspicion.saturating_sub(1);
        if self.state == State::Waiting {
            self.wait_for_start(codes);
        } else {
            self.run(codes);
        }
    }

    fn judge(&self, codes: &[u16]) -> Option<Cause> {
        let read = |i: usize| codes.get(i).copied().unwrap_or(UNREAD);
        let inside = |(i, (window, _)): (usize, &(Window, Now))| window.holds(read(i));
        if !self.inputs.iter().enumerate().all(inside) {
            return Some(Cause::Outside);
        }
        let agrees = |(i, (_, now)): (usize, &(Window, Now))| match now {
            Now::Factor(_) => true,
            Now::Check(check) => agrees(*check, read(i), read(usize::from(check.partner))),
        };
        if !self.inputs.iter().enumerate().all(agrees) {
            return Some(Cause::Tracks);
        }
        self.dac_failed.then_some(Cause::Dac)
    }

    fn wait_for_start(&mut self, codes: &[u16]) {
        for ((_, now), code) in self.inputs.iter_mut().zip(codes) {
            if let Now::Factor(factor) = now {
                factor.sum = code << factor.shift;
                factor.filtered = *code;
            }
        }
        let start = self.numbers.start;
        let at_zero = match self.inputs.get(usize::from(start.input)) {
            Some((_, Now::Factor(factor))) => factor.curve.travel(factor.filtered) == 0,
            _ => false,
        };
        if !at_zero {
            self.start_seen = 0;
            return;
        }
        self.start_seen += 1; // below start.samples until now
        if self.start_seen >= start.samples {
            self.state = State::Running;
        }
    }

    fn run(&mut self, codes: &[u16]) {
        let mut target = Q15_ONE;
        for ((_, now), code) in self.inputs.iter_mut().zip(codes) {
            if let Now::Factor(factor) = now {
                factor.filter(*code);
                target = product(target, factor.curve.at(factor.filtered));
            }
        }
        let output = self.numbers.output;
        if target > self.command {
            if self.suspicion == 0 {
                self.command += (target - self.command).min(output.rise_q15);
            }
        } else {
            self.command -= (self.command - target).min(output.fall_q15);
        }
    }
}

impl FactorNow {
    /// The sum is value x 2^shift and keeps its fraction.
    fn filter(&mut self, code: u16) {
        self.sum = self.sum.wrapping_add(code).wrapping_sub(self.filtered);
        self.filtered = self.sum >> self.shift;
    }
}

fn agrees(check: Check, code: u16, partner: u16) -> bool {
    let off = (i32::from(code) - i32::from(check.offset)) * 4096
        - i32::from(check.gain_q12) * i32::from(partner);
    off.abs() <= i32::from(check.band) << 12
}

fn dac_code(numbers: &Draft, command: u16) -> u16 {
    let output = numbers.output;
    output.zero_dac + product(command, output.full_dac - output.zero_dac)
}

/// What a running board settles to with the inputs held at these codes: filters and limits at their end. `None`
/// when it stops instead.
#[must_use]
pub fn settled(block: &Block, codes: &[u16]) -> Option<Shown> {
    let twin = Twin::new(block);
    if twin.judge(codes).is_some() {
        return None;
    }
    let command =
        twin.inputs
            .iter()
            .zip(codes)
            .fold(Q15_ONE, |command, ((_, now), code)| match now {
                Now::Factor(factor) => product(command, factor.curve.at(*code)),
                Now::Check(_) => command,
            });
    Some(Shown {
        dac: dac_code(&twin.numbers, command),
        command_q15: command,
        state: State::Running,
        cause: None,
    })
}
