//! A simulated flashed board as the recording and the marks that a person would have taken of it, without waiting.

use super::{FlashedBoard, Hand, ProofColumns, ProofOptions};
use crate::bench::run::assign;
use crate::capture::{BoardMeta, Capture, Metadata, StreamCounts};
use crate::constants::Block;
use crate::link::{Decoder, Event, Header, LineSource, StreamOptions};
use crate::proof::{Fault, Guide, GuideSample, Marks, Scaling, Trial};
use measure::units::{Code, Passage, Scale, Step};

/// Samples a second of the measuring board.
const RATE_HZ: f64 = 1000.0;

/// What a board that was flashed with this block puts out, moved by hand; with `faults` each of them is made, as the guide asks.
pub fn flashed_recording(
    block: &Block,
    faults: &[Fault],
    seed: u64,
) -> Result<(Capture, Marks), String> {
    let round = Trial::round(block, faults);
    let script = if faults.is_empty() {
        Hand::comparing()
    } else {
        Hand::faults(&round)
    };
    let seconds = FlashedBoard::script_s(&script);
    let mut board = FlashedBoard::new(block, script, RATE_HZ, seed).map_err(|e| e.to_string())?;
    let mut taken = Taken::default();
    let mut decoder = Decoder::new(StreamOptions::default());
    let mut line = Vec::new();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // seconds of a script
    let end_us = (seconds * 1e6) as u64;
    while let Some(t_us) = board.next_line(&mut line) {
        if t_us > end_us {
            break;
        }
        decoder.feed(&line, t_us, &mut |event| taken.take(event));
        line.clear();
    }
    let header = taken.header.as_ref().ok_or("the board said nothing")?;
    let step = if faults.is_empty() {
        Step::Strokes
    } else {
        Step::Shake
    };
    let capture = taken.capture(header, step);
    let marks = marks(block, &round, &capture)?;
    Ok((capture, marks))
}

#[derive(Default)]
struct Taken {
    header: Option<Header>,
    t_us: Vec<u64>,
    /// A column for each channel.
    codes: Vec<Vec<Code>>,
}

impl Taken {
    fn take(&mut self, event: Event<'_>) {
        match event {
            Event::Header(header) => {
                self.codes.resize(header.columns.len(), Vec::new());
                self.header = Some(header.clone());
            }
            Event::Sample { t_us, codes, .. } => {
                self.t_us.push(t_us);
                for (column, code) in self.codes.iter_mut().zip(codes) {
                    column.push(*code);
                }
            }
            _ => {}
        }
    }

    fn capture(&self, header: &Header, step: Step) -> Capture {
        let samples = self.t_us.len();
        let board = BoardMeta::new("simulated", header.bits(), header.vref_mv(), RATE_HZ);
        Capture {
            meta: Metadata {
                stream: StreamCounts {
                    lines: samples as u64,
                    samples: samples as u64,
                    ..StreamCounts::default()
                },
                ..Metadata::new(board, assign(&header.columns, &[], false))
            },
            t_us: self.t_us.clone(),
            passages: vec![Passage {
                step,
                range: 0..samples,
            }],
            codes: self.codes.clone(),
            reference: None,
            lost: None,
        }
    }
}

/// What the guide notes while it leads through the faults.
fn marks(block: &Block, round: &[Trial], capture: &Capture) -> Result<Marks, String> {
    if round.is_empty() {
        return Ok(Marks::default());
    }
    let meta = &capture.meta;
    let scale = Scale::new(meta.board.bits, meta.board.vref_mv).map_err(|e| e.to_string())?;
    let columns: Vec<_> = meta
        .channels
        .iter()
        .map(|(name, channel)| (name.as_str(), channel.role))
        .collect();
    let columns = ProofColumns::choose(&columns, None, None, block).map_err(|e| e.to_string())?;
    let conditions = ProofOptions::usual(block).conditions(scale);
    let scaling = Scaling::new(block, scale, conditions).map_err(|e| e.to_string())?;
    let mut guide = Guide::new(block, scaling, scale.codes(), round);
    for (i, t_us) in capture.t_us.iter().enumerate() {
        let inputs: Vec<Code> = columns
            .inputs
            .iter()
            .map(|at| capture.codes[*at][i])
            .collect();
        guide.push(GuideSample {
            t_us: *t_us,
            inputs: &inputs,
            output: capture.codes[columns.output][i],
            enable: columns.enable.map(|at| capture.codes[at][i]),
        });
    }
    Ok(guide.marks().clone())
}
