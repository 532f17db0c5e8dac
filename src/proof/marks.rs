//! The file beside a capture that says which fault was made when: `NAME.csv.proof.json`, format `proof-marks/2`. Read is `proof-marks/1`, too, whose
//! faults were all made on the input that must be at rest to start.
//!
//! A capture's steps know no faults and its columns no power: this does. Text <-> values; the disk is not touched here.

use crate::constants::Block;
use crate::outlet::{self, JsonError};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;
use thiserror::Error;

/// A fault that a person makes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Fault {
    /// The signal wire is pulled.
    Open,
    /// The signal wire is tied to ground.
    Ground,
    /// The signal wire is tied to the supply.
    Supply,
    /// The signal wires of two tracks touch.
    TracksJoined,
    /// A wire between board and DAC is pulled.
    DacWire,
    /// The reset button is pressed while the control is.
    Reset,
    /// The supply goes away for a moment while the control is pressed.
    PowerDip,
}

impl Fault {
    /// In the order of a round.
    pub const ALL: [Self; 7] = [
        Self::Open,
        Self::Ground,
        Self::Supply,
        Self::TracksJoined,
        Self::DacWire,
        Self::Reset,
        Self::PowerDip,
    ];
    /// Those of one input's signal wire.
    pub const WIRE: [Self; 3] = [Self::Open, Self::Ground, Self::Supply];

    pub fn word(self) -> &'static str {
        match self {
            Self::Open => "open",
            Self::Ground => "ground",
            Self::Supply => "supply",
            Self::TracksJoined => "tracks-joined",
            Self::DacWire => "dac-wire",
            Self::Reset => "reset",
            Self::PowerDip => "power-dip",
        }
    }

    /// This fault of an input's wire.
    pub fn on(self, input: u8) -> Trial {
        Trial {
            fault: self,
            input: Some(input),
        }
    }

    /// This fault, which is of no single wire.
    pub fn alone(self) -> Trial {
        Trial {
            fault: self,
            input: None,
        }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

impl FromStr for Fault {
    type Err = String;

    fn from_str(word: &str) -> Result<Self, String> {
        Self::ALL
            .into_iter()
            .find(|fault| fault.word() == word)
            .ok_or_else(|| {
                let words = Self::ALL.map(Self::word).join(", ");
                format!("`{word}` is no fault of the round: use {words}")
            })
    }
}

/// A fault and the wire on which it is made: one step of the round.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Trial {
    pub fault: Fault,
    /// The input whose wire it is, counted as in the block; `None` where it is of none.
    pub input: Option<u8>,
}

impl Trial {
    /// The steps of a round with these faults: each wire fault on every input, then the others as they apply to this block.
    pub fn round(block: &Block, faults: &[Fault]) -> Vec<Self> {
        let inputs = &block.numbers().inputs;
        let mut round = Vec::new();
        for input in 0..u8::try_from(inputs.len()).unwrap_or(0) {
            let wire = faults.iter().filter(|fault| Fault::WIRE.contains(fault));
            round.extend(wire.map(|fault| fault.on(input)));
        }
        let two = inputs.iter().any(|input| input.factor().is_none());
        let others = faults.iter().filter(|fault| !Fault::WIRE.contains(fault));
        round.extend(
            others
                .filter(|fault| two || **fault != Fault::TracksJoined)
                .map(|fault| fault.alone()),
        );
        round
    }
}

impl fmt::Display for Trial {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.input {
            Some(input) => write!(f, "{} on input {input}", self.fault),
            None => write!(f, "{}", self.fault),
        }
    }
}

/// What happened at a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum MarkKind {
    /// From here on this fault was to be made.
    Asked,
    /// It was left out: what follows is no round of this fault.
    Skipped,
    /// The blending board's power was cycled before this moment.
    Power,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Mark {
    pub t_us: u64,
    pub what: MarkKind,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fault: Option<Fault>,
    /// The input whose wire it is, counted as in the block; `None`: of no wire, or in a file of the first format the one that
    /// must be at rest to start.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub input: Option<u8>,
}

/// All marks of a capture, in time.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Marks(pub Vec<Mark>);

#[derive(Debug, Error)]
pub enum MarksError {
    #[error(transparent)]
    Json(#[from] JsonError),
    #[error("at `format`: `{0}` is not `proof-marks/2`, the format this program reads")]
    Format(String),
    #[error("at `marks[{at}]`: {what}")]
    Mark { at: usize, what: &'static str },
}

const FORMAT: &str = "proof-marks/2";
const OLD_FORMAT: &str = "proof-marks/1";

#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "proof-marks/2")]
struct File {
    /// `proof-marks/2`; `proof-marks/1` is read, too.
    format: String,
    marks: Vec<Mark>,
}

/// The JSON Schema of a file of marks.
pub fn marks_schema_json() -> String {
    outlet::schema_json::<File>()
}

impl Marks {
    pub fn to_json(&self) -> String {
        let marks: Vec<_> = self.0.iter().map(|mark| serde_json::json!(mark)).collect();
        format!(
            "{:#}\n",
            serde_json::json!({ "format": FORMAT, "marks": marks })
        )
    }

    /// Reads the file's text.
    pub fn from_json(text: &str) -> Result<Self, MarksError> {
        let file: File = outlet::read_json(text)?;
        if file.format != FORMAT && file.format != OLD_FORMAT {
            return Err(MarksError::Format(file.format));
        }
        let mut before = 0;
        for (at, mark) in file.marks.iter().enumerate() {
            let refuse = |what| Err(MarksError::Mark { at, what });
            if mark.t_us < before {
                return refuse("earlier than the mark before it");
            }
            if (mark.what == MarkKind::Power) == mark.fault.is_some() {
                return refuse(
                    "a fault is named where it was asked for or skipped, and nowhere else",
                );
            }
            before = mark.t_us;
        }
        Ok(Self(file.marks))
    }

    /// When power was cycled.
    pub fn power_us(&self) -> impl Iterator<Item = u64> {
        let power = self.0.iter().filter(|mark| mark.what == MarkKind::Power);
        power.map(|mark| mark.t_us)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_read_back() {
        let mark = |t_us, what, fault| Mark {
            t_us,
            what,
            fault,
            input: None,
        };
        let marks = Marks(vec![
            mark(10, MarkKind::Asked, Some(Fault::Open)),
            mark(20, MarkKind::Power, None),
            mark(30, MarkKind::Skipped, Some(Fault::Ground)),
        ]);
        assert_eq!(Marks::from_json(&marks.to_json()).unwrap(), marks);
    }

    #[test]
    fn what_cannot_be_is_refused_with_its_place() {
        let refused = |text: &str| Marks::from_json(text).unwrap_err().to_string();
        assert!(refused("{}").contains("format"));
        let behind = refused("{\"format\":\"proof-marks/2\",\"marks\":[]}\n{\"more\":1}");
        assert!(behind.contains("trailing characters at line 2"), "{behind}");
        assert!(refused(r#"{"format":"proof-marks/3","marks":[]}"#).contains("proof-marks/3"));
        let back = r#"{"format":"proof-marks/1","marks":[{"t_us":9,"what":"power"},{"t_us":8,"what":"power"}]}"#;
        assert!(refused(back).contains("marks[1]"));
        let nameless = r#"{"format":"proof-marks/1","marks":[{"t_us":9,"what":"asked"}]}"#;
        assert!(refused(nameless).contains("marks[0]"));
        let unknown =
            r#"{"format":"proof-marks/1","marks":[{"t_us":9,"what":"asked","fault":"fire"}]}"#;
        assert!(refused(unknown).contains("fire"));
    }
}
