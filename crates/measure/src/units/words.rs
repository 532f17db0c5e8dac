//! The trade words of DESIGN section 2 that data carries: step, role, track, passage.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::ops::Range;
use std::str::FromStr;
use thiserror::Error;

/// A word that is none of the ones allowed in its place.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("`{word}` is not a {what}: use one of {allowed}")]
pub struct UnknownWord {
    /// What was expected, e.g. `step`.
    pub what: &'static str,
    /// The word that was met.
    pub word: String,
    /// The words allowed, separated by blanks.
    pub allowed: &'static str,
}

/// The columns that a recording has of its own: a channel has none of these names.
pub const OWN_COLUMNS: [&str; 3] = ["t_us", "step", "ref"];

/// One part of a test. Order is the usual order of a card.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Step {
    /// The control is let alone at its rest end.
    Rest,
    /// The control is held at its fully operated end.
    Full,
    /// The control is moved from end to end and back, again and again.
    Strokes,
    /// The control is let go from the full end and returns by itself.
    Release,
    /// The control is held at positions that the user states.
    Stations,
    /// The cable and the plug are moved while the control is left alone.
    Shake,
    /// The supply is varied while the control stands still.
    Supply,
    /// The board's own input is tied to ground.
    Ground,
    /// The board's own input is tied to its reference.
    Reference,
    /// Nothing in particular: between steps.
    Idle,
}

impl Step {
    /// Every step, in the order of DESIGN section 2.
    pub const ALL: [Self; 10] = [
        Self::Rest,
        Self::Full,
        Self::Strokes,
        Self::Release,
        Self::Stations,
        Self::Shake,
        Self::Supply,
        Self::Ground,
        Self::Reference,
        Self::Idle,
    ];

    /// The word as captures and profiles write it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Rest => "rest",
            Self::Full => "full",
            Self::Strokes => "strokes",
            Self::Release => "release",
            Self::Stations => "stations",
            Self::Shake => "shake",
            Self::Supply => "supply",
            Self::Ground => "ground",
            Self::Reference => "reference",
            Self::Idle => "idle",
        }
    }

    /// Whether something else than the control is changed on purpose: its supply, or what the input is tied to.
    #[must_use]
    pub fn is_of_the_bench(self) -> bool {
        matches!(self, Self::Supply | Self::Ground | Self::Reference)
    }

    /// Whether the control is connected and used as it will be: between the steps a plug may be pulled, and an input tied.
    #[must_use]
    pub fn is_use(self) -> bool {
        self != Self::Idle && !self.is_of_the_bench()
    }
}

impl fmt::Display for Step {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

impl FromStr for Step {
    type Err = UnknownWord;

    fn from_str(word: &str) -> Result<Self, UnknownWord> {
        Self::ALL
            .into_iter()
            .find(|step| step.word() == word)
            .ok_or_else(|| UnknownWord {
                what: "step",
                word: word.to_owned(),
                allowed: "rest full strokes release stations shake supply ground reference idle",
            })
    }
}

/// What a channel carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// The control's signal.
    Signal,
    /// The control's supply, measured by the same board.
    Supply,
    /// What the blending board puts out.
    Output,
    /// Another sensor on the same shaft, that is known to be good: where the control stands.
    Reference,
    /// The enable line behind its pump: high while the blending board lets the drive run.
    Enable,
}

impl FromStr for Role {
    type Err = UnknownWord;

    fn from_str(word: &str) -> Result<Self, UnknownWord> {
        match word {
            "signal" => Ok(Self::Signal),
            "supply" => Ok(Self::Supply),
            "output" => Ok(Self::Output),
            "reference" => Ok(Self::Reference),
            "enable" => Ok(Self::Enable),
            _ => Err(UnknownWord {
                what: "role",
                word: word.to_owned(),
                allowed: "signal supply output reference enable",
            }),
        }
    }
}

/// Which of a control's tracks a channel carries.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(try_from = "u8", into = "u8")]
pub enum Track {
    /// The first track.
    One,
    /// The second track.
    Two,
}

impl TryFrom<u8> for Track {
    type Error = UnknownWord;

    fn try_from(number: u8) -> Result<Self, UnknownWord> {
        match number {
            1 => Ok(Self::One),
            2 => Ok(Self::Two),
            _ => Err(UnknownWord {
                what: "track",
                word: number.to_string(),
                allowed: "1 2",
            }),
        }
    }
}

impl From<Track> for u8 {
    fn from(track: Track) -> u8 {
        match track {
            Track::One => 1,
            Track::Two => 2,
        }
    }
}

impl fmt::Display for Track {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", u8::from(*self))
    }
}

/// A run of consecutive samples taken in one step. Ranges index samples and are never empty.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Passage {
    /// The step that was being done.
    pub step: Step,
    /// The samples, as indices into the capture.
    pub range: Range<usize>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_step_reads_back_from_its_word() {
        for step in Step::ALL {
            assert_eq!(step.word().parse::<Step>().unwrap(), step);
            assert_eq!(serde_json::to_string(&step).unwrap(), format!("\"{step}\""));
        }
    }

    #[test]
    fn an_unknown_word_is_told_with_the_ones_allowed() {
        let message = "sweep".parse::<Step>().unwrap_err().to_string();
        assert!(
            message.contains("sweep") && message.contains("strokes"),
            "{message}"
        );
        assert!(Track::try_from(3).is_err());
    }
}
