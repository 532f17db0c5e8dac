//! A machine as values.

use jiff::Timestamp;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What a file of evidence is.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum EvidenceKind {
    /// A recording of a control.
    Capture,
    /// A constants file, in any format.
    Block,
    /// A recording of a flashed board with its output, or what `prove --json` said of one.
    Proof,
}

impl EvidenceKind {
    /// As a person says it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Capture => "recording",
            Self::Block => "constants file",
            Self::Proof => "proof",
        }
    }
}

/// One control of a machine.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Control {
    /// What the machine calls it: letters, digits, `-` and `_`.
    pub name: String,
    /// What it is checked as: a built-in profile's name, or a file beside the machine's.
    pub profile: String,
    /// What is written on its sticker; `None`: whatever the recordings say.
    #[serde(default)]
    pub tag: Option<String>,
    /// The blending board's pins, one for each track, in order.
    #[serde(default)]
    pub pins: Vec<String>,
    /// When it was replaced or rewired, RFC 3339: what was recorded before is of another part. Absent: never.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub since: Option<String>,
}

impl Control {
    pub fn since(&self) -> Option<Timestamp> {
        self.since.as_deref()?.parse().ok()
    }
}

/// A file that says something of the machine.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Evidence {
    pub kind: EvidenceKind,
    /// The control that a recording is of; `None` of everything else.
    #[serde(default)]
    pub control: Option<String>,
    /// Relative to the machine's file, with `/`.
    pub file: String,
    /// SHA-256 of that file when it was added, lower-case hex.
    pub sha256: String,
    /// When it was taken or written, RFC 3339.
    pub taken: String,
}

impl Evidence {
    pub fn taken_at(&self) -> Option<Timestamp> {
        self.taken.parse().ok()
    }
}

/// So far ahead clocks may be: a day, for time zones that were set wrong.
const AHEAD: jiff::SignedDuration = jiff::SignedDuration::from_hours(24);

/// Whether a time has come by now; a clock may be a little ahead.
pub fn has_come(taken: Timestamp, now: Timestamp) -> bool {
    taken.duration_since(now) <= AHEAD
}

/// `12 Apr 2026, 09:30 UTC`.
pub fn minute(taken: Timestamp) -> String {
    taken.strftime("%-d %b %Y, %H:%M UTC").to_string()
}

/// `12 Apr 2026`.
pub fn day(taken: Timestamp) -> String {
    taken.strftime("%-d %b %Y").to_string()
}

/// A machine: `machine/1`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Machine {
    pub name: String,
    /// The board that blends.
    pub board: Option<String>,
    /// In the order of the board's inputs.
    pub controls: Vec<Control>,
    /// How often its controls are to be measured again, months.
    pub check_every_months: u32,
    /// In the order in which it was added.
    pub evidence: Vec<Evidence>,
}

/// Months between two checks unless said otherwise: once a season. Common practice, no source.
pub const USUAL_MONTHS: u32 = 12;

impl Machine {
    pub fn control(&self, name: &str) -> Option<&Control> {
        self.controls.iter().find(|control| control.name == name)
    }

    /// Whether it is a recording of a control as that is now: not of what was there before it was replaced or rewired.
    pub fn is_of(&self, evidence: &Evidence, control: &str) -> bool {
        let since = self.control(control).and_then(Control::since);
        evidence.kind == EvidenceKind::Capture
            && evidence.control.as_deref() == Some(control)
            && since.is_none_or(|since| evidence.taken_at() >= Some(since))
    }

    /// The recording made last of what a control was before it was replaced or rewired.
    pub fn newest_before(&self, control: &str) -> Option<&Evidence> {
        let own = self.evidence.iter().filter(|evidence| {
            evidence.kind == EvidenceKind::Capture
                && evidence.control.as_deref() == Some(control)
                && !self.is_of(evidence, control)
        });
        own.max_by_key(|evidence| evidence.taken_at())
    }

    /// The newest recording of a control, by its place in `evidence`: the one taken last; of those taken at one time the one added last.
    pub fn newest_capture(&self, control: &str) -> Option<usize> {
        let all = self.evidence.iter().enumerate();
        let own = all.filter(|(_, evidence)| self.is_of(evidence, control));
        own.max_by_key(|(_, evidence)| evidence.taken_at())
            .map(|(at, _)| at)
    }

    /// The constants file in force: the one added last, among the first `before` pieces of evidence.
    pub fn block_before(&self, before: usize) -> Option<usize> {
        let among = &self.evidence[..before.min(self.evidence.len())];
        among
            .iter()
            .rposition(|evidence| evidence.kind == EvidenceKind::Block)
    }

    /// Another control than this one whose newest recording has this check sum.
    pub fn other_with(&self, control: &str, sha256: &str) -> Option<&Control> {
        self.controls.iter().find(|other| {
            let newest = self.newest_capture(&other.name);
            other.name != control && newest.is_some_and(|at| self.evidence[at].sha256 == sha256)
        })
    }

    /// The constants file that a recording of the board is of that was `first` added in this place: the one in force then; of one that was
    /// there before any, the first.
    pub fn constants_of(&self, first: usize) -> Option<usize> {
        let mut all = self.evidence.iter();
        self.block_before(first)
            .or_else(|| all.position(|evidence| evidence.kind == EvidenceKind::Block))
    }

    /// The control whose newest recording is the oldest.
    pub fn due_first(&self) -> Option<&Control> {
        self.controls.iter().min_by_key(|control| {
            let at = self.newest_capture(&control.name);
            at.and_then(|at| self.evidence[at].taken_at())
        })
    }

    pub fn newest_block(&self) -> Option<usize> {
        self.block_before(self.evidence.len())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_recording_is_the_one_taken_last_not_the_one_added_last() {
        let capture = |file: &str, taken: &str| Evidence {
            kind: EvidenceKind::Capture,
            control: Some("pedal".to_owned()),
            file: file.to_owned(),
            sha256: String::new(),
            taken: taken.to_owned(),
        };
        let mut machine = Machine {
            name: String::new(),
            board: None,
            controls: Vec::new(),
            check_every_months: USUAL_MONTHS,
            evidence: vec![
                capture("a", "2026-04-11T09:30:00Z"),
                capture("b", "2025-04-11T09:30:00Z"),
            ],
        };
        assert_eq!(machine.newest_capture("pedal"), Some(0));
        assert_eq!(machine.newest_capture("dial"), None);
        // Of two taken at one moment the later added counts; a time zone is no other moment.
        machine
            .evidence
            .push(capture("c", "2026-04-11T11:30:00+02:00"));
        assert_eq!(machine.newest_capture("pedal"), Some(2));
    }
}
