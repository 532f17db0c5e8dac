//! The blocks that can be looked at, and what one of them puts out for chosen or live codes.
//!
//! Belongs here: the list of blocks, the state of the blend page, its keys. Does not belong here: what a block makes of
//! codes (`twin`), drawing.

use super::offers::SourceOffer;
use super::places::Listed;
use super::state::{Screen, State};
use super::update::Effect;
use crate::constants::{Block, Input, Task};
use crate::proof::Marks;
use crate::twin::blend::{self, EdgeView, Put};
use crate::twin::{self, Shown};
use std::path::PathBuf;

/// Pieces of the table that the picture is drawn from, across and down.
const PIECES: (u16, u16) = (96, 32);

/// A block that can be shown, and that a board can be held against.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BlockOffer {
    /// What it is called: its file.
    pub name: String,
    /// What it is, in a few words.
    pub detail: String,
    /// The block.
    pub block: Block,
    /// Whether there is a simulated board flashed with it.
    pub simulated: bool,
}

/// What a board is to show.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ProofRound {
    /// The right output everywhere.
    #[default]
    Compare,
    /// Output zero at every fault, and staying there.
    Faults,
}

/// A proof that is asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProofChoice {
    /// What the board was flashed with.
    pub offer: BlockOffer,
    /// Where its samples come from.
    pub source: SourceOffer,
    /// What it is to show.
    pub round: ProofRound,
}

/// A proof whose run is over.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProofTaken {
    /// What was asked for.
    pub choice: ProofChoice,
    /// The capture.
    pub capture: PathBuf,
    /// What happened when; empty without faults.
    pub marks: Marks,
}

/// What an input of the page reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fed {
    /// What the keys make it.
    Keys,
    /// What agrees with its partner, as a good control does.
    Partner,
    /// The last code of this lane of the run.
    Lane(usize),
}

/// One input of the page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading {
    /// What it is called.
    pub name: String,
    /// Its code when the keys make it.
    pub code: u16,
    /// Where its code comes from.
    pub fed: Fed,
}

/// What comes out for the codes of all inputs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// An input has no code yet.
    Unknown,
    /// The board stops.
    Stops,
    /// It runs and puts this out.
    Runs(Shown),
}

/// The blend page.
#[derive(Debug, Clone, PartialEq)]
pub struct Blend {
    /// The block.
    pub offer: BlockOffer,
    /// Indices of the inputs that multiply.
    pub factors: Vec<usize>,
    /// What comes out over the first two of them.
    pub table: Vec<Vec<Put>>,
    /// What the edges do.
    pub edges: Vec<EdgeView>,
    /// The inputs, in the block's order.
    pub inputs: Vec<Reading>,
    /// The input under the pointer.
    pub at: usize,
}

/// Names of a block's inputs: `pedal`, `dial`, and a check track after its partner.
fn names(block: &Block) -> Vec<String> {
    let inputs = &block.numbers().inputs;
    let mut usual = ["pedal", "dial"].into_iter();
    let mut names: Vec<String> = inputs
        .iter()
        .enumerate()
        .map(|(i, input)| match input.task {
            Task::Factor(_) => usual
                .next()
                .map_or_else(|| format!("input {i}"), str::to_owned),
            Task::Check(_) => String::new(),
        })
        .collect();
    for (i, input) in inputs.iter().enumerate() {
        if let Task::Check(check) = &input.task {
            let partner = names.get(usize::from(check.partner)).cloned();
            names[i] = format!("{} track 2", partner.unwrap_or_default());
        }
    }
    names
}

impl Blend {
    /// A page of this block: its factors half-way, check tracks in agreement.
    #[must_use]
    pub fn new(offer: BlockOffer) -> Self {
        let block = &offer.block;
        let inputs = names(block)
            .into_iter()
            .zip(&block.numbers().inputs)
            .map(|(name, input)| match &input.task {
                Task::Factor(factor) => Reading {
                    name,
                    code: u16::midpoint(factor.rest_edge, factor.full_edge),
                    fed: Fed::Keys,
                },
                Task::Check(_) => Reading {
                    name,
                    code: input.window.low,
                    fed: Fed::Partner,
                },
            })
            .collect();
        Self {
            factors: blend::factors(block),
            table: blend::table(block, PIECES.0, PIECES.1),
            edges: blend::edges(block),
            inputs,
            at: 0,
            offer,
        }
    }

    /// Lets the run's channels feed the inputs of the same name, or, when no name fits, in their order.
    pub fn feed(&mut self, lanes: &[(usize, &str)]) {
        let own = |reading: &Reading| {
            reading
                .name
                .split(' ')
                .next()
                .unwrap_or_default()
                .to_owned()
        };
        let mut free: Vec<(usize, &str)> = lanes.to_vec();
        let mut found = false;
        for reading in &mut self.inputs {
            let name = own(reading);
            if let Some(at) = free
                .iter()
                .position(|(_, lane)| lane.to_lowercase().contains(&name))
            {
                reading.fed = Fed::Lane(free.remove(at).0);
                found = true;
            }
        }
        if !found {
            for (reading, (lane, _)) in self.inputs.iter_mut().zip(lanes) {
                reading.fed = Fed::Lane(*lane);
            }
        }
    }

    /// The highest code of the block's ADC.
    #[must_use]
    pub fn top(&self) -> u16 {
        u16::try_from((1_u32 << self.offer.block.numbers().board.adc_bits) - 1).unwrap_or(u16::MAX)
    }

    /// Every input's code now, in the block's codes. `live` gives a lane's last code with its bits.
    pub fn codes(&self, live: impl Fn(usize) -> Option<(u32, u32)>) -> Vec<Option<u16>> {
        let bits = u32::from(self.offer.block.numbers().board.adc_bits);
        let scaled = |(code, from): (u32, u32)| {
            let wide = u64::from(code) << bits;
            u16::try_from(wide >> from.min(32))
                .unwrap_or(u16::MAX)
                .min(self.top())
        };
        let mut codes: Vec<Option<u16>> = self
            .inputs
            .iter()
            .map(|reading| match reading.fed {
                Fed::Keys => Some(reading.code),
                Fed::Lane(lane) => live(lane).map(scaled),
                Fed::Partner => None,
            })
            .collect();
        let said: Vec<(usize, u16)> = codes
            .iter()
            .enumerate()
            .filter_map(|(i, code)| Some((i, (*code)?)))
            .collect();
        let all = blend::codes(&self.offer.block, &said);
        for (i, (code, reading)) in codes.iter_mut().zip(&self.inputs).enumerate() {
            let partner = self
                .partner(i)
                .map(|at| said.iter().any(|(known, _)| *known == at));
            if reading.fed == Fed::Partner && partner == Some(true) {
                *code = all.get(i).copied();
            }
        }
        codes
    }

    fn input(&self, at: usize) -> Option<&Input> {
        self.offer.block.numbers().inputs.get(at)
    }

    fn partner(&self, at: usize) -> Option<usize> {
        match &self.input(at)?.task {
            Task::Check(check) => Some(usize::from(check.partner)),
            Task::Factor(_) => None,
        }
    }

    /// Whether a code is inside an input's window.
    #[must_use]
    pub fn inside(&self, at: usize, code: u16) -> bool {
        self.input(at).is_some_and(|input| input.window.holds(code))
    }

    /// What the board settles to.
    #[must_use]
    pub fn outcome(&self, codes: &[Option<u16>]) -> Outcome {
        let Some(codes) = codes.iter().copied().collect::<Option<Vec<u16>>>() else {
            return Outcome::Unknown;
        };
        twin::settled(&self.offer.block, &codes).map_or(Outcome::Stops, Outcome::Runs)
    }

    /// Moves the code under the pointer; what was live or in agreement is by hand from here on.
    pub fn move_code(&mut self, by: i32, now: &[Option<u16>]) {
        let top = i32::from(self.top());
        let Some(reading) = self.inputs.get_mut(self.at) else {
            return;
        };
        let from = now.get(self.at).copied().flatten().unwrap_or(reading.code);
        reading.code = u16::try_from((i32::from(from) + by).clamp(0, top)).unwrap_or(0);
        reading.fed = Fed::Keys;
    }

    /// The next thing that can feed the input under the pointer.
    pub fn feed_next(&mut self, lanes: &[usize], now: &[Option<u16>]) {
        let checks = self.partner(self.at).is_some();
        let code = now.get(self.at).copied().flatten();
        let Some(reading) = self.inputs.get_mut(self.at) else {
            return;
        };
        let after = |lane: usize| {
            lanes
                .iter()
                .position(|known| *known == lane)
                .map(|at| at + 1)
        };
        let next = match reading.fed {
            Fed::Keys if checks => return reading.fed = Fed::Partner,
            Fed::Keys | Fed::Partner => Some(0),
            Fed::Lane(lane) => after(lane),
        };
        if let Some(lane) = next.and_then(|at| lanes.get(at)) {
            reading.fed = Fed::Lane(*lane);
        } else {
            reading.code = code.unwrap_or(reading.code);
            reading.fed = Fed::Keys;
        }
    }
}

/// To the list of blocks.
pub fn to_blocks(state: &mut State) -> Vec<Effect> {
    state.blocks = Listed::Asked;
    super::places::go(state, Screen::Blocks);
    vec![Effect::Blocks]
}

/// The list has come.
pub fn came(state: &mut State, answer: Result<Vec<BlockOffer>, String>) {
    state.blocks = Listed::from_answer(answer);
    let last = state.blocks.items().len().saturating_sub(1);
    state.block = state.block.min(last);
}

/// To what the block under the pointer puts out.
pub fn to_blend(state: &mut State) {
    let Some(offer) = state.blocks.items().get(state.block).cloned() else {
        return;
    };
    let mut page = Blend::new(offer);
    if state.has_run() {
        let run = &state.run;
        let signals = run
            .lanes
            .iter()
            .enumerate()
            .filter(|(_, lane)| lane.track.is_some());
        let lanes: Vec<(usize, &str)> = signals.map(|(i, lane)| (i, lane.name.as_str())).collect();
        page.feed(&lanes);
    }
    state.blend = Some(page);
    super::places::go(state, Screen::Blend);
}

/// The codes of the page's inputs now.
#[must_use]
pub fn codes(state: &State) -> Vec<Option<u16>> {
    let bits = state.run.taking.as_ref().map_or(10, |taking| taking.bits);
    let live = |lane: usize| Some((state.run.store.last_code(lane)?, bits));
    state
        .blend
        .as_ref()
        .map_or_else(Vec::new, |page| page.codes(live))
}

/// Moves the code under the pointer.
pub fn move_code(state: &mut State, by: i32) {
    let now = codes(state);
    if let Some(page) = &mut state.blend {
        page.move_code(by, &now);
    }
}

/// The next channel that can feed the input under the pointer.
pub fn feed_next(state: &mut State) {
    let now = codes(state);
    let lanes = if state.has_run() {
        state.run.drawn_lanes()
    } else {
        Vec::new()
    };
    if let Some(page) = &mut state.blend {
        page.feed_next(&lanes, &now);
    }
}
