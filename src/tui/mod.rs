//! The screen of the bench.
//!
//! Belongs here: state, `update(message)`, `view(&state)`, the key table, the theme, and the shell that gives the
//! terminal to them. Does not belong here: arithmetic on samples (beyond the extremes that drawing needs), files,
//! ports.
//!
//! `update` and `view` are pure; everything that happens outside is an [`Effect`] that the shell carries out
//! through the [`Host`] that the caller hands to [`show`].

mod blocks;
mod compare;
mod keys;
mod latest;
mod offers;
mod places;
mod proving;
mod rows;
mod shell;
mod state;
mod store;
mod terminal;
mod theme;
mod times;
mod told;
mod update;
mod view;
mod window;
mod words;

pub use blocks::{BlockOffer, ProofChoice, ProofRound, ProofTaken};
pub use offers::{
    Choice, EarlierOffer, EarlierRun, EarlierTrace, Host, Job, RunHandles, SourceKind, SourceOffer,
    Subject, UnitSummary,
};
pub use proving::ProofTold;
pub use shell::{Ending, Mouse, Opening, ScreenError, show};
pub use state::State;
pub use theme::{Charset, Colour, Surroundings, Theme};
pub use update::{Effect, Message, Pointed, update};
pub use view::view;

#[cfg(test)]
mod tests;
