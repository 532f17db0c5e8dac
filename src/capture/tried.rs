//! Trials at the end of a card: what was tried between two causes, and when.
//!
//! Their samples are no evidence of the part: a wire is out, another supply is in. They stand behind all evidence, as `idle`, and
//! what measures a capture ends before them (`trials`).

use measure::units::{Step, Trial};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A stretch of a trial, both ends included; one of `idle` says where evidence ended before it was offered.
///
/// A key of ours beside those of the format.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Tried {
    pub trial: Trial,
    /// What was done meanwhile, as in a step of that name.
    pub step: Step,
    /// Board time of its first sample, microseconds.
    pub from_us: u64,
    /// Board time of its last sample, microseconds.
    pub to_us: u64,
}
