//! A flashed board watched during its proof: what it should put out, where the controls dwelt, how faults go.
//!
//! For the screen alone. The verdict comes from the whole capture (`prove_file`).

mod dwell;
mod faults;
#[cfg(test)]
mod tests;
mod trace;
mod twins;

pub use dwell::{BANDS, Dwell, band};
pub use faults::FaultSeen;
pub use trace::ProofPoint;

use super::prove::{ProofColumns, ProofOptions};
use crate::bench::run::{Batch, StreamInfo};
use crate::constants::Block;
use crate::proof::{Guide, Marks, Scaling, Stage, Trial};
use crate::twin::State;
use dwell::DwellDetector;
use faults::{FaultRound, Sample};
use measure::units::{Code, Scale};
use std::collections::VecDeque;
use twins::Twins;

/// What a board is doing now.
#[derive(Debug, Clone, PartialEq)]
pub struct ProofNow {
    /// Time of the last sample, board time in microseconds.
    pub t_us: u64,
    /// Inputs, measuring board's codes, in the block's order.
    pub inputs: Vec<Code>,
    /// The output, measuring board's code.
    pub output: Code,
    /// The same in millivolts.
    pub measured_mv: f64,
    /// What the block allows; absent while it is not known whether the board runs.
    pub allowed_mv: Option<[f64; 2]>,
    /// What a board with this block does after these samples.
    pub twin: State,
}

/// A flashed board under watch.
#[derive(Debug, Clone)]
pub struct ProofWatch {
    block: Block,
    /// Names of the inputs' columns and the output's.
    names: (Vec<String>, String),
    columns: ProofColumns,
    scaling: Scaling,
    twins: Twins,
    now: Option<ProofNow>,
    points: VecDeque<ProofPoint>,
    detector: DwellDetector,
    dwells: Vec<Dwell>,
    round: Option<FaultRound>,
}

impl ProofWatch {
    /// Watches a board with this block in this stream; leads through these steps of a round, if any.
    pub fn new(block: &Block, stream: &StreamInfo, faults: &[Trial]) -> Result<Self, String> {
        let columns = stream.columns();
        let chosen =
            ProofColumns::choose(&columns, None, None, block).map_err(|why| why.to_string())?;
        let scale = Scale::new(stream.bits, stream.vref_mv).map_err(|why| why.to_string())?;
        let scaling = Scaling::new(block, scale, ProofOptions::usual(block).conditions(scale))
            .map_err(|why| why.to_string())?;
        let name = |at: &usize| columns[*at].0.to_owned();
        let guide = || Guide::new(block, scaling, scale.codes(), faults);
        Ok(Self {
            block: block.clone(),
            names: (
                chosen.inputs.iter().map(name).collect(),
                name(&chosen.output),
            ),
            round: (!faults.is_empty()).then(|| FaultRound::new(guide())),
            columns: chosen,
            scaling,
            twins: Twins::new(block, scaling, scale.codes()),
            now: None,
            points: VecDeque::new(),
            detector: DwellDetector::default(),
            dwells: Vec::new(),
        })
    }

    /// Takes in samples that arrived together. Columns of unequal length are cut to the shortest.
    pub fn push(&mut self, batch: &Batch) {
        let columns = &self.columns;
        let others = [&columns.output].into_iter().chain(&columns.enable);
        let used = columns.inputs.iter().chain(others);
        let lengths = used.map(|at| batch.codes.get(*at).map_or(0, Vec::len));
        let rows = lengths.min().unwrap_or(0).min(batch.t_us.len());
        for row in 0..rows {
            let code = |at: &usize| batch.codes[*at][row];
            let inputs: Vec<Code> = self.columns.inputs.iter().map(code).collect();
            let output = code(&self.columns.output);
            let enable = self.columns.enable.as_ref().map(code);
            self.sample(batch.t_us[row], inputs, output, enable);
        }
    }

    fn sample(&mut self, t_us: u64, inputs: Vec<Code>, output: Code, enable: Option<Code>) {
        let before_us = self.now.as_ref().map_or(t_us, |now| now.t_us);
        if t_us < before_us {
            return;
        }
        let read = self.twins.advance(&inputs, before_us, t_us);
        let measured = self.scaling.output(output.as_f64());
        let measured_mv = f64::midpoint(measured.low, measured.high);
        let allowed_mv = self.twins.allowed();
        if let Some(round) = &mut self.round {
            let sample = Sample {
                t_us,
                inputs: &inputs,
                read: &read,
                output,
                enable,
                output_mv: measured_mv,
                zero: self.scaling.may_be_zero(output),
            };
            round.push(&self.block, &sample);
        }
        if let Some(mean_mv) = self.detector.push(t_us, &inputs, measured_mv)
            && self.twins.state() == State::Running
        {
            let dwell = Dwell::at(&self.block, &self.scaling, &read, mean_mv);
            self.dwells.extend(dwell);
        }
        self.now = Some(ProofNow {
            t_us,
            inputs,
            output,
            measured_mv,
            allowed_mv,
            twin: self.twins.state(),
        });
        trace::push(&mut self.points, t_us, measured_mv, allowed_mv);
    }

    /// Skips what the guide waits for.
    pub fn skip(&mut self) {
        if let Some(round) = &mut self.round {
            round.skip();
        }
    }

    /// The last sample; absent before the first.
    pub fn now(&self) -> Option<&ProofNow> {
        self.now.as_ref()
    }

    /// The picture over time, the oldest first.
    pub fn points(&self) -> &VecDeque<ProofPoint> {
        &self.points
    }

    pub fn dwells(&self) -> &[Dwell] {
        &self.dwells
    }

    pub fn faults(&self) -> &[FaultSeen] {
        self.round.as_ref().map_or(&[], FaultRound::seen)
    }

    /// What to do now, the fault whose turn it is from 1, and how many there are; absent in a run without faults.
    pub fn stage(&self) -> Option<(Stage, usize, usize)> {
        self.round.as_ref().map(FaultRound::stage)
    }

    /// Whether the faults are through. A run without faults never is.
    pub fn done(&self) -> bool {
        self.stage().is_some_and(|(stage, ..)| stage == Stage::Done)
    }

    /// What happened when; none without faults.
    pub fn marks(&self) -> Marks {
        let round = self.round.as_ref();
        round.map(|round| round.marks().clone()).unwrap_or_default()
    }

    /// The columns taken as the block's inputs in its order, and the one taken as the output.
    pub fn names(&self) -> (&[String], &str) {
        (&self.names.0, &self.names.1)
    }

    /// Output at zero and at full command, millivolts.
    pub fn output_range_mv(&self) -> (f64, f64) {
        (self.scaling.zero_mv(), self.scaling.full_mv())
    }

    /// Cells of travel with a dwell, and how many there are.
    pub fn covered(&self) -> (usize, usize) {
        dwell::coverage(&self.block, &self.dwells)
    }
}
