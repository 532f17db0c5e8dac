//! What the block puts out for these samples: its twin, and one for either side of the readings' uncertainty.

use crate::constants::{Block, Task};
use crate::proof::Scaling;
use crate::twin::{State, StepOutput, Twin};
use measure::units::Code;

/// Without power: every input below this share of full scale for [`OFF_US`], as the guide has it.
const OFF_SHARE: f64 = 0.02;
const OFF_US: u64 = 50_000;
/// Most steps of the blending board between two samples: a longer gap leaves it wherever this brings it.
const MOST_STEPS: u64 = 4000;

/// The block's twin, and the same fed with the readings of least and of most command.
#[derive(Debug, Clone)]
pub(super) struct Twins {
    block: Block,
    scaling: Scaling,
    /// Codes below which an input has no supply.
    off_below: f64,
    off_us: u64,
    nominal: Twin,
    low: Twin,
    high: Twin,
    shown: Option<[StepOutput; 3]>,
}

impl Twins {
    pub(super) fn new(block: &Block, scaling: Scaling, codes: u32) -> Self {
        let twin = Twin::new(block);
        Self {
            block: block.clone(),
            scaling,
            off_below: f64::from(codes) * OFF_SHARE,
            off_us: 0,
            nominal: twin.clone(),
            low: twin.clone(),
            high: twin,
            shown: None,
        }
    }

    /// Runs the twins up to a sample; gives the likeliest codes that the blending board read.
    pub(super) fn advance(&mut self, inputs: &[Code], before_us: u64, t_us: u64) -> Vec<u16> {
        self.power(inputs, t_us - before_us);
        let [nominal, low, high] = self.readings(inputs);
        let rate = u64::from(self.block.numbers().board.rate_hz);
        let steps = |t: u64| u128::from(t) * u128::from(rate) / 1_000_000;
        let passed = u64::try_from(steps(t_us) - steps(before_us)).unwrap_or(MOST_STEPS);
        for _ in 0..passed.min(MOST_STEPS) {
            self.step(&nominal, &low, &high);
        }
        nominal
    }

    /// A board without power begins anew when it comes back.
    fn power(&mut self, inputs: &[Code], passed_us: u64) {
        if inputs.iter().all(|code| code.as_f64() < self.off_below) {
            self.off_us = self.off_us.saturating_add(passed_us);
            return;
        }
        if self.off_us >= OFF_US {
            let twin = Twin::new(&self.block);
            (self.low, self.high) = (twin.clone(), twin.clone());
            self.nominal = twin;
            self.shown = None;
        }
        self.off_us = 0;
    }

    /// The blending board's codes: the likeliest, and those of least and of most command.
    fn readings(&self, inputs: &[Code]) -> [Vec<u16>; 3] {
        let mut readings = [Vec::new(), Vec::new(), Vec::new()];
        for (input, code) in self.block.numbers().inputs.iter().zip(inputs) {
            let (low, high) = self.scaling.input(*code, 0.0);
            let nominal = u16::midpoint(low, high);
            let (least, most) = match &input.task {
                Task::Factor(factor) if factor.full_edge < factor.rest_edge => (high, low),
                Task::Factor(_) => (low, high),
                Task::Check(_) => (nominal, nominal),
            };
            for (list, reading) in readings.iter_mut().zip([nominal, least, most]) {
                list.push(reading);
            }
        }
        readings
    }

    /// One step. Where noise alone takes a side out of its windows or keeps it from starting, it follows the nominal one.
    fn step(&mut self, nominal: &[u16], low: &[u16], high: &[u16]) {
        let shown = self.nominal.step(nominal);
        let side = |twin: &mut Twin, codes: &[u16]| {
            let seen = twin.step(codes);
            if seen.state == shown.state {
                return seen;
            }
            *twin = self.nominal.clone();
            shown
        };
        let low = side(&mut self.low, low);
        let high = side(&mut self.high, high);
        self.shown = Some([shown, low, high]);
    }

    pub(super) fn state(&self) -> State {
        self.shown
            .map_or(State::Waiting, |[nominal, ..]| nominal.state)
    }

    /// Lowest and highest output that the block allows now, millivolts: with two codes of either board, as a zero output
    /// is allowed them.
    pub(super) fn allowed(&self) -> Option<[f64; 2]> {
        let shown = self.shown?;
        // What a board without power puts out is not its block's doing.
        let known = shown[0].state != State::Waiting && self.off_us == 0;
        let mv = shown.map(|shown| self.scaling.dac(f64::from(shown.dac)));
        let margin = self.scaling.zero_band_mv() - self.scaling.zero_mv();
        let low = mv.into_iter().fold(f64::INFINITY, f64::min) - margin;
        let high = mv.into_iter().fold(f64::NEG_INFINITY, f64::max) + margin;
        known.then_some([low.max(0.0), high])
    }
}
