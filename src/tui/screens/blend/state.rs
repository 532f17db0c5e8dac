//! What a block puts out for codes that keys or the run's channels give it.

use crate::constants::{Block, Input, Task};
use crate::tui::host::{BlockOffer, ProofRound};
use crate::tui::keys::Action;
use crate::tui::list::shift;
use crate::tui::message::{Message, Request};
use crate::tui::run::Run;
use crate::tui::session::Session;
use crate::twin::blend::{self, BlendCell, EdgeView};
use crate::twin::{self, StepOutput};

/// Pieces of the table that the picture is drawn from, across and down.
const PIECES: (u16, u16) = (96, 32);

/// Codes that a page key moves an input by.
const CODE_STRIDE: i32 = 16;

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
    Runs(StepOutput),
}

#[derive(Debug, Clone, PartialEq)]
pub struct Blend {
    pub offer: BlockOffer,
    /// Indices of the inputs that multiply.
    pub factors: Vec<usize>,
    /// What comes out over the first two of them.
    pub table: Vec<Vec<BlendCell>>,
    pub edges: Vec<EdgeView>,
    /// The inputs, in the block's order.
    pub inputs: Vec<Reading>,
    /// The input under the pointer.
    pub at: usize,
    /// Whether there is a run whose channels can feed the inputs.
    has_run: bool,
}

/// Names of a block's inputs: `pedal`, `dial`, and a check track after its partner.
fn names(block: &Block) -> Vec<String> {
    let inputs = &block.numbers().inputs;
    let named = |(i, input): (usize, &Input)| match input.task {
        Task::Factor(_) => block
            .usual_name(i)
            .map_or_else(|| format!("input {i}"), str::to_owned),
        Task::Check(_) => String::new(),
    };
    let mut names: Vec<String> = inputs.iter().enumerate().map(named).collect();
    for (i, input) in inputs.iter().enumerate() {
        if let Task::Check(check) = &input.task {
            let partner = names.get(usize::from(check.partner)).cloned();
            names[i] = format!("{} track 2", partner.unwrap_or_default());
        }
    }
    names
}

impl Blend {
    /// A page of this block, fed by the run, if any; without one its factors half-way, check tracks in agreement.
    pub fn new(offer: BlockOffer, run: Option<&Run>) -> Self {
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
        let mut page = Self {
            factors: blend::factors(block),
            table: blend::table(block, PIECES.0, PIECES.1),
            edges: blend::edges(block),
            inputs,
            at: 0,
            has_run: run.is_some(),
            offer,
        };
        if let Some(run) = run {
            let lanes = run.lanes.iter().enumerate();
            let signals = lanes.filter(|(_, lane)| lane.track.is_some());
            let named: Vec<_> = signals.map(|(i, lane)| (i, lane.name.as_str())).collect();
            page.feed(&named);
        }
        page
    }

    pub fn update(&mut self, session: &Session, message: &Message) -> Vec<Request> {
        let Message::Action(action, _) = message else {
            return Vec::new();
        };
        let run = &session.run;
        match action {
            Action::Up => shift(&mut self.at, -1, self.inputs.len()),
            Action::Down => shift(&mut self.at, 1, self.inputs.len()),
            Action::Earlier => self.move_code(-1, run),
            Action::Later => self.move_code(1, run),
            Action::PageEarlier => self.move_code(-CODE_STRIDE, run),
            Action::PageLater => self.move_code(CODE_STRIDE, run),
            Action::Feed => self.feed_next(run),
            Action::Prove => {
                let offer = Box::new(self.offer.clone());
                return vec![Request::ProveAsk(offer, ProofRound::Compare)];
            }
            _ => {}
        }
        Vec::new()
    }

    /// Lets the run's channels feed the inputs of the same name, or, when no name fits, in their order.
    fn feed(&mut self, lanes: &[(usize, &str)]) {
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
    fn top(&self) -> u16 {
        u16::try_from((1_u32 << self.offer.block.numbers().board.adc_bits) - 1).unwrap_or(u16::MAX)
    }

    /// Every input's code now, in the block's codes.
    pub fn codes(&self, run: &Run) -> Vec<Option<u16>> {
        let bits = u32::from(self.offer.block.numbers().board.adc_bits);
        let scaled = |code: u32| {
            let wide = u64::from(code) << bits;
            u16::try_from(wide >> run.bits().min(32))
                .unwrap_or(u16::MAX)
                .min(self.top())
        };
        let mut codes: Vec<Option<u16>> = self
            .inputs
            .iter()
            .map(|reading| match reading.fed {
                Fed::Keys => Some(reading.code),
                Fed::Lane(lane) => run.store.last_code(lane).map(scaled),
                Fed::Partner => None,
            })
            .collect();
        let given: Vec<(usize, u16)> = codes
            .iter()
            .enumerate()
            .filter_map(|(i, code)| Some((i, (*code)?)))
            .collect();
        let all = blend::codes(&self.offer.block, &given);
        for (i, (code, reading)) in codes.iter_mut().zip(&self.inputs).enumerate() {
            let partner = self
                .partner(i)
                .map(|at| given.iter().any(|(known, _)| *known == at));
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
    pub fn inside(&self, at: usize, code: u16) -> bool {
        self.input(at).is_some_and(|input| input.window.holds(code))
    }

    /// What the board settles to.
    pub fn outcome(&self, codes: &[Option<u16>]) -> Outcome {
        let Some(codes) = codes.iter().copied().collect::<Option<Vec<u16>>>() else {
            return Outcome::Unknown;
        };
        twin::settled(&self.offer.block, &codes).map_or(Outcome::Stops, Outcome::Runs)
    }

    /// Moves the code under the pointer; what was live or in agreement is by hand from here on.
    fn move_code(&mut self, by: i32, run: &Run) {
        let now = self.codes(run);
        let top = i32::from(self.top());
        let Some(reading) = self.inputs.get_mut(self.at) else {
            return;
        };
        let from = now.get(self.at).copied().flatten().unwrap_or(reading.code);
        reading.code = u16::try_from((i32::from(from) + by).clamp(0, top)).unwrap_or(0);
        reading.fed = Fed::Keys;
    }

    /// The next thing that can feed the input under the pointer.
    fn feed_next(&mut self, run: &Run) {
        let now = self.codes(run);
        let lanes = if self.has_run {
            run.drawn_lanes()
        } else {
            Vec::new()
        };
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
