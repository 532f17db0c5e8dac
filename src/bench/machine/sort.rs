//! What a file is that is to be added to a machine.

use super::block::read_block;
use super::measured::is_csv;
use super::proof::told;
use super::recorded::started;
use crate::capture;
use crate::files::{self, sha256};
use crate::machine::{EvidenceKind, NewEvidence, day, has_come};
use crate::outlet::Shown;
use jiff::Timestamp;
use measure::units::Role;
use serde_json::Value;
use std::path::{Path, PathBuf};
use thiserror::Error;

#[derive(Debug, Error)]
pub enum SortError {
    #[error("cannot read {}: {source}", path.shown())]
    Unreadable {
        path: PathBuf,
        source: std::io::Error,
    },
    #[error(transparent)]
    Capture(#[from] capture::CaptureError),
    #[error(
        "{} is dated {day}, which has not come yet: set the clock of what recorded it, or this computer's, and record it again",
        path.shown()
    )]
    NotCome { path: PathBuf, day: String },
    #[error("{} is no recording, no constants file and no proof: {why}", path.shown())]
    Unknown { path: PathBuf, why: String },
}

/// Sees by itself what a file is. `file` is its name as the machine keeps it, `asked` the control that it is said to be of.
pub fn sort(path: &Path, file: String, asked: Option<&str>) -> Result<NewEvidence, SortError> {
    let asked = asked.map(str::to_owned);
    if is_csv(path) {
        let summary = capture::summary(path)?;
        let channels = summary.meta.channels.iter();
        let has_output = channels
            .clone()
            .any(|(_, channel)| channel.role == Role::Output);
        let unit = summary.meta.unit;
        let began = summary.meta.started;
        let began = began.and_then(|began| began.parse().ok());
        return Ok(NewEvidence {
            // Who measures a part with the machine's streamer has the board's output beside it.
            kind: if has_output && unit.profile.is_none() {
                EvidenceKind::Proof
            } else {
                EvidenceKind::Capture
            },
            file,
            sha256: summary.sha256,
            taken: taken(path, began)?,
            asked,
            tag: unit.tag,
            profile: unit.profile,
        });
    }
    let text = files::read_text(path).map_err(|source| SortError::Unreadable {
        path: path.to_owned(),
        source,
    })?;
    let unknown = |why: String| SortError::Unknown {
        path: path.to_owned(),
        why,
    };
    let json: Option<Value> = serde_json::from_str(&text).ok();
    let format = json.as_ref().and_then(|json| json["format"].as_str());
    let mut recorded = None;
    let kind = match format {
        Some("proof/1") => {
            let said = json.as_ref().map(told);
            if let Some(Err(why)) = said {
                return Err(unknown(why));
            }
            recorded = json.as_ref().and_then(started);
            EvidenceKind::Proof
        }
        Some("assessment/1" | "proof-marks/1" | "proof-marks/2") => {
            return Err(unknown(
                "it goes with a recording: add that one, the .csv".to_owned(),
            ));
        }
        Some("machine/1") => return Err(unknown("it is a machine itself".to_owned())),
        Some("profile/1") => {
            return Err(unknown(
                "it is a profile, which a control names when the machine is made".to_owned(),
            ));
        }
        _ => {
            read_block(&text).map_err(unknown)?;
            EvidenceKind::Block
        }
    };
    Ok(NewEvidence {
        kind,
        file,
        sha256: sha256(text.as_bytes()),
        taken: taken(path, recorded)?,
        asked,
        tag: None,
        profile: None,
    })
}

/// When a recording was begun, else when the file was last written.
fn taken(path: &Path, began: Option<Timestamp>) -> Result<String, SortError> {
    if let Some(stated) = began {
        if !has_come(stated, Timestamp::now()) {
            return Err(SortError::NotCome {
                path: path.to_owned(),
                day: day(stated),
            });
        }
        return Ok(stated.to_string());
    }
    let unreadable = |source| SortError::Unreadable {
        path: path.to_owned(),
        source,
    };
    let written = std::fs::metadata(path).and_then(|is| is.modified());
    let written = written.map_err(unreadable)?;
    let written = Timestamp::try_from(written).unwrap_or(Timestamp::UNIX_EPOCH);
    let whole = written.round(jiff::Unit::Second).unwrap_or(written);
    Ok(whole.to_string())
}
