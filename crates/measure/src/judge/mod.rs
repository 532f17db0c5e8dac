//! Figures held against limits: findings and the verdict.
//!
//! Belongs here: the decision rule and its words. Does not belong here: how a figure was measured or is shown.

mod advice;
mod board;
mod conformance;
mod decide;
mod risk;
mod room;
pub mod sequential;
mod types;

pub use advice::{Advice, CHANCE, advise};
pub use board::{BoardShare, board_share};
pub use conformance::outcome;
pub use decide::{Conditions, decide, decide_on, verdict};
pub use risk::probability_outside;
pub use room::without_room;
pub use types::{Finding, Limit, LimitError, Outcome, Verdict};
