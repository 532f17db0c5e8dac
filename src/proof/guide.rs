//! What a person is to do in a round of faults, one short sentence at a time. Stages end by themselves from what the signal
//! does; what cannot be done is left out on request or when patience ends.

use super::marks::{Fault, Mark, MarkKind, Marks, Trial};
use super::plausibility::{Plausibility, at_rail, at_rest, plausibility, start_travel};
use super::samples::Scaling;
use super::trials::{dip_held_us, start_us};
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
/// Below this share of its level while the board runs the enable line no longer holds a relay (common practice, no source: relays
/// let go between a tenth and a half of their rated voltage; what drives them needs more than a quarter of 5 V).
pub(super) const ENABLE_OFF: f64 = 0.25;

/// What is being waited for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    Rest,
    /// The output above zero.
    Run,
    /// The fault, and what the output then does.
    Break(Trial),
    /// The wire whole again.
    Whole(Trial),
    /// The control at rest again: a stop must outlast it.
    RestAgain,
    /// The control pressed again: nothing may come out.
    PressAgain,
    Power,
    /// After a dip of the supply: let go, and it may start again.
    LetGo,
    Done,
}

impl Stage {
    /// What the person is to do now; `wires`: the names of the inputs, in the block's order.
    pub fn describe(self, wires: &[String]) -> String {
        match self {
            Self::Rest => "Let everything rest.".to_owned(),
            Self::Run => "Set every control part-way and hold: the output must come.".to_owned(),
            Self::Break(trial) => format!("Keep holding. {}", made(trial, wires)),
            Self::Whole(trial) => format!(
                "Keep holding. {} The output must stay at zero.",
                mended(trial, wires)
            ),
            Self::RestAgain => "Let go: it must stay stopped.".to_owned(),
            Self::PressAgain => "Press again and hold: it must stay stopped.".to_owned(),
            Self::Power => {
                "Let go, and switch the board's power off and on (Enter if it is not noticed)."
                    .to_owned()
            }
            Self::LetGo => "Let go: now it may start again.".to_owned(),
            Self::Done => {
                "That was all: switch the board's power off and on before it is used.".to_owned()
            }
        }
    }
}

/// A wire as it is named to a person: `PEDAL A, pin A0`.
fn wire(input: Option<u8>, wires: &[String]) -> String {
    let at = usize::from(input.unwrap_or(0));
    let name = wires
        .get(at)
        .map(|name| name.replace('_', " ").to_uppercase());
    match name {
        Some(name) => format!("{name}, pin A{at}"),
        None => format!("input {at}, pin A{at}"),
    }
}

fn made(trial: Trial, wires: &[String]) -> String {
    let wire = wire(trial.input, wires);
    match trial.fault {
        Fault::Open => format!("Unplug {wire}."),
        Fault::Ground => format!("Connect {wire}, to ground."),
        Fault::Supply => format!("Connect {wire}, to the supply."),
        Fault::TracksJoined => "Join the two signal wires of the pedal.".to_owned(),
        Fault::DacWire => "Unplug the DAC's SDA wire, pin A4.".to_owned(),
        Fault::Reset => "Press the board's reset button.".to_owned(),
        Fault::PowerDip => {
            "Switch the board's power off, on again at once, and hold on for three seconds."
                .to_owned()
        }
    }
}

fn mended(trial: Trial, wires: &[String]) -> String {
    match trial.fault {
        Fault::Open => format!("Plug {}, in again.", wire(trial.input, wires)),
        Fault::DacWire => "Plug SDA in again.".to_owned(),
        Fault::TracksJoined => "Part the two wires.".to_owned(),
        _ => format!("Take {}, off again.", wire(trial.input, wires)),
    }
}

/// One sample as the guide sees it.
#[derive(Debug, Clone, Copy)]
pub struct GuideSample<'a> {
    pub t_us: u64,
    /// Codes of the inputs in the block's order.
    pub inputs: &'a [Code],
    pub output: Code,
    /// The enable line behind its pump, where it is recorded.
    pub enable: Option<Code>,
}

/// What a sample says.
#[allow(clippy::struct_excessive_bools)] // each is a sign of its own
struct SampleSigns {
    good: bool,
    bad: bool,
    rests: bool,
    pressed: bool,
    zero: bool,
    /// Every input without voltage.
    off: bool,
    /// The enable line has fallen.
    disabled: bool,
    /// The wire in hand reads as where the fault takes it, even if the block believes that.
    arrived: bool,
}

/// Leads through the faults.
#[derive(Debug, Clone)]
pub struct Guide {
    block: Block,
    scaling: Scaling,
    off_below: f64,
    round: Vec<Trial>,
    at: usize,
    stage: Stage,
    marks: Marks,
    now_us: u64,
    since_us: Option<u64>,
    /// For how long what the stage waits for has been so.
    held_us: u64,
    fault_us: Option<u64>,
    was_off: bool,
    /// The enable line's code while the board ran.
    enabled: Option<Code>,
}

impl Guide {
    /// A guide through these steps, in order, for samples of `full_scale` codes.
    pub fn new(block: &Block, scaling: Scaling, full_scale: u32, round: &[Trial]) -> Self {
        Self {
            block: block.clone(),
            scaling,
            off_below: f64::from(full_scale) * OFF_SHARE,
            round: round.to_vec(),
            at: 0,
            stage: if round.is_empty() {
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
            enabled: None,
        }
    }

    pub fn stage(&self) -> Stage {
        self.stage
    }

    pub fn marks(&self) -> &Marks {
        &self.marks
    }

    /// The step whose turn it is, and how many there are.
    pub fn turn(&self) -> (usize, usize) {
        (self.at, self.round.len())
    }

    /// Takes a sample. Gives the new stage when it changes.
    pub fn push(&mut self, sample: GuideSample<'_>) -> Option<Stage> {
        let t_us = sample.t_us;
        let passed = if self.since_us.is_some() {
            t_us.saturating_sub(self.now_us)
        } else {
            0
        };
        self.now_us = t_us;
        let since = *self.since_us.get_or_insert(t_us);
        let before = self.stage;
        let signs = self.signs(sample);
        let is = self.is(&signs);
        self.held_us = if is { self.held_us + passed } else { 0 };
        if self.stage == Stage::Run && is {
            self.enabled = sample.enable;
        }
        self.go_on(t_us, &signs);
        // A fault that has been made is not left out any more.
        let patience_ends = t_us.saturating_sub(since) >= PATIENCE_US && self.fault_us.is_none();
        if self.stage == before && patience_ends {
            self.skip();
        }
        (self.stage != before).then_some(self.stage)
    }

    fn signs(&self, sample: GuideSample<'_>) -> SampleSigns {
        let numbers = self.block.numbers();
        let reach: Vec<(u16, u16)> = sample
            .inputs
            .iter()
            .map(|code| self.scaling.input(*code, 0.0))
            .collect();
        let is = plausibility(numbers, &reach);
        let good = is == Plausibility::Good;
        let fallen = |on: Code| {
            let now = sample.enable.map_or(f64::INFINITY, Code::as_f64);
            now < on.as_f64() * ENABLE_OFF
        };
        SampleSigns {
            good,
            bad: is == Plausibility::Bad,
            rests: good && at_rest(numbers, &reach),
            pressed: good && self.is_pressed(&reach),
            zero: self.scaling.may_be_zero(sample.output),
            off: sample
                .inputs
                .iter()
                .all(|code| code.as_f64() < self.off_below),
            disabled: self.enabled.is_some_and(fallen),
            arrived: self.arrived(&reach),
        }
    }

    fn arrived(&self, reach: &[(u16, u16)]) -> bool {
        let Stage::Break(trial) = self.stage else {
            return false;
        };
        let at = trial.input.and_then(|at| reach.get(usize::from(at)));
        at.is_some_and(|is| at_rail(trial.fault, *is, self.block.numbers()))
    }

    /// Whether what the stage waits for is so.
    fn is(&self, signs: &SampleSigns) -> bool {
        match self.stage {
            Stage::Rest | Stage::RestAgain | Stage::LetGo => signs.rests,
            Stage::Run => signs.good && !signs.zero,
            Stage::Break(trial) => match trial.fault {
                Fault::DacWire => signs.good && signs.disabled,
                Fault::Reset => signs.good && signs.zero,
                Fault::PowerDip => self.was_off && signs.pressed && signs.zero,
                _ => self.fault_us.is_some() && signs.zero,
            },
            // Only then the DAC is told again to put out 0.
            Stage::Whole(trial) if trial.fault == Fault::DacWire => signs.good && signs.zero,
            Stage::Whole(_) => signs.good,
            Stage::PressAgain => signs.pressed,
            Stage::Power | Stage::Done => signs.off,
        }
    }

    fn go_on(&mut self, t_us: u64, signs: &SampleSigns) {
        let numbers = self.block.numbers();
        let start_us = start_us(numbers);
        let held = self.held_us;
        match self.stage {
            Stage::Rest if held >= start_us + HOLD_US => self.go(Stage::Run),
            Stage::Run if held >= RUN_US => self.ask(),
            Stage::Break(trial) => self.while_broken(trial, t_us, signs),
            Stage::Whole(_) if held >= HOLD_US => self.go(Stage::RestAgain),
            Stage::RestAgain if held >= start_us + HOLD_US => self.go(Stage::PressAgain),
            Stage::PressAgain if held >= HOLD_US => self.next_fault(Stage::Power),
            Stage::LetGo if held >= start_us + HOLD_US => self.next_fault(Stage::Rest),
            // What the board does anew after the last fault is no part of it, and a recording may go on until then.
            Stage::Power | Stage::Done => {
                self.was_off |= held >= OFF_US;
                if self.was_off && !signs.off {
                    self.power();
                }
            }
            _ => {}
        }
    }

    fn while_broken(&mut self, trial: Trial, t_us: u64, signs: &SampleSigns) {
        let made = match trial.fault {
            Fault::DacWire => signs.disabled,
            Fault::Reset => signs.zero,
            Fault::PowerDip => {
                if signs.off && !self.was_off {
                    self.was_off = true;
                } else if self.was_off && !signs.off && self.fault_us.is_none() {
                    self.mark(MarkKind::Power, None);
                }
                self.was_off && !signs.off
            }
            _ => signs.bad || signs.arrived,
        };
        if made && self.fault_us.is_none() {
            self.fault_us = Some(t_us);
        }
        let watched = self.fault_us.map_or(0, |from| t_us.saturating_sub(from));
        let long = match trial.fault {
            Fault::PowerDip => dip_held_us(self.block.numbers()) + ZERO_US,
            _ => ZERO_US,
        };
        if self.held_us >= long || watched >= WATCH_US.max(2 * long) {
            self.go(match trial.fault {
                Fault::PowerDip => Stage::LetGo,
                Fault::Reset => Stage::RestAgain,
                _ => Stage::Whole(trial),
            });
        }
    }

    /// Leaves the stage out (a power cycle: takes it as done).
    pub fn skip(&mut self) {
        match self.stage {
            Stage::Rest => self.go(Stage::Run),
            Stage::Run => {
                self.ask();
                if matches!(self.stage, Stage::Break(_)) {
                    self.leave_out();
                }
            }
            Stage::Break(_) => self.leave_out(),
            Stage::Whole(_) => self.go(Stage::RestAgain),
            Stage::RestAgain => self.go(Stage::PressAgain),
            Stage::PressAgain => self.next_fault(Stage::Power),
            Stage::Power => self.power(),
            Stage::LetGo => self.next_fault(Stage::Rest),
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

    fn mark(&mut self, what: MarkKind, trial: Option<Trial>) {
        self.marks.0.push(Mark {
            t_us: self.now_us,
            what,
            fault: trial.map(|trial| trial.fault),
            input: trial.and_then(|trial| trial.input),
        });
    }

    fn ask(&mut self) {
        let Some(trial) = self.round.get(self.at).copied() else {
            return self.go(Stage::Done);
        };
        self.mark(MarkKind::Asked, Some(trial));
        self.go(Stage::Break(trial));
        // Without the enable line nobody sees what a lost DAC does.
        if trial.fault == Fault::DacWire && self.enabled.is_none() {
            self.leave_out();
        }
    }

    /// The board still runs: the next fault can be made at once.
    fn leave_out(&mut self) {
        self.mark(MarkKind::Skipped, self.round.get(self.at).copied());
        self.next_fault(Stage::Run);
    }

    fn next_fault(&mut self, by: Stage) {
        self.at += 1;
        let more = self.at < self.round.len();
        self.go(if more { by } else { Stage::Done });
    }

    fn power(&mut self) {
        self.mark(MarkKind::Power, None);
        self.go(match self.stage {
            Stage::Done => Stage::Done,
            _ => Stage::Rest,
        });
    }
}
