//! Runs that the screen starts, and saving them.

use crate::capture::{self, metadata_path};
use crate::cli::commands::prove::marks_path;
use crate::cli::output::{Renewed, copy, refuse_overwriting};
use crate::cli::records;
use crate::files;
use crate::link::{Pace, RecordedLines, ReplaySource, StreamOptions, StreamText, Sums};
use crate::outlet::Shown;
use crate::record::Assessment;
use anyhow::{Context, anyhow};
use std::path::{Path, PathBuf};

/// How much faster than life a capture is gone through again.
const REPLAY_SPEED: f64 = 4.0;

/// `TAG-20261125-093000.csv`, or with `-2`, `-3`, ... where a clock that was set back has used that name before, or one that is derived
/// from it.
pub(super) fn capture_name(tag: Option<&str>) -> String {
    let stem = capture_stem(tag);
    let free = |name: &String| {
        let csv = Path::new(name);
        let derived = ["assessment.json", "block.json"].map(|end| csv.with_extension(end));
        let names = [csv.to_owned(), metadata_path(csv), marks_path(csv)];
        !names
            .iter()
            .chain(&derived)
            .any(|name| files::is_taken(name))
    };
    std::iter::once(format!("{stem}.csv"))
        .chain((2..=999).map(|n| format!("{stem}-{n}.csv")))
        .find(free)
        .unwrap_or_else(|| format!("{stem}.csv"))
}

fn capture_stem(tag: Option<&str>) -> String {
    let now = jiff::Timestamp::now().strftime("%Y%m%d-%H%M%S");
    let safe = |c: char| {
        if c.is_alphanumeric() || matches!(c, '-' | '_' | '.') {
            c
        } else {
            '_'
        }
    };
    let tag: String = tag
        .filter(|tag| !tag.is_empty())
        .unwrap_or("unit")
        .chars()
        .map(safe)
        .collect();
    format!("{tag}-{now}")
}

/// A capture as a source: its rows printed again.
pub(super) fn replay(name: &str, capture: capture::Capture) -> anyhow::Result<ReplaySource> {
    let board = &capture.meta.board;
    let names = capture.meta.channels.iter().map(|(name, _)| name.clone());
    let stated = StreamOptions {
        bits: Some(board.bits),
        vref_mv: Some(board.vref_mv),
        rate_hz: Some(board.rate_hz),
        columns: Some(std::iter::once("t_us".to_owned()).chain(names).collect()),
        inl_codes: board.inl_code,
        joined_mid_line: false,
    };
    let header = stated
        .header()
        .with_context(|| format!("{name} cannot be replayed"))?;
    let rows = RecordedLines::new(
        StreamText::new(header, Sums::With),
        capture.t_us,
        capture.codes,
    );
    Ok(ReplaySource::replay(name, rows, Pace::Times(REPLAY_SPEED)))
}

/// Keeps the capture in the working folder and the assessment beside it; of a real unit with a tag also a record.
pub(super) fn save(
    assessment: &Assessment,
    capture: Option<&Path>,
    real: bool,
) -> anyhow::Result<String> {
    let source =
        capture.ok_or_else(|| anyhow!("there is no recording to save: no sample was taken"))?;
    let name = source
        .file_name()
        .ok_or_else(|| anyhow!("the recording has no name"))?;
    let kept = PathBuf::from(name);
    let beside = kept.with_extension("assessment.json");
    Renewed::Assessment.refuse_others(&beside)?;
    if source.canonicalize()? != std::env::current_dir()?.join(&kept) {
        refuse_overwriting(&kept)?;
        // The capture last: who finds it finds its metadata.
        copy(&metadata_path(source), &metadata_path(&kept))?;
        copy(source, &kept)?;
    }
    let about = capture::summary(&kept)?;
    let mut assessment = assessment.clone();
    assessment.capture.file = Some(Path::new(name).shown().into_owned());
    assessment.capture.sha256 = Some(about.sha256);
    Renewed::Assessment.write(
        &beside,
        &format!("{}\n", serde_json::to_string_pretty(&assessment)?),
    )?;
    let mut saved = format!("saved: {} and {}", kept.shown(), beside.shown());
    if real && assessment.unit.tag.is_some() {
        let record = records::keep(
            &records::store(None)?,
            &kept,
            &about.meta,
            &assessment,
            jiff::Timestamp::now(),
        )?;
        saved = format!("{saved}; {record}");
    }
    Ok(saved)
}
