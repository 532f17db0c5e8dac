//! Limit, finding, outcome, verdict.

use crate::figure::FigureName;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;
use thiserror::Error;

/// What a figure must stay within, in the figure's unit. Has a `min`, a `max` or both, and `min <= max`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Limit {
    #[serde(skip_serializing_if = "Option::is_none")]
    min: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    max: Option<f64>,
}

/// Why a limit was refused.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum LimitError {
    /// Neither side.
    #[error("has neither `min` nor `max`: give one or both")]
    NoSide,
    /// A side that is no finite number.
    #[error("`{0}` is not a finite number")]
    NotFinite(&'static str),
    /// The wrong way round.
    #[error("min {0} is above max {1}: swap them")]
    Crossed(f64, f64),
}

impl Limit {
    /// A limit with a lower side, an upper side or both.
    ///
    /// # Errors
    /// When there is no side, a side is not finite, or `min > max`.
    pub fn new(min: Option<f64>, max: Option<f64>) -> Result<Self, LimitError> {
        for (side, name) in [(min, "min"), (max, "max")] {
            if side.is_some_and(|x| !x.is_finite()) {
                return Err(LimitError::NotFinite(name));
            }
        }
        match (min, max) {
            (None, None) => Err(LimitError::NoSide),
            (Some(a), Some(b)) if a > b => Err(LimitError::Crossed(a, b)),
            _ => Ok(Self { min, max }),
        }
    }

    /// Both sides times a positive factor: the limit in a unit that is so many times smaller. Sides stay finite.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        let side = |side: f64| (side * factor).clamp(f64::MIN, f64::MAX);
        Self {
            min: self.min.map(side),
            max: self.max.map(side),
        }
    }

    /// The lower side, if any.
    #[must_use]
    pub fn min(self) -> Option<f64> {
        self.min
    }

    /// The upper side, if any.
    #[must_use]
    pub fn max(self) -> Option<f64> {
        self.max
    }
}

/// What came of holding a figure against its limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
pub enum Outcome {
    /// The whole interval lies inside the limit.
    #[serde(rename = "pass")]
    Pass,
    /// The whole interval lies outside.
    #[serde(rename = "fail")]
    Fail,
    /// The interval straddles the limit.
    #[serde(rename = "undecided")]
    Undecided,
    /// The capture does not support the figure.
    #[serde(rename = "not measured")]
    NotMeasured,
}

impl fmt::Display for Outcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Pass => "pass",
            Self::Fail => "fail",
            Self::Undecided => "undecided",
            Self::NotMeasured => "not measured",
        })
    }
}

/// The unit's outcome over all findings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Every finding passed.
    Pass,
    /// At least one finding failed.
    Fail,
    /// None failed, but not all are decided.
    Undecided,
}

impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Pass => "pass",
            Self::Fail => "fail",
            Self::Undecided => "undecided",
        })
    }
}

/// A figure held against a limit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Finding {
    /// The channel, or `a/b` for a pair of tracks.
    pub channel: String,
    /// The figure.
    pub figure: FigureName,
    /// Lower side of the limit.
    pub min: Option<f64>,
    /// Upper side of the limit.
    pub max: Option<f64>,
    /// What came of it.
    pub outcome: Outcome,
    /// Why, with numbers.
    pub reason: String,
    /// What to do next; absent when there is nothing to do.
    pub advice: Option<String>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_that_cannot_be_are_refused() {
        assert_eq!(Limit::new(None, None), Err(LimitError::NoSide));
        assert_eq!(
            Limit::new(Some(2.0), Some(1.0)),
            Err(LimitError::Crossed(2.0, 1.0))
        );
        assert_eq!(
            Limit::new(Some(f64::NAN), None),
            Err(LimitError::NotFinite("min"))
        );
        assert!(Limit::new(Some(1.0), Some(1.0)).is_ok());
    }
}
