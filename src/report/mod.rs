//! Assessment -> words. Ready strings for terminals and files.
//!
//! Belongs here: formatting, layout of text and HTML. Does not belong here: how a figure is computed or judged.

mod agreement;
mod assessment_text;
mod batch_text;
pub mod blend_text;
pub mod constants_text;
mod document;
mod explain;
mod figures_text;
mod history_text;
mod html;
mod markdown;
mod page;
pub mod profile_text;
mod proof_text;
mod sections;
mod sheet;
mod trace;
mod travel_text;
pub mod wiring_text;
mod zones_text;

pub use agreement::{Agreement, Departure};
pub use assessment_text::assessment_text;
pub use batch_text::{BatchLine, batch_text};
pub use explain::{Seen, explain, handbook};
pub use history_text::{UnitLine, history_text, units_text};
pub use proof_text::{SAFETY, proof_text};
pub use sheet::{BlockUsed, ProfileUsed, Sheet, report_html, report_markdown};
pub use trace::{Reach, Run, Trace};
