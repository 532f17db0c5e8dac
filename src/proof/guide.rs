//! What a person is to do in a round of faults, one short sentence at a time. Stages end by themselves from what the signal
//! does; what cannot be done is left out on request or when patience ends.

use super::marks::{Fault, Mark, MarkKind, Marks};
use super::plausibility::{Plausibility, at_rest, plausibility, start_travel};
use super::samples::Scaling;
use crate::constants::Block;
use measure::units::Code;

/// How long a stage is waited for before it is left out, microseconds.
const PATIENCE_US: u64 = 60_000_000;
/// How long the output must have been above zero to count as running, microseconds.
const RUN_US: u64 = 700_000;
/// How long the output is watched after a fault, microseconds: at zero, and at most.
const ZERO_US: u64 = 300_000;
const WATCH_US: u64 = 3_000_000;
/// How long inputs must be good again, at rest, pressed, microseconds.
const HOLD_US: u64 = 600_000;
/// Every input below this share of full scale for [`OFF_US`]: the board has no power.
const OFF_SHARE: f64 = 0.02;
const OFF_US: u64 = 50_000;

/// What is being waited for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    Rest,
    /// The output above zero.
    Run,
    /// The fault, and what the output then does.
    Break(Fault),
    /// The wire whole again.
    Whole(Fault),
    /// The control at rest again: a stop must outlast it.
    RestAgain,
    /// The control pressed again: nothing may come out.
    PressAgain,
    Power,
    Done,
}

impl Stage {
    pub fn words(self) -> &'static str {
        match self {
            Self::Rest => "let the control rest",
            Self::Run => "press it part-way and hold it there: the output must come",
            Self::Break(Fault::Open) => "keep holding, and pull the signal wire now",
            Self::Break(Fault::Ground) => "keep holding, and tie the signal wire to ground now",
            Self::Break(Fault::Supply) => "keep holding, and tie the signal wire to the supply now",
            Self::Whole(Fault::Open) => "plug it in again: the output must stay at zero",
            Self::Whole(_) => "take the wire off again: the output must stay at zero",
            Self::RestAgain => "let the control rest: it must stay stopped",
            Self::PressAgain => "press it again and hold: it must stay stopped",
            Self::Power => "release, and cycle the board's power (Enter if it is not noticed)",
            Self::Done => "that was all: cycle the board's power before it is used",
        }
    }
}

/// Leads through the faults.
#[derive(Debug, Clone)]
pub struct Guide {
    block: Block,
    scaling: Scaling,
    off_below: f64,
    faults: Vec<Fault>,
    at: usize,
    stage: Stage,
    marks: Marks,
    now_us: u64,
    since_us: Option<u64>,
    /// For how long what the stage waits for has been so.
    held_us: u64,
    fault_us: Option<u64>,
    was_off: bool,
}

impl Guide {
    /// A guide through these faults, in order, for samples of `full_scale` codes.
    pub fn new(block: &Block, scaling: Scaling, full_scale: u32, faults: &[Fault]) -> Self {
        Self {
            block: block.clone(),
            scaling,
            off_below: f64::from(full_scale) * OFF_SHARE,
            faults: faults.to_vec(),
            at: 0,
            stage: if faults.is_empty() {
                Stage::Done
            } else {
                Stage::Rest
            },
            marks: Marks::default(),
            now_us: 0,
            since_us: None,
            held_us: 0,
            fault_us: None,
            was_off: false,
        }
    }

    pub fn stage(&self) -> Stage {
        self.stage
    }

    pub fn marks(&self) -> &Marks {
        &self.marks
    }

    /// The fault whose turn it is, and how many there are.
    pub fn turn(&self) -> (usize, usize) {
        (self.at, self.faults.len())
    }

    /// Takes a sample: codes of the inputs in the block's order, and of the output. Gives the new stage when it changes.
    pub fn push(&mut self, t_us: u64, inputs: &[Code], output: Code) -> Option<Stage> {
        let passed = if self.since_us.is_some() {
            t_us.saturating_sub(self.now_us)
        } else {
            0
        };
        self.now_us = t_us;
        let since = *self.since_us.get_or_insert(t_us);
        let before = self.stage;
        let reach: Vec<(u16, u16)> = inputs
            .iter()
            .map(|code| self.scaling.input(*code, 0.0))
            .collect();
        let numbers = self.block.numbers();
        let good = plausibility(numbers, &reach) == Plausibility::Good;
        let bad = plausibility(numbers, &reach) == Plausibility::Bad;
        let rests = good && at_rest(numbers, &reach);
        let zero = self.scaling.may_be_zero(output);
        let off = inputs.iter().all(|code| code.as_f64() < self.off_below);
        let start_us =
            u64::from(numbers.start.samples) * 1_000_000 / u64::from(numbers.board.rate_hz);
        let is = match self.stage {
            Stage::Rest | Stage::RestAgain => rests,
            Stage::Run => good && !zero,
            Stage::Break(_) => self.fault_us.is_some() && zero,
            Stage::Whole(_) => good,
            Stage::PressAgain => good && self.is_pressed(&reach),
            Stage::Power => off,
            Stage::Done => return None,
        };
        self.held_us = if is { self.held_us + passed } else { 0 };
        match self.stage {
            Stage::Rest if self.held_us >= start_us + HOLD_US => self.go(Stage::Run),
            Stage::Run if self.held_us >= RUN_US => self.ask(),
            Stage::Break(fault) => {
                if bad && self.fault_us.is_none() {
                    self.fault_us = Some(t_us);
                }
                let watched = self.fault_us.map_or(0, |from| t_us - from);
                if self.held_us >= ZERO_US || watched >= WATCH_US {
                    self.go(Stage::Whole(fault));
                } else if self.fault_us.is_none() && t_us - since >= PATIENCE_US {
                    self.skip();
                }
                return (self.stage != before).then_some(self.stage);
            }
            Stage::Whole(_) if self.held_us >= HOLD_US => self.go(Stage::RestAgain),
            Stage::RestAgain if self.held_us >= start_us + HOLD_US => self.go(Stage::PressAgain),
            Stage::PressAgain if self.held_us >= HOLD_US => self.next_fault(Stage::Power),
            Stage::Power => {
                self.was_off |= self.held_us >= OFF_US;
                if self.was_off && !off {
                    self.power();
                }
            }
            _ => {}
        }
        if self.stage == before && t_us - since >= PATIENCE_US {
            self.skip();
        }
        (self.stage != before).then_some(self.stage)
    }

    /// Leaves the stage out (a power cycle: takes it as done).
    pub fn skip(&mut self) {
        match self.stage {
            Stage::Rest => self.go(Stage::Run),
            Stage::Run => {
                self.ask();
                self.leave_out();
            }
            Stage::Break(_) => self.leave_out(),
            Stage::Whole(_) => self.go(Stage::RestAgain),
            Stage::RestAgain => self.go(Stage::PressAgain),
            Stage::PressAgain => self.next_fault(Stage::Power),
            Stage::Power => self.power(),
            Stage::Done => {}
        }
    }

    /// Whether these readings command something beyond doubt.
    fn is_pressed(&self, reach: &[(u16, u16)]) -> bool {
        let travel = start_travel(self.block.numbers(), reach);
        travel.is_some_and(|travel| travel.iter().all(|codes| *codes > 0))
    }

    fn go(&mut self, stage: Stage) {
        self.stage = stage;
        self.since_us = Some(self.now_us);
        self.held_us = 0;
        self.fault_us = None;
        self.was_off = false;
    }

    fn mark(&mut self, what: MarkKind, fault: Option<Fault>) {
        self.marks.0.push(Mark {
            t_us: self.now_us,
            what,
            fault,
        });
    }

    fn ask(&mut self) {
        let Some(fault) = self.faults.get(self.at).copied() else {
            return self.go(Stage::Done);
        };
        self.mark(MarkKind::Asked, Some(fault));
        self.go(Stage::Break(fault));
    }

    /// The board still runs: the next fault can be made at once.
    fn leave_out(&mut self) {
        self.mark(MarkKind::Skipped, self.faults.get(self.at).copied());
        self.next_fault(Stage::Run);
    }

    fn next_fault(&mut self, by: Stage) {
        self.at += 1;
        let more = self.at < self.faults.len();
        self.go(if more { by } else { Stage::Done });
    }

    fn power(&mut self) {
        self.mark(MarkKind::Power, None);
        self.go(Stage::Rest);
    }
}
