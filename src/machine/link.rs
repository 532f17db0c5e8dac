//! One link of the chain from a bare part to a proven board.

use super::seen::FileState;
use crate::outlet::line;
use schemars::JsonSchema;
use serde::Serialize;

/// How a link stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum LinkState {
    /// Not there yet, or not decided.
    Missing,
    Done,
    Failed,
    /// What it rests on was measured again, or is no longer what was judged.
    Stale,
}

impl LinkState {
    pub fn word(self) -> &'static str {
        match self {
            Self::Missing => "missing",
            Self::Done => "done",
            Self::Failed => "failed",
            Self::Stale => "stale",
        }
    }
}

/// One thing that must stand before the machine moves.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[allow(clippy::struct_field_names)] // the key of the JSON (DESIGN 4.9)
pub struct Link {
    /// `control NAME`, `wiring NAME`, `constants`, `output proof`, `fault proof`, `check due`.
    pub link: String,
    pub state: LinkState,
    /// The file that it rests on.
    pub evidence: Option<String>,
    pub why: String,
    /// What to do about it, with the command; `None` when it stands.
    pub next: Option<String>,
    /// It rests on a recording of a simulated board; absent when it does not.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    #[schemars(default)]
    pub simulated: bool,
    /// It failed, and all that helps is to accept it with the constants: what is missing for these goes first.
    #[serde(skip)]
    pub waits: bool,
}

impl Link {
    pub(super) fn new(link: impl Into<String>, evidence: Option<&str>) -> Self {
        Self {
            link: link.into(),
            state: LinkState::Missing,
            evidence: evidence.map(str::to_owned),
            why: String::new(),
            next: None,
            simulated: false,
            waits: false,
        }
    }

    /// Whether the recording that it rests on was simulated; before [`Self::is`], which says so.
    pub(super) fn simulated(self, simulated: bool) -> Self {
        Self { simulated, ..self }
    }

    pub(super) fn is(self, state: LinkState, why: impl Into<String>, next: Option<String>) -> Self {
        let mut why = why.into();
        if self.simulated {
            why.insert_str(0, "simulated: ");
        }
        Self {
            state,
            why: line(&why).into_owned(),
            next: next.map(|next| line(&next).into_owned()),
            ..self
        }
    }
}

/// Why a file no longer says what it said.
pub(super) fn changed(file: &FileState, name: &str) -> Option<String> {
    match file {
        FileState::Same => None,
        FileState::Changed => Some(format!(
            "{name} is no longer the file that was added: its SHA-256 is another"
        )),
        FileState::Unreadable(why) => Some(why.clone()),
    }
}
