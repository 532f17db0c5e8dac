//! The firmware's arithmetic, bit for bit, in Rust: what a board with this block puts out for these codes.

pub mod blend;
mod curve;
mod tracks;

use crate::constants::{Block, BlockFields, Q15_ONE, Task, Window};
use curve::{Curve, product};
use tracks::Pair;

/// What an input gives when its reading failed. No window reaches it.
pub const UNREAD: u16 = 0xFFFF;

/// What the board is doing. The numbers are those of `enum pp_state`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum State {
    /// Output off until the start condition was seen.
    Waiting = 0,
    /// Output follows the inputs.
    Running = 1,
    /// DAC code 0 until power is cycled.
    Stopped = 2,
}

/// Why a running core stopped. The numbers are those of `enum pp_cause`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Cause {
    /// An input was outside its window.
    Host = 8,
    /// A check track disagreed.
    Tracks = 9,
    /// The DAC did not take what was written.
    Dac = 10,
    /// The DAC's output is not what was written.
    ReadBack = 14,
    /// The supply is outside its limits.
    Supply = 15,
}

/// What a step sees besides its inputs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seen {
    /// The DAC takes what is written in this step.
    pub dac_takes: bool,
    /// Code of the part's own reference; `None`: in the middle of what is believed.
    pub supply: Option<u16>,
    /// The DAC's output, as the DAC code that it is; `None`: what was written, or no such wire.
    pub read_back: Option<u16>,
}

impl Default for Seen {
    /// A board on which nothing is wrong.
    fn default() -> Self {
        Self {
            dac_takes: true,
            supply: None,
            read_back: None,
        }
    }
}

/// What one step showed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StepOutput {
    pub dac: u16,
    /// The command behind it, Q15.
    pub command_q15: u16,
    pub state: State,
    pub cause: Option<Cause>,
}

#[derive(Debug, Clone)]
struct FactorState {
    shift: u8,
    sum: u16,
    filtered: u16,
    curve: Curve,
}

#[derive(Debug, Clone)]
enum InputState {
    Factor(FactorState),
    Check(Pair),
}

/// A core with its block, from power-up on.
#[derive(Debug, Clone)]
pub struct Twin {
    numbers: BlockFields,
    inputs: Vec<(Window, InputState)>,
    state: State,
    cause: Option<Cause>,
    command: u16,
    start_seen: u16,
    suspicion: u16,
    dac_failed: bool,
    written: u16,
}

impl Twin {
    /// A core that has just accepted this block.
    pub fn new(block: &Block) -> Self {
        let numbers = block.numbers().clone();
        let inputs = numbers
            .inputs
            .iter()
            .map(|input| {
                let now = match &input.task {
                    Task::Factor(factor) => InputState::Factor(FactorState {
                        shift: factor.filter_shift,
                        sum: 0,
                        filtered: 0,
                        curve: Curve::new(factor),
                    }),
                    Task::Check(check) => InputState::Check(Pair::of(*check, &numbers)),
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
            written: 0,
        }
    }

    /// One step with one code for every input, in order; a missing one counts as [`UNREAD`]. Nothing else is wrong.
    pub fn step(&mut self, codes: &[u16]) -> StepOutput {
        self.step_seeing(codes, Seen::default())
    }

    /// One step, and what it sees besides its inputs.
    pub fn step_seeing(&mut self, codes: &[u16], seen: Seen) -> StepOutput {
        if self.state != State::Stopped {
            self.take_sample(codes, seen);
        }
        let output = self.numbers.output;
        let dac = match self.state {
            State::Running => dac_code(&self.numbers, self.command),
            State::Waiting if output.waits_at_zero => output.zero_dac,
            State::Waiting | State::Stopped => 0,
        };
        self.dac_failed = !seen.dac_takes;
        if seen.dac_takes {
            self.written = dac;
        }
        StepOutput {
            dac,
            command_q15: self.command,
            state: self.state,
            cause: self.cause,
        }
    }

    fn take_sample(&mut self, codes: &[u16], seen: Seen) {
        if let Some(cause) = self.judge(codes, seen) {
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

    fn judge(&self, codes: &[u16], seen: Seen) -> Option<Cause> {
        let read = |i: usize| codes.get(i).copied().unwrap_or(UNREAD);
        let inside = |(i, (window, _)): (usize, &(Window, InputState))| window.holds(read(i));
        if !self.inputs.iter().enumerate().all(inside) {
            return Some(Cause::Host);
        }
        let agrees = |(i, (_, now)): (usize, &(Window, InputState))| match now {
            InputState::Factor(_) => true,
            InputState::Check(pair) => pair.agrees(read(i), read(pair.partner())),
        };
        if !self.inputs.iter().enumerate().all(agrees) {
            return Some(Cause::Tracks);
        }
        let watch = self.numbers.watch;
        if seen.supply.is_some_and(|code| !watch.supply.holds(code)) {
            return Some(Cause::Supply);
        }
        if self.dac_failed {
            return Some(Cause::Dac);
        }
        let off = seen.read_back.map(|code| code.abs_diff(self.written));
        off.filter(|off| *off > watch.read_back)
            .map(|_| Cause::ReadBack)
    }

    /// The code of a factor that counts: the lower of its own and what its check tracks say.
    fn counted(&self, i: usize, codes: &[u16]) -> u16 {
        lowest(self.inputs.iter().map(|(_, now)| now), i, codes)
    }

    fn wait_for_start(&mut self, codes: &[u16]) {
        for ((_, now), code) in self.inputs.iter_mut().zip(codes) {
            if let InputState::Factor(factor) = now {
                factor.sum = code << factor.shift;
                factor.filtered = *code;
            }
        }
        let start = self.numbers.start;
        let at_zero = match self.inputs.get(usize::from(start.input)) {
            Some((_, InputState::Factor(factor))) => factor.curve.travel(factor.filtered) == 0,
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
        for i in 0..self.inputs.len() {
            let code = self.counted(i, codes);
            if let (_, InputState::Factor(factor)) = &mut self.inputs[i] {
                factor.filter(code);
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

impl FactorState {
    /// The sum is value x 2^shift and keeps its fraction.
    fn filter(&mut self, code: u16) {
        self.sum = self.sum.wrapping_add(code).wrapping_sub(self.filtered);
        self.filtered = self.sum >> self.shift;
    }
}

/// The code of input `i` that counts: nearer to its rest edge by as much as a check track is behind, never beyond it.
fn lowest<'a>(inputs: impl Iterator<Item = &'a InputState>, i: usize, codes: &[u16]) -> u16 {
    let read = |at: usize| codes.get(at).copied().unwrap_or(UNREAD);
    let (mut most, mut curve) = (0, None);
    for (at, now) in inputs.enumerate() {
        match now {
            InputState::Factor(factor) if at == i => curve = Some(&factor.curve),
            InputState::Check(pair) if pair.partner() == i => {
                most = pair.lag(read(at), read(i)).max(most);
            }
            _ => {}
        }
    }
    curve.map_or_else(|| read(i), |curve| curve.back(read(i), most))
}

fn dac_code(numbers: &BlockFields, command: u16) -> u16 {
    let output = numbers.output;
    output.zero_dac + product(command, output.full_dac - output.zero_dac)
}

/// What a running board settles to with the inputs held at these codes: filters and limits at their end. `None`
/// when it stops instead.
pub fn settled(block: &Block, codes: &[u16]) -> Option<StepOutput> {
    let twin = Twin::new(block);
    if twin.judge(codes, Seen::default()).is_some() {
        return None;
    }
    let command =
        twin.inputs
            .iter()
            .enumerate()
            .fold(Q15_ONE, |command, (i, (_, now))| match now {
                InputState::Factor(factor) => {
                    product(command, factor.curve.at(twin.counted(i, codes)))
                }
                InputState::Check(_) => command,
            });
    Some(StepOutput {
        dac: dac_code(&twin.numbers, command),
        command_q15: command,
        state: State::Running,
        cause: None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::constants::{Factor, Input, testing};

    fn factor(rest_edge: u16, full_edge: u16, points: &[(u16, u16)], shift: u8) -> Input {
        testing::factor([0, 1023], [rest_edge, full_edge], points, shift)
    }

    fn draft(inputs: Vec<Input>) -> BlockFields {
        testing::numbers(inputs, 100, 4000)
    }

    fn running(draft: BlockFields, rest: &[u16]) -> Twin {
        let mut twin = Twin::new(&Block::new(draft).unwrap());
        assert_eq!(twin.step(rest).state, State::Running);
        twin
    }

    /// 0.8 to 4.2 V on 5 V, 10 bits: codes 164 and 860 map to exactly 0 and 1 (common practice, no source).
    #[test]
    fn the_ends_are_exact_and_the_middle_is_half() {
        for (rest, full, middle) in [(164, 860, 512), (860, 164, 512)] {
            let block = Block::new(draft(vec![factor(rest, full, &[], 0)])).unwrap();
            let at = |code| settled(&block, &[code]).unwrap();
            assert_eq!((at(rest).command_q15, at(rest).dac), (0, 100));
            assert_eq!((at(full).command_q15, at(full).dac), (Q15_ONE, 4000));
            assert_eq!((at(middle).command_q15, at(middle).dac), (16_384, 2050));
            let (below, above) = (
                if rest < full { 0 } else { 1023 },
                if rest < full { 1023 } else { 0 },
            );
            assert_eq!((at(below).command_q15, at(above).command_q15), (0, Q15_ONE));
        }
    }

    /// Against exact rational arithmetic: the line, rounded to Q15, is off by at most one.
    #[test]
    fn a_curve_meets_its_points_and_never_falls() {
        let points = [
            (300_u16, 1000_u16),
            (301, 1000),
            (640, 20_000),
            (641, 30_000),
        ];
        let block = Block::new(draft(vec![factor(170, 850, &points, 0)])).unwrap();
        let at = |code| settled(&block, &[code]).unwrap().command_q15;
        for (code, q15) in points {
            assert_eq!(at(code), q15);
        }
        let mut whole = vec![(170, 0)];
        whole.extend(points);
        whole.push((850, Q15_ONE));
        for piece in whole.windows(2) {
            let [(from, low), (to, high)] = [piece[0], piece[1]];
            for code in from..=to {
                let exact = f64::from(low)
                    + f64::from(high - low) * f64::from(code - from) / f64::from(to - from);
                assert!((f64::from(at(code)) - exact).abs() <= 1.0, "{code}");
            }
        }
        assert!((0..1023).all(|code| at(code) <= at(code + 1)));
    }

    /// Reference file 15, "scaled": the filter that keeps its fraction, from 0 to 1000 and back, for shifts 2 to 4.
    #[test]
    fn the_filter_keeps_its_fraction() {
        let path = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/tests/reference/15-first-order.json"
        );
        let reference: serde_json::Value =
            serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
        for shift in [2, 3, 4] {
            let expected = &reference["expected"]["integer_shift_filter"][shift.to_string()];
            let mut now = FactorState {
                shift,
                sum: 0,
                filtered: 0,
                curve: Curve::new(&Factor {
                    rest_edge: 0,
                    full_edge: 1023,
                    points: vec![],
                    filter_shift: shift,
                }),
            };
            let mut seen = Vec::new();
            for _ in 0..200 {
                now.filter(1000);
                seen.push(u64::from(now.filtered));
            }
            let first: Vec<u64> = expected["scaled_up_first_12"]
                .as_array()
                .unwrap()
                .iter()
                .map(|v| v.as_u64().unwrap())
                .collect();
            assert_eq!(seen[..12], first);
            assert_eq!(Some(seen[199]), expected["scaled_up_final"].as_u64());
            for _ in 0..200 {
                now.filter(0);
            }
            assert_eq!(
                Some(u64::from(now.filtered)),
                expected["scaled_down_final_after_200_up"].as_u64()
            );
        }
    }

    #[test]
    fn limits_and_suspicion() {
        let mut numbers = draft(vec![factor(100, 900, &[], 0)]);
        numbers.inputs[0].window = Window { low: 50, high: 950 };
        numbers.output.rise_q15 = 1000;
        numbers.output.fall_q15 = 3000;
        let mut twin = running(numbers, &[100]);
        let mut command = |code| twin.step(&[code]).command_q15;
        assert_eq!([command(900), command(900)], [1000, 2000]);
        assert_eq!(command(1000), 2000, "bad: it holds");
        assert_eq!(command(1000), 2000, "bad: it holds");
        assert_eq!(
            command(900),
            2000,
            "good, but one bad one is not made up for"
        );
        assert_eq!(command(900), 3000);
        assert_eq!(command(1000), 3000);
        assert_eq!(command(1000), 3000);
        assert_eq!(command(100), 0, "down it may go, at most 3000");
        let stopped = [twin.step(&[40]), twin.step(&[40])];
        assert_eq!(
            (stopped[0].state, stopped[1].state),
            (State::Running, State::Stopped)
        );
        assert_eq!(twin.step(&[100]).cause, Some(Cause::Host));
        assert_eq!(
            twin.step(&[100]).dac,
            0,
            "stopped is code 0, not the zero of the command"
        );
    }

    #[test]
    fn a_missing_code_is_a_bad_sample() {
        let mut twin = running(draft(vec![factor(100, 900, &[], 0)]), &[100]);
        assert_eq!(twin.step(&[]).state, State::Running);
        assert_eq!(twin.step(&[]).state, State::Running);
        assert_eq!(twin.step(&[]).state, State::Stopped);
    }
}
