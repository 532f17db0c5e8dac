//! Figures held against limits: findings and the verdict.
//!
//! Belongs here: the decision rule and its words. Does not belong here: how a figure was measured or is shown.

mod decide;
mod risk;
mod types;

pub use decide::{decide, verdict};
pub use risk::probability_outside;
pub use types::{Finding, Limit, LimitError, Outcome, Verdict};
