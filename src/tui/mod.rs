//! The screen of the bench: `update(state, message)` and `view(state)` are pure; what happens outside is an [`Effect`] that the
//! shell carries out through the [`Host`] that the caller hands to [`show`].

mod draw;
mod form;
mod format;
mod host;
mod keys;
mod list;
mod message;
mod run;
mod screens;
mod session;
mod shell;
mod state;
mod terminal;
mod theme;
mod view;

pub use host::{
    BlockOffer, Choice, EarlierOffer, EarlierRun, EarlierTrace, FITTING, FileAnswers, FileRead,
    FileRow, Host, Job, MachineOffer, MachinePage, MachineTask, NewMachine, Part, ProofChoice,
    ProofRecording, ProofResult, ProofRound, RunHandles, SourceKind, SourceOffer, Subject,
    UnitSummary,
};
pub use session::Prompting;
pub use shell::{Ending, Opening, show};
pub use terminal::Mouse;
pub use theme::{Surroundings, Theme};

// For benches, which draw screens without a terminal.
#[cfg(any(test, feature = "inside"))]
pub use {
    message::{Effect, Message, Pointed},
    state::{State, update},
    theme::{Charset, Colour},
    view::view,
};

#[cfg(test)]
mod tests;
