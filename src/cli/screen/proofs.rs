//! Blocks and flashed boards for the screen: which blocks there are, the run of a proof, its verdict, saving.

use crate::bench::{self, FlashedBoard, Hand, ProofOptions, Setup};
use crate::capture::{self, metadata_path};
use crate::cli::commands::prove::{LONGEST_S, SECONDS, flashed_board, marks_path};
use crate::cli::input;
use crate::cli::output::{copy, create_once, refuse_overwriting};
use crate::cli::simulated::SimulatedBoard;
use crate::constants::{Block, formats};
use crate::link::{SerialSettings, SerialSource, Source, WhenLost};
use crate::outlet::Shown;
use crate::report;
use crate::tui::{BlockOffer, ProofChoice, ProofRecording, ProofResult, ProofRound, SourceKind};
use anyhow::{Context, anyhow};
use measure::units::Step;
use std::path::{Path, PathBuf};

/// How much faster than life the simulated flashed board runs.
const SPEED: f64 = 2.0;
/// Samples a second that the simulated measuring board takes.
const SIMULATED_HZ: f64 = 1000.0;
/// Largest file that is tried as a block, bytes.
const LONGEST: u64 = 1 << 20;

fn offer(name: String, block: Block) -> BlockOffer {
    let numbers = block.numbers();
    BlockOffer {
        detail: format!(
            "{} inputs of {} bits, output of {} bits",
            numbers.inputs.len(),
            numbers.board.adc_bits,
            numbers.board.dac_bits
        ),
        simulated: FlashedBoard::new(&block, Vec::new(), SIMULATED_HZ, 1).is_ok(),
        name,
        block,
    }
}

/// The block that was named on the command line.
pub(super) fn named(path: &Path) -> anyhow::Result<BlockOffer> {
    let block = input::block(path)?.block;
    Ok(offer(path.shown().to_string(), block))
}

/// The named one, those in the working folder by name, and the simulated board's.
pub(super) fn offered(named: Option<BlockOffer>) -> anyhow::Result<Vec<BlockOffer>> {
    let entries = std::fs::read_dir(".").context("cannot look into the working folder")?;
    let mut files: Vec<PathBuf> = entries
        .filter_map(Result::ok)
        .filter(|entry| {
            entry
                .metadata()
                .is_ok_and(|meta| meta.is_file() && meta.len() <= LONGEST)
        })
        .map(|entry| PathBuf::from(entry.file_name()))
        .filter(|path| {
            path.extension()
                .is_some_and(|end| end == "json" || end == "hex" || end == "h")
        })
        .collect();
    files.sort();
    // A file that is no block is none of these.
    let here = files.iter().filter_map(|path| self::named(path).ok());
    let mut offers: Vec<BlockOffer> = named.into_iter().collect();
    for found in here {
        if !offers.iter().any(|known| known.name == found.name) {
            offers.push(found);
        }
    }
    offers.push(offer(
        "trolley T1, simulated".to_owned(),
        bench::trolley_block()?,
    ));
    Ok(offers)
}

/// What a proof measures, and what must be kept as long as it does.
pub(super) fn source(
    choice: &ProofChoice,
    baud: Option<u32>,
    faster: f64,
) -> anyhow::Result<(Box<dyn Source>, Option<SimulatedBoard>)> {
    if choice.source.kind == SourceKind::Port {
        let source = SerialSource::open(SerialSettings {
            path: choice.source.name.clone(),
            baud,
            when_lost: WhenLost::Wait,
        })?;
        return Ok((Box::new(source), None));
    }
    let (source, board) = flashed_board(
        &choice.offer.block,
        script(choice.round, &choice.offer.block),
        SPEED * faster,
    )?;
    Ok((source, Some(board)))
}

fn script(round: ProofRound, block: &Block) -> Vec<Hand> {
    match round {
        ProofRound::Compare => Hand::comparing(),
        ProofRound::Faults => Hand::round(block),
    }
}

/// The run of a proof as the command `prove` has it.
pub(super) fn setup(
    choice: &ProofChoice,
    source: Box<dyn Source>,
    out: PathBuf,
    baud: Option<u32>,
) -> Setup {
    let steps = match choice.round {
        ProofRound::Faults => (Step::Shake, LONGEST_S),
        ProofRound::Compare if choice.source.kind == SourceKind::Port => {
            (Step::Strokes, f64::from(SECONDS))
        }
        ProofRound::Compare => (
            Step::Strokes,
            FlashedBoard::script_s(&script(choice.round, &choice.offer.block)),
        ),
    };
    Setup {
        baud,
        ..Setup::timed(source, vec![steps], out)
    }
}

/// The verdict of a proof; its marks are put beside the capture.
pub(super) fn judge(taken: &ProofRecording) -> anyhow::Result<ProofResult> {
    if taken.choice.round == ProofRound::Faults {
        let path = marks_path(&taken.capture);
        create_once(&path, &taken.marks.to_json())?;
    }
    let opened = capture::open(&taken.capture)?;
    let file = taken
        .capture
        .file_name()
        .unwrap_or_default()
        .to_string_lossy();
    let options = ProofOptions {
        marks: taken.marks.clone(),
        ..ProofOptions::usual(&taken.choice.offer.block)
    };
    let proof = bench::prove_file(&opened, &file, options)?;
    Ok(ProofResult {
        verdict: proof.verdict,
        text: report::proof(&proof).text(),
    })
}

/// Keeps the capture in the working folder with its marks, and the simulated board's block beside it.
pub(super) fn save(taken: &ProofRecording) -> anyhow::Result<String> {
    let name = taken
        .capture
        .file_name()
        .ok_or_else(|| anyhow!("the recording has no name"))?;
    let kept = PathBuf::from(name);
    let marks = marks_path(&kept);
    if taken.capture.canonicalize()? != std::env::current_dir()?.join(&kept) {
        refuse_overwriting(&kept)?;
        // The capture last: who finds it finds what belongs to it.
        if taken.choice.round == ProofRound::Faults {
            copy(&marks_path(&taken.capture), &marks)?;
        }
        copy(&metadata_path(&taken.capture), &metadata_path(&kept))?;
        copy(&taken.capture, &kept)?;
    }
    let mut saved = kept.shown().to_string();
    if taken.choice.round == ProofRound::Faults {
        saved = format!("{saved} with its marks");
    }
    let mut block = taken.choice.offer.name.clone();
    if !Path::new(&block).is_file() {
        let path = kept.with_extension("block.json");
        create_once(&path, &formats::to_json(&taken.choice.offer.block, &block))?;
        block = path.shown().to_string();
    }
    Ok(format!(
        "saved: {saved}; again: pedalproof prove {} --block {block}",
        kept.shown()
    ))
}
