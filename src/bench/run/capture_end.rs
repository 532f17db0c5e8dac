//! Sentences of a recorder: what is on the disk, what the screen leaves out, what a header says, how a recording ended.

use super::evidence::Evidence;
use crate::capture::OnDisk;
use crate::link::Header;
use crate::outlet::Shown;
use std::path::{Path, PathBuf};

pub(super) fn salvage_note(path: &Path, on_disk: OnDisk) -> String {
    let OnDisk {
        samples,
        taken,
        there,
    } = on_disk;
    let path = path.shown();
    if !there {
        return format!(
            "\n  {taken} samples were taken, and none of them is under the name {path} any more"
        );
    }
    match taken - samples {
        0 => format!("\n  What was taken until then, {taken} samples, is in {path}"),
        lost => format!(
            "\n  {taken} samples were taken: the first {samples} are in {path}, the last {lost} are lost"
        ),
    }
}

/// What the screen's figures leave out of a very long run.
pub(super) fn truncation_note(evidence: &Evidence) -> Option<String> {
    evidence.full.then(|| {
        format!(
            "the results here are of the first {} samples of the steps; those at the end are of all of them",
            evidence.most
        )
    })
}

pub(super) fn describe(header: &Header) -> String {
    let rate = header.rate_hz.map_or_else(
        || "no rate".to_owned(),
        |hz| format!("{hz} samples a second"),
    );
    let time = if header.has_time() {
        ""
    } else {
        "no board time, "
    };
    format!(
        "{} bits, {} mV, {rate}, {time}columns {}",
        header.bits(),
        header.vref_mv(),
        header.columns.join(",")
    )
}

/// How a capture ended.
#[derive(Debug, Default)]
pub(super) struct CaptureEnd {
    pub(super) file: Option<PathBuf>,
    pub(super) failure: Option<String>,
    /// What is on the disk, to follow the message of a failure.
    pub(super) on_disk: String,
}
