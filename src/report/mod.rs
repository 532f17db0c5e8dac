//! Assessment -> words: documents, and the three ways to write one.
//!
//! Belongs here: what is said, layout of text, HTML and Markdown. Does not belong here: how a figure is computed or judged.

mod agreement;
mod assessment;
mod bench;
mod blend;
mod board;
mod constants;
mod csv;
mod document;
mod history;
mod history_json;
mod html;
mod machine;
mod markdown;
mod picture;
mod profile;
mod proof;
mod recurring;
mod seasons;
mod text;
mod timeline;
mod trace;
mod wiring;

pub use agreement::Agreement;
pub use assessment::batch::{BatchLine, batch};
pub use assessment::explain::{Evidence, explain, handbook};
pub use assessment::figures::reach;
pub use assessment::findings::decisive;
pub use assessment::overview::assessment;
pub use bench::{BenchReport, BlockUsed, KeptOtherwise, ProfileUsed};
pub use blend::{Blend, BlendJson, BlendPoint, blend, blend_json};
pub use board::{Build, drawing, page};
pub use constants::{CONSTANTS_SAFETY, Flash, Reasons, comment, constants};
pub use csv::{ASSESSMENT_COLUMNS, assessment_csv, history_csv, units_csv};
pub use document::Document;
pub use history::{MachineUnits, UnitLine, history, units};
pub use history_json::{HistoryJson, UnitsJson, history_json, units_json};
pub use html::sheet::machine_sheet;
pub use machine::{StandingJson, machine, standing_json};
pub use picture::picture;
pub use profile::profile;
pub use proof::{SAFETY, proof};
pub use recurring::{Along, Recurring, Sampled, Way};
pub use trace::Trace;
pub use wiring::wiring;

/// Whether a file that begins so is a report, or a page to hang at a machine, that this program wrote.
pub fn is_report(start: &str) -> bool {
    html::is_ours(start) || markdown::is_ours(start)
}

impl Document<'_> {
    /// Plain text for a terminal. Ends with a line end.
    pub fn text(&self) -> String {
        text::write(self)
    }

    /// One HTML file that needs nothing else: no network, no script.
    pub fn html(&self) -> String {
        html::write(self)
    }

    /// Markdown, with plots in ASCII.
    pub fn markdown(&self) -> String {
        markdown::write(self)
    }
}
