//! A capture held against a block: which column is which, and what the profile says beforehand.
//!
//! Belongs here: from a capture to what `proof` takes. Does not belong here: figures, limits.

use crate::bench::assess::facts;
use crate::capture::{Capture, Opened};
use crate::constants::{Block, Task, choose};
use crate::profile::{Kind, Profile};
use crate::proof::{
    Fault, Foretold, Marks, Mismatch, Proof, ProofConditions, ProofSetup, Samples, prove,
};
use crate::wiring::{JudgedTrack, SurveyError, Wire};
use measure::units::{Code, Role, Scale, ScaleError, Track};
use thiserror::Error;

/// Largest departure unless said otherwise, percent of full output: above what the readings of two 10-bit boards leave open,
/// below an edge that is off by 2 % of the travel.
pub const WITHIN_PCT: f64 = 1.0;

/// What is asked of a capture.
#[derive(Debug, Clone)]
pub struct ProofOptions<'a> {
    /// What the board was flashed with.
    pub block: &'a Block,
    /// The columns of the block's inputs, in its order; `None`: the signal columns as they stand.
    pub inputs: Option<&'a [String]>,
    /// The output's column; `None`: the one of role output.
    pub output: Option<&'a str>,
    /// The blending board's ADC reference, millivolts; `None`: the measuring board's.
    pub board_vref_mv: Option<f64>,
    /// Its DAC's reference, millivolts; `None`: as its ADC's.
    pub dac_vref_mv: Option<f64>,
    /// Largest departure, percent of full output.
    pub within_pct: f64,
    /// For `stop_within_ms` and what their wiring hides: of every control in the block's order, or of the one that starts.
    pub profiles: Vec<&'a Profile>,
    /// Which fault was which.
    pub marks: Marks,
}

#[derive(Debug, Clone, PartialEq, Error)]
pub enum ProofError {
    #[error("there is no column `{name}`: the columns are {columns}")]
    NoColumn { name: String, columns: String },
    #[error(
        "no column carries the board's output (they are {0}): call it `output`, or name it with --output"
    )]
    NoOutput(String),
    #[error(transparent)]
    Scale(#[from] ScaleError),
    #[error(transparent)]
    Mismatch(#[from] Mismatch),
}

/// Which columns are the block's inputs and the board's output.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProofColumns {
    /// Inputs in the block's order, as indices of columns.
    pub inputs: Vec<usize>,
    pub output: usize,
    /// The enable line behind its pump, where it is recorded.
    pub enable: Option<usize>,
}

impl ProofColumns {
    /// Chooses among columns with their roles.
    pub fn choose(
        columns: &[(&str, Role)],
        inputs: Option<&[String]>,
        output: Option<&str>,
        block: &Block,
    ) -> Result<Self, ProofError> {
        let names = || {
            columns
                .iter()
                .map(|(name, _)| *name)
                .collect::<Vec<_>>()
                .join(", ")
        };
        let find = |name: &str| {
            columns
                .iter()
                .position(|(known, _)| *known == name)
                .ok_or_else(|| ProofError::NoColumn {
                    name: name.to_owned(),
                    columns: names(),
                })
        };
        let output = match output {
            Some(name) => find(name)?,
            None => columns
                .iter()
                .position(|(_, role)| *role == Role::Output)
                .ok_or_else(|| ProofError::NoOutput(names()))?,
        };
        let inputs = match inputs {
            Some(named) => named
                .iter()
                .map(|name| find(name))
                .collect::<Result<Vec<_>, _>>()?,
            None => (0..columns.len())
                .filter(|at| columns[*at].1 == Role::Signal && *at != output)
                .collect(),
        };
        let wanted = block.numbers().inputs.len();
        if inputs.len() != wanted {
            let taken: Vec<_> = inputs.iter().map(|at| columns[*at].0).collect();
            return Err(Mismatch::Inputs {
                block: wanted,
                capture: inputs.len(),
                columns: taken.join(", "),
            }
            .into());
        }
        let enable = columns.iter().position(|(_, role)| *role == Role::Enable);
        Ok(Self {
            inputs,
            output,
            enable,
        })
    }
}

impl<'a> ProofOptions<'a> {
    /// Holding against this block with nothing else said: columns as they stand, references as the measuring board's.
    pub fn usual(block: &'a Block) -> Self {
        Self {
            block,
            inputs: None,
            output: None,
            board_vref_mv: None,
            dac_vref_mv: None,
            within_pct: WITHIN_PCT,
            profiles: Vec::new(),
            marks: Marks::default(),
        }
    }

    /// The two boards, with what was not said taken from the measuring board.
    pub fn conditions(&self, scale: Scale) -> ProofConditions {
        let board_vref_mv = self.board_vref_mv.unwrap_or(scale.vref_mv());
        let stops = self.profiles.iter();
        ProofConditions {
            board_vref_mv,
            dac_vref_mv: self.dac_vref_mv.unwrap_or(board_vref_mv),
            within_pct: self.within_pct,
            stop_within_ms: stops.map(|profile| profile.stop_within_ms).reduce(f64::min),
        }
    }
}

/// Holds a capture against a block.
pub fn prove_file(
    opened: &Opened,
    file: &str,
    wish: ProofOptions<'_>,
) -> Result<Proof, ProofError> {
    let capture: &Capture = &opened.capture;
    let meta = &capture.meta;
    let columns: Vec<(&str, Role)> = meta
        .channels
        .iter()
        .map(|(name, channel)| (name.as_str(), channel.role))
        .collect();
    let chosen = ProofColumns::choose(&columns, wish.inputs, wish.output, wish.block)?;
    let scale = Scale::new(meta.board.bits, meta.board.vref_mv)?;
    let inputs: Vec<&[Code]> = chosen
        .inputs
        .iter()
        .map(|at| &capture.codes[*at][..])
        .collect();
    let name = |at: usize| columns[at].0.to_owned();
    let mut facts = facts(capture);
    facts.file = Some(file.to_owned());
    facts.sha256 = Some(opened.sha256.clone());
    let started = meta.started.as_deref().and_then(|began| began.parse().ok());
    facts.started = started.map(|began: jiff::Timestamp| began.to_string());
    let known = foretold(wish.block, &wish.profiles).into_iter();
    let asked = ProofSetup {
        block: wish.block,
        inputs: chosen.inputs.iter().map(|at| name(*at)).collect(),
        output: name(chosen.output),
        conditions: wish.conditions(scale),
        foretold: known.flatten().flatten().collect(),
        marks: wish.marks,
        enable: chosen.enable.map(|at| &capture.codes[at][..]),
        capture: facts,
    };
    let samples = Samples {
        t_us: &capture.t_us,
        inputs: &inputs,
        output: &capture.codes[chosen.output],
        scale,
    };
    Ok(prove(asked, samples)?)
}

/// What these wirings say beforehand of the faults of the round, control by control: where each takes its reading, and a sentence for
/// what its windows miss. The profiles are of every control in the block's order, or of the one that starts.
pub fn foretold(block: &Block, profiles: &[&Profile]) -> Vec<Result<Vec<Foretold>, SurveyError>> {
    let bits = u32::from(block.numbers().board.adc_bits);
    let control = |(profile, inputs): (&Profile, [Option<u8>; 2])| {
        let tracks = profile.control_wiring(bits).judged()?;
        let rows = tracks.iter().filter_map(|judged| {
            let input = match judged.wired.track {
                Track::One => inputs[0],
                Track::Two => inputs[1],
            };
            Some(of_track(profile, judged, input?))
        });
        Ok(rows.flatten().collect())
    };
    controls(block, profiles).into_iter().map(control).collect()
}

/// Each profile with the inputs of its control's tracks: the one that commands, and the one that checks it.
fn controls<'a>(block: &Block, profiles: &[&'a Profile]) -> Vec<(&'a Profile, [Option<u8>; 2])> {
    let numbers = block.numbers();
    let inputs = || (0..).zip(&numbers.inputs);
    let checks = |of: u8, task: &Task| matches!(task, Task::Check(check) if check.partner == of);
    let tracks = |first: u8| {
        let second = inputs().find(|(_, input)| checks(first, &input.task));
        [Some(first), second.map(|(at, _)| at)]
    };
    let factors: Vec<u8> = inputs()
        .filter(|(_, input)| input.factor().is_some())
        .map(|(at, _)| at)
        .collect();
    if factors.len() == profiles.len() {
        let each = profiles.iter().zip(factors);
        return each.map(|(profile, at)| (*profile, tracks(at))).collect();
    }
    let starter = profiles.get(choose::starter(profiles.iter().map(|profile| profile.kind)));
    let commands = starter.filter(|profile| profile.kind != Kind::Dial);
    commands
        .map(|profile| (*profile, tracks(numbers.start.input)))
        .into_iter()
        .collect()
}

fn of_track(profile: &Profile, track: &JudgedTrack, input: u8) -> Vec<Foretold> {
    use crate::wiring::Fault as Wired;
    let same = |fault: Fault| match fault {
        Fault::Open => Some(Wired::Open(Wire::Signal)),
        Fault::Ground => Some(Wired::Short(Wire::Signal, Wire::Ground)),
        Fault::Supply => Some(Wired::Short(Wire::Supply, Wire::Signal)),
        _ => None,
    };
    let told = |fault: Fault| {
        let wired = same(fault)?;
        let row = track.faults.iter().find(|row| row.fault == wired)?;
        let missed = row.missed().then(|| {
            format!(
                "{}: {} by the wiring of \"{}\": its reading can lie where a good control's does, so that the board need not stop (see `pedalproof wiring`)",
                row.fault, row.class, profile.name
            )
        });
        Some(Foretold {
            fault,
            input,
            reads: row.ratio_range,
            missed,
        })
    };
    Fault::WIRE.into_iter().filter_map(told).collect()
}
