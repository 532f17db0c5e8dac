//! A round of faults under way: how long each takes to bring the output to zero, and whether it stays there.

use crate::constants::Block;
use crate::proof::{Fault, Guide, GuideSample, Marks, Stage, Trial};
use crate::twin;
use measure::units::Code;

/// How a fault went.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FaultSeen {
    pub trial: Trial,
    /// From the first bad sample to the first of output zero, milliseconds; absent while it is not zero.
    pub zero_ms: Option<f64>,
    /// Highest output after it, millivolts; absent before it is seen.
    pub peak_mv: Option<f64>,
    /// The output rose again although power was not cycled.
    pub came_back: bool,
    pub left_out: bool,
    /// It was made, and what it should do was seen.
    pub done: bool,
}

impl FaultSeen {
    fn new(trial: Trial, left_out: bool) -> Self {
        Self {
            trial,
            zero_ms: None,
            peak_mv: None,
            came_back: false,
            left_out,
            done: false,
        }
    }
}

/// One sample as the round sees it.
pub(super) struct Sample<'a> {
    pub(super) t_us: u64,
    pub(super) inputs: &'a [Code],
    /// The blending board's codes.
    pub(super) read: &'a [u16],
    pub(super) output: Code,
    pub(super) enable: Option<Code>,
    pub(super) output_mv: f64,
    /// Whether the output may be zero.
    pub(super) zero: bool,
}

/// The guide, and what it saw.
#[derive(Debug, Clone)]
pub(super) struct FaultRound {
    guide: Guide,
    seen: Vec<FaultSeen>,
    /// When the fault under way was first seen at the inputs.
    broken_us: Option<u64>,
}

impl FaultRound {
    pub(super) fn new(guide: Guide) -> Self {
        Self {
            guide,
            seen: Vec::new(),
            broken_us: None,
        }
    }

    pub(super) fn push(&mut self, block: &Block, sample: &Sample<'_>) {
        match self.guide.stage() {
            Stage::Break(_) => self.broken(block, sample),
            // A lost DAC's output stands until its wire is in again.
            Stage::Whole(trial) if trial.fault == Fault::DacWire => {}
            Stage::Whole(_) | Stage::RestAgain | Stage::PressAgain if !sample.zero => {
                let noticed = self.broken_us.is_some();
                if let Some(seen) = self.seen.last_mut() {
                    // What the block believes promises no stop.
                    seen.came_back |= noticed || !Fault::WIRE.contains(&seen.trial.fault);
                }
            }
            _ => {}
        }
        let before = (self.guide.stage(), self.guide.turn().0);
        self.guide.push(GuideSample {
            t_us: sample.t_us,
            inputs: sample.inputs,
            output: sample.output,
            enable: sample.enable,
        });
        self.stage_changed(before);
    }

    /// While the fault is being made.
    fn broken(&mut self, block: &Block, sample: &Sample<'_>) {
        if self.broken_us.is_none() && twin::settled(block, sample.read).is_none() {
            self.broken_us = Some(sample.t_us);
        }
        let (Some(from), Some(seen)) = (self.broken_us, self.seen.last_mut()) else {
            return;
        };
        let mv = sample.output_mv;
        seen.peak_mv = Some(seen.peak_mv.map_or(mv, |peak| peak.max(mv)));
        #[allow(clippy::cast_precision_loss)] // microseconds of a few seconds
        let after_ms = sample.t_us.saturating_sub(from) as f64 / 1000.0;
        seen.zero_ms = sample.zero.then(|| seen.zero_ms.unwrap_or(after_ms));
    }

    /// The guide may have gone from one stage and fault to another.
    fn stage_changed(&mut self, before: (Stage, usize)) {
        let now = self.guide.stage();
        let skipped = self.guide.turn().0 > before.1;
        match (before.0, now) {
            (Stage::Break(_), Stage::Run | Stage::Done) => {
                if let Some(seen) = self.seen.last_mut() {
                    seen.left_out = true;
                }
            }
            // Skipped before it was asked for.
            (Stage::Run, Stage::Run | Stage::Done) if skipped => {
                let mark = self.guide.marks().0.last();
                let trial = mark.and_then(|mark| {
                    let (fault, input) = (mark.fault?, mark.input);
                    Some(Trial { fault, input })
                });
                self.seen
                    .extend(trial.map(|trial| FaultSeen::new(trial, true)));
            }
            (Stage::Break(_), Stage::Whole(_) | Stage::RestAgain | Stage::LetGo) => {
                if let Some(seen) = self.seen.last_mut() {
                    seen.done = true;
                }
            }
            (before, Stage::Break(trial)) if before != now => {
                self.broken_us = None;
                self.seen.push(FaultSeen::new(trial, false));
            }
            _ => {}
        }
    }

    pub(super) fn skip(&mut self) {
        let before = (self.guide.stage(), self.guide.turn().0);
        self.guide.skip();
        self.stage_changed(before);
    }

    pub(super) fn seen(&self) -> &[FaultSeen] {
        &self.seen
    }

    /// The stage, the fault whose turn it is from 1, and how many there are.
    pub(super) fn stage(&self) -> (Stage, usize, usize) {
        let (at, of) = self.guide.turn();
        (self.guide.stage(), (at + 1).min(of), of)
    }

    pub(super) fn marks(&self) -> &Marks {
        self.guide.marks()
    }
}
