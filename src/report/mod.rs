//! Assessment -> words. Ready strings for terminals and files.
//!
//! Belongs here: formatting, layout of text and HTML. Does not belong here: how a figure is computed or judged.

mod assessment_text;
pub mod blend_text;
pub mod constants_text;
mod explain;
mod figures_text;
mod history_text;
mod page;
pub mod profile_text;
mod proof_text;
mod travel_text;
pub mod wiring_text;
pub use assessment_text::assessment_text;
pub use explain::{Seen, explain};
pub use history_text::{UnitLine, history_text, units_text};
pub use proof_text::{SAFETY, proof_text};
