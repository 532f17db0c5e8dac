//! Trials: what is tried at the end of a card to tell two causes apart.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;

/// A short test between two causes that both fit what a card has shown.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Trial {
    /// Press and let go again, slower.
    Slower,
    /// Only the plug is moved.
    Plug,
    /// The laptop runs on its battery.
    Battery,
    /// The two signal wires change places at the board.
    Swap,
}

impl Trial {
    /// Every trial, the least trouble first.
    pub const ALL: [Self; 4] = [Self::Slower, Self::Plug, Self::Battery, Self::Swap];

    /// The word as captures write it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Slower => "slower",
            Self::Plug => "plug",
            Self::Battery => "battery",
            Self::Swap => "swap",
        }
    }
}

impl fmt::Display for Trial {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}
