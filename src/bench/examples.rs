//! A simulated run as a capture, and the example captures on the disk.

use crate::capture::{
    BoardMeta, Capture, CaptureError, CaptureWriter, ChannelMeta, Metadata, RefMeta, StreamCounts,
    UnitMeta,
};
use measure::units::Step;
use simulator::{Example, SimRun, Simulation, examples};
use std::path::{Path, PathBuf};
use thiserror::Error;

/// Longest example capture, seconds: each script ends before.
const LONGEST_S: f64 = 600.0;

#[derive(Debug, Error)]
pub enum ExampleError {
    #[error(transparent)]
    Capture(#[from] CaptureError),
    #[error("example {name}: {why}")]
    Simulation { name: String, why: String },
}

/// A simulated run as the capture that a perfect operator would have taken: every step labelled as it was. `placed` is
/// the standard uncertainty that it states for its positions, in degrees, if it has any.
pub fn simulated_capture(run: &SimRun, placed: Option<f64>) -> Capture {
    let channels = run.channels.iter().map(|(name, role, track)| {
        let meta = ChannelMeta {
            role: *role,
            track: Some(*track),
        };
        (name.clone(), meta)
    });
    let samples = run.t_us.len() as u64;
    let simulated = &run.board;
    let board = BoardMeta::new(
        "simulated",
        simulated.bits,
        simulated.vref_mv,
        simulated.rate_hz,
    );
    Capture {
        meta: Metadata {
            unit: UnitMeta {
                tag: Some(run.tag.clone()),
                profile: None,
            },
            reference: run.reference.as_ref().map(|_| RefMeta {
                unit: "deg".to_owned(),
                low: None,
                high: None,
                u: placed,
            }),
            stream: StreamCounts {
                lines: samples,
                samples,
                ..StreamCounts::default()
            },
            ..Metadata::new(board, channels.collect())
        },
        t_us: run.t_us.clone(),
        passages: run.passages.clone(),
        codes: run.codes.clone(),
        reference: run.reference.clone(),
        lost: None,
    }
}

/// Writes the example captures into a folder that exists. The same bytes every time. Gives their
/// files.
pub fn write_examples(folder: &Path) -> Result<Vec<PathBuf>, ExampleError> {
    examples()
        .iter()
        .map(|example| write_example(folder, example))
        .collect()
}

fn write_example(folder: &Path, example: &Example) -> Result<PathBuf, ExampleError> {
    let mut simulation =
        Simulation::new(&example.unit, example.seed).map_err(|e| ExampleError::Simulation {
            name: example.name.clone(),
            why: e.to_string(),
        })?;
    let mut capture = simulated_capture(&simulation.run(LONGEST_S), None);
    capture.meta.unit.profile = Some(example.profile.to_owned());
    capture.meta.started = Some(example.started.clone());
    if let (Some(stated), Some(model)) =
        (&mut capture.meta.reference, example.unit.script.reference)
    {
        (stated.low, stated.high) = (Some(model.low), Some(model.high));
    }
    capture.meta.note = Some(format!(
        "Simulated, seed {}. {}",
        example.seed, example.note
    ));
    let csv = folder.join(format!("{}.csv", example.name));
    write_capture(&capture, &csv)?;
    Ok(csv)
}

/// Writes a capture that is in memory.
pub fn write_capture(capture: &Capture, csv: &Path) -> Result<(), CaptureError> {
    let mut writer = CaptureWriter::create(csv, capture.meta.clone())?;
    let mut passages = capture.passages.iter().peekable();
    for (i, t_us) in capture.t_us.iter().enumerate() {
        while passages.next_if(|passage| passage.range.end <= i).is_some() {}
        let step = passages
            .peek()
            .filter(|passage| passage.range.contains(&i))
            .map_or(Step::Idle, |passage| passage.step);
        let codes = capture.codes.iter().map(|column| column[i]);
        let position = capture.reference.as_ref().map(|column| column[i]);
        writer.push(*t_us, step, codes, position.filter(|p| p.is_finite()))?;
    }
    writer.finish(&capture.meta.stream)?;
    Ok(())
}
