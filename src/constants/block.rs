//! The constants block as a value: what it says, and what it cannot say.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// 1 in Q15: the full command, or no limit on its change.
pub const Q15_ONE: u16 = 0x8000;

/// Most inputs that a block can have; a core is usually built for fewer, see [`Build`].
pub const MOST_INPUTS: usize = 8;

/// Most curve points between the edges of one input.
pub const MOST_POINTS: usize = 30;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TargetBoard {
    /// Resolution of the inputs, 8 to 15: codes are 0 to 2^bits - 1.
    pub adc_bits: u8,
    pub dac_bits: u8,
    /// Steps a second, not 0: the meaning of everything that is counted in steps or samples.
    pub rate_hz: u16,
}

/// From the command to the motor controller.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Output {
    /// DAC code of command 0; below `full`, because the board writes code 0 before it has read any constants.
    pub zero_dac: u16,
    pub full_dac: u16,
    /// Most that the command may rise in one step: Q15, 1 to [`Q15_ONE`] (no limit).
    pub rise_q15: u16,
    /// Most that the command may fall in one step: Q15, 1 to [`Q15_ONE`] (no limit). A stop is not limited.
    pub fall_q15: u16,
    /// While waiting the DAC stands at `zero_dac`, because the controller faults on code 0. A stop is code 0 all the same.
    #[serde(default)]
    pub waits_at_zero: bool,
}

/// What the board watches besides its inputs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Watch {
    /// Codes of the part's own reference at which the supply is believed.
    pub supply: Window,
    /// Largest departure of the DAC's output from what was written, DAC codes.
    pub read_back: u16,
}

/// The reference inside the parts of `src/firmware/boards`, millivolts (their data sheets; from memory).
pub const OWN_REFERENCE_MV: f64 = 1100.0;
/// How far the supply may be off, percent (DESIGN 4.7).
const SUPPLY_PCT: f64 = 10.0;
/// How far the DAC's output may read from what was written, percent of full scale: its gain error of 2 % at most and
/// a load of 1 % (data sheet of the usual part, from memory; the load by Ohm: 100 ohm and 10 kOhm).
const READ_BACK_PCT: f64 = 3.0;
/// And so many codes of the ADC.
const READ_BACK_CODES: f64 = 2.0;

impl Watch {
    /// What is watched on a board of so many bits, with this supply and this reference in its part.
    pub fn usual((adc_bits, dac_bits): (u8, u8), vref_mv: f64, own_mv: f64) -> Self {
        let top = f64::from(top_code(adc_bits.clamp(8, 15)));
        let (adc, dac) = (top + 1.0, f64::from(top_code(dac_bits.clamp(8, 16))));
        // The higher the supply, the lower the reading.
        let reads = |share: f64| own_mv / (vref_mv * share) * adc;
        let low = reads(1.0 + SUPPLY_PCT / 100.0).floor();
        let high = reads(1.0 - SUPPLY_PCT / 100.0).ceil();
        Self {
            supply: Window {
                low: code_of(low, top - 1.0),
                high: code_of(high, top),
            },
            read_back: code_of(
                (READ_BACK_PCT / 100.0 + READ_BACK_CODES / adc) * (dac + 1.0),
                dac,
            ),
        }
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped first
fn code_of(value: f64, top: f64) -> u16 {
    value.clamp(0.0, top) as u16
}

/// What must have been seen before the command leaves zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Start {
    /// The input, a factor, that must be at or before its rest edge.
    pub input: u8,
    /// For how many samples in a row, at least 1.
    pub samples: u16,
}

/// The codes at which an input is believed: `low` and `high` are inside.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Window {
    pub low: u16,
    pub high: u16,
}

impl Window {
    /// Whether a code is believed.
    pub fn holds(self, code: u16) -> bool {
        (self.low..=self.high).contains(&code)
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Point {
    pub code: u16,
    /// The command there, Q15, at most [`Q15_ONE`].
    pub q15: u16,
}

/// An input that the command is multiplied by.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Factor {
    /// Code where its command leaves 0; it is 0 at and before this code.
    pub rest_edge: u16,
    /// Code where its command reaches 1; below `rest_edge` when the code falls with travel.
    pub full_edge: u16,
    /// The curve between the edges, from rest to full: codes strictly between them, one after the other, and commands
    /// that never fall. Straight pieces connect the points and the edges.
    #[serde(default)]
    pub points: Vec<Point>,
    /// The filter `y += (x - y) / 2^shift`, 0 (none) to 16 - ADC bits.
    pub filter_shift: u8,
}

impl Factor {
    /// Codes from the rest edge towards the full edge, negative before the rest edge.
    pub fn travel(&self, code: u16) -> i32 {
        let above = i32::from(code) - i32::from(self.rest_edge);
        if self.full_edge < self.rest_edge {
            -above
        } else {
            above
        }
    }
}

/// A second track that commands nothing but must agree: its code is `gain x partner's code + offset`, within `band`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Check {
    /// The input, a factor, that it checks.
    pub partner: u8,
    /// Gain in Q12 (4096 is 1), not 0.
    pub gain_q12: i16,
    pub offset: i16,
    /// Largest departure in codes that still agrees.
    pub band: u16,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Task {
    Factor(Factor),
    /// It must agree with another input.
    Check(Check),
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Input {
    pub window: Window,
    #[serde(flatten)]
    pub task: Task,
}

impl Input {
    /// What it multiplies by; none of a check track.
    pub fn factor(&self) -> Option<&Factor> {
        match &self.task {
            Task::Factor(factor) => Some(factor),
            Task::Check(_) => None,
        }
    }
}

/// The numbers of a block, not checked yet: [`Block::new`] does that.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BlockFields {
    pub board: TargetBoard,
    pub output: Output,
    pub start: Start,
    /// Bad samples until it stops, at least 1: a bad one counts up by one, a good one down by one.
    pub persistence: u16,
    pub watch: Watch,
    pub inputs: Vec<Input>,
}

/// A block whose numbers are possible, each and together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Block(BlockFields);

/// A number that a block cannot have, and where: `place` is like `inputs[1].window`.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("at `{place}`: {what}")]
pub struct InvalidBlock {
    pub place: String,
    pub what: String,
}

/// What a firmware core was built for: `PP_MAX_INPUTS` and `PP_MAX_SEGMENTS` of `core/blend.h`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Build {
    pub inputs: usize,
    /// Most straight pieces of all curves together.
    pub segments: usize,
}

impl Build {
    /// The usual one, with room for so many inputs.
    pub fn with_inputs(inputs: usize) -> Self {
        let usual = Self::default();
        Self {
            inputs: inputs.max(usual.inputs),
            ..usual
        }
    }
}

impl Default for Build {
    /// As `core/blend.h` has it.
    fn default() -> Self {
        Self {
            inputs: 3,
            segments: 16,
        }
    }
}

/// Why a block does not go with a board or its core.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Misfit {
    #[error(
        "the constants file has {has} {of}, the firmware core was built for {built}. Build the board for it (make -C boards \
         {option}={has}, see its README) and say {flag} {has}; or make a smaller constants file"
    )]
    Build {
        of: &'static str,
        has: usize,
        built: usize,
        option: &'static str,
        flag: &'static str,
    },
    #[error(
        "the constants file is for an ADC of {block} bits, the board has {board}: its codes would mean other positions; make the \
         constants from recordings of that board"
    )]
    Bits { block: u8, board: u8 },
}

fn refuse<T>(place: impl Into<String>, what: impl Into<String>) -> Result<T, InvalidBlock> {
    Err(InvalidBlock {
        place: place.into(),
        what: what.into(),
    })
}

fn demand(
    is: bool,
    place: impl Into<String>,
    what: impl FnOnce() -> String,
) -> Result<(), InvalidBlock> {
    if is { Ok(()) } else { refuse(place, what()) }
}

impl Block {
    /// Checks the numbers.
    pub fn new(draft: BlockFields) -> Result<Self, InvalidBlock> {
        check_board(draft.board)?;
        check_output(draft.output, draft.board)?;
        demand(
            (1..=MOST_INPUTS).contains(&draft.inputs.len()),
            "inputs",
            || {
                format!(
                    "{} inputs, a constants file has 1 to {MOST_INPUTS}",
                    draft.inputs.len()
                )
            },
        )?;
        demand(draft.persistence > 0, "persistence", || {
            "0 samples: no sample could be good".into()
        })?;
        demand(draft.start.samples > 0, "start.samples", || {
            "0 samples: it would start without looking".into()
        })?;
        names_a_factor(&draft, draft.start.input, "start.input")?;
        check_watch(draft.watch, draft.board)?;
        for (i, input) in draft.inputs.iter().enumerate() {
            check_window(input.window, draft.board, i)?;
            match &input.task {
                Task::Factor(factor) => check_factor(factor, input.window, draft.board, i)?,
                Task::Check(check) => check_check(*check, &draft, i)?,
            }
        }
        Ok(Self(draft))
    }

    pub fn numbers(&self) -> &BlockFields {
        &self.0
    }

    /// What an input is usually called: `pedal` what must rest before a start, `dial` the first other factor.
    pub fn usual_name(&self, at: usize) -> Option<&'static str> {
        let start = usize::from(self.0.start.input);
        let is_other = |(i, input): (usize, &Input)| i != start && input.factor().is_some();
        match at {
            at if at == start => Some("pedal"),
            at => {
                (self.0.inputs.iter().enumerate().position(is_other) == Some(at)).then_some("dial")
            }
        }
    }

    pub fn segments(&self) -> usize {
        let factors = self.0.inputs.iter().filter_map(Input::factor);
        factors.map(|factor| factor.points.len() + 1).sum()
    }

    /// Whether it is for a board of so many ADC bits.
    pub fn is_for(&self, board: u8) -> Result<(), Misfit> {
        let block = self.0.board.adc_bits;
        if block == board {
            return Ok(());
        }
        Err(Misfit::Bits { block, board })
    }

    /// Whether a core takes it.
    pub fn fits(&self, build: Build) -> Result<(), Misfit> {
        let sides = [
            (
                "inputs",
                self.0.inputs.len(),
                build.inputs,
                ["INPUTS", "--core-inputs"],
            ),
            (
                "curve pieces",
                self.segments(),
                build.segments,
                ["PP_MAX_SEGMENTS", "--core-segments"],
            ),
        ];
        match sides.into_iter().find(|(_, has, built, _)| has > built) {
            Some((of, has, built, [option, flag])) => Err(Misfit::Build {
                of,
                has,
                built,
                option,
                flag,
            }),
            None => Ok(()),
        }
    }
}

impl TryFrom<BlockFields> for Block {
    type Error = InvalidBlock;

    fn try_from(draft: BlockFields) -> Result<Self, InvalidBlock> {
        Self::new(draft)
    }
}

fn check_board(board: TargetBoard) -> Result<(), InvalidBlock> {
    demand((8..=15).contains(&board.adc_bits), "board.adc_bits", || {
        format!("{} bits, the core takes 8 to 15", board.adc_bits)
    })?;
    demand((8..=16).contains(&board.dac_bits), "board.dac_bits", || {
        format!("{} bits, the core takes 8 to 16", board.dac_bits)
    })?;
    demand(board.rate_hz > 0, "board.rate_hz", || {
        "0 steps a second".into()
    })
}

fn check_output(output: Output, board: TargetBoard) -> Result<(), InvalidBlock> {
    let top = top_code(board.dac_bits);
    demand(output.zero_dac < output.full_dac, "output.zero_dac", || {
        format!(
            "code {} is not below that of the full command, {}: the board writes code 0 before it has read any constants, \
             and that must not be the full command",
            output.zero_dac, output.full_dac
        )
    })?;
    demand(u32::from(output.full_dac) <= top, "output.full_dac", || {
        format!(
            "code {} is above the highest of {} bits, {top}",
            output.full_dac, board.dac_bits
        )
    })?;
    for (place, limit) in [
        ("output.rise_q15", output.rise_q15),
        ("output.fall_q15", output.fall_q15),
    ] {
        demand((1..=Q15_ONE).contains(&limit), place, || {
            format!("{limit} is not in 1 to {Q15_ONE}")
        })?;
    }
    Ok(())
}

fn check_watch(watch: Watch, board: TargetBoard) -> Result<(), InvalidBlock> {
    check_range(watch.supply, board, "watch.supply")?;
    let top = top_code(board.dac_bits);
    demand(u32::from(watch.read_back) <= top, "watch.read_back", || {
        format!(
            "{} codes is above the highest code of {} bits, {top}",
            watch.read_back, board.dac_bits
        )
    })
}

fn top_code(bits: u8) -> u32 {
    (1 << bits) - 1
}

fn names_a_factor(draft: &BlockFields, input: u8, place: &str) -> Result<(), InvalidBlock> {
    match draft
        .inputs
        .get(usize::from(input))
        .map(|input| &input.task)
    {
        Some(Task::Factor(_)) => Ok(()),
        Some(Task::Check(_)) => refuse(place, format!("input {input} is itself a check track")),
        None => refuse(
            place,
            format!(
                "there is no input {input}, the constants file has {}, counted from 0",
                draft.inputs.len()
            ),
        ),
    }
}

fn check_window(window: Window, board: TargetBoard, i: usize) -> Result<(), InvalidBlock> {
    check_range(window, board, &format!("inputs[{i}].window"))
}

fn check_range(window: Window, board: TargetBoard, place: &str) -> Result<(), InvalidBlock> {
    let top = top_code(board.adc_bits);
    demand(window.low < window.high, place, || {
        format!("low {} is not below high {}", window.low, window.high)
    })?;
    demand(u32::from(window.high) <= top, place, || {
        format!(
            "high {} is above the highest code of {} bits, {top}",
            window.high, board.adc_bits
        )
    })
}

fn check_factor(
    factor: &Factor,
    window: Window,
    board: TargetBoard,
    i: usize,
) -> Result<(), InvalidBlock> {
    let place = |part: &str| format!("inputs[{i}].factor.{part}");
    for (part, edge) in [
        ("rest_edge", factor.rest_edge),
        ("full_edge", factor.full_edge),
    ] {
        demand(window.holds(edge), place(part), || {
            format!(
                "{edge} is outside the window, {} to {}",
                window.low, window.high
            )
        })?;
    }
    demand(
        factor.rest_edge != factor.full_edge,
        place("full_edge"),
        || format!("{} is the rest edge, too: no travel", factor.full_edge),
    )?;
    let most = 16 - board.adc_bits;
    demand(factor.filter_shift <= most, place("filter_shift"), || {
        format!(
            "{} is above {most}, the most with {} ADC bits",
            factor.filter_shift, board.adc_bits
        )
    })?;
    demand(factor.points.len() <= MOST_POINTS, place("points"), || {
        format!(
            "{} points, a curve has at most {MOST_POINTS} between its edges",
            factor.points.len()
        )
    })?;
    let (mut from, mut value) = (0, 0);
    for (n, point) in factor.points.iter().enumerate() {
        let travel = factor.travel(point.code);
        let place = place(&format!("points[{n}]"));
        demand(
            travel > from && travel < factor.travel(factor.full_edge),
            &place,
            || {
                format!(
                    "code {} does not lie between the point before it and the full edge, {}",
                    point.code, factor.full_edge
                )
            },
        )?;
        demand((value..=Q15_ONE).contains(&point.q15), &place, || {
            format!(
                "command {} is not between the one before it, {value}, and {Q15_ONE}",
                point.q15
            )
        })?;
        (from, value) = (travel, point.q15);
    }
    Ok(())
}

fn check_check(check: Check, draft: &BlockFields, i: usize) -> Result<(), InvalidBlock> {
    let place = |part: &str| format!("inputs[{i}].check.{part}");
    names_a_factor(draft, check.partner, &place("partner"))?;
    demand(check.gain_q12 != 0, place("gain_q12"), || {
        "0: it would not depend on its partner".into()
    })?;
    let top = top_code(draft.board.adc_bits);
    demand(
        u32::from(check.gain_q12.unsigned_abs()) * top + 2048 < 1 << 27, // half a code, to round
        place("gain_q12"),
        || {
            format!(
                "{} takes full scale of {} bits beyond what the core reckons with",
                check.gain_q12, draft.board.adc_bits
            )
        },
    )?;
    demand(u32::from(check.band) <= top, place("band"), || {
        format!(
            "{} codes is all there is with {} bits: nothing would disagree",
            check.band, draft.board.adc_bits
        )
    })
}
