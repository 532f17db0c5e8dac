//! Which recording a proof is of, and when that was made.

use super::measured::is_csv;
use super::proof::Proved;
use crate::machine::{Evidence, EvidenceKind, Machine};
use jiff::Timestamp;
use serde_json::Value;
use std::path::Path;

/// The recording behind a proof.
pub(super) struct Recorded {
    /// The proof's place in the evidence.
    pub at: usize,
    /// SHA-256 of the recording; of the proof's file where that does not say it.
    pub sha256: String,
    /// When it was made; `None`: nothing says it. When something was said of it is another time.
    pub made: Option<Timestamp>,
}

impl Recorded {
    /// Those behind all proofs of a machine whose file lies in `folder`, in the order of the evidence.
    pub(super) fn all(folder: &Path, machine: &Machine) -> Vec<Self> {
        let evidence = machine.evidence.iter().enumerate();
        let proofs = evidence.filter(|(_, evidence)| evidence.kind == EvidenceKind::Proof);
        proofs
            .map(|(at, evidence)| {
                let (sha256, made) = behind(folder, evidence);
                Self { at, sha256, made }
            })
            .collect()
    }

    /// Where it was first added, itself or by what was said of it.
    pub(super) fn first(&self, machine: &Machine, all: &[Self]) -> usize {
        let mut evidence = machine.evidence.iter();
        let itself = evidence.position(|had| had.sha256 == self.sha256);
        let said = all.iter().find(|had| had.sha256 == self.sha256);
        let said = said.map_or(self.at, |had| had.at);
        itself.map_or(said, |itself| itself.min(said))
    }
}

fn behind(folder: &Path, evidence: &Evidence) -> (String, Option<Timestamp>) {
    let own = || evidence.sha256.clone();
    let path = folder.join(&evidence.file);
    if is_csv(&path) {
        return (own(), evidence.taken_at());
    }
    match Proved::of(&path) {
        Ok(Proved::Said(said, sha256)) if sha256 == evidence.sha256 => {
            match said["capture"]["sha256"].as_str() {
                Some(recording) => (recording.to_owned(), started(&said)),
                None => (own(), None),
            }
        }
        _ => (own(), None),
    }
}

/// When the recording was begun that `proof/1` speaks of; earlier versions did not tell.
pub(super) fn started(said: &Value) -> Option<Timestamp> {
    said["capture"]["started"].as_str()?.parse().ok()
}
