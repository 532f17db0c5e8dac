//! What a report is made from, and the two files that it can become.

use super::{Agreement, Trace, html, markdown, sections};
use crate::capture::Metadata;
use crate::constants::Block;
use crate::profile::Profile;
use crate::record::Assessment;
use crate::wiring::WiringReport;
use jiff::Timestamp;
use measure::units::Step;

/// Everything that a report tells of. Hashes are SHA-256 in lower-case hex.
#[derive(Debug, Clone)]
pub struct Sheet<'a> {
    /// What the capture showed.
    pub assessment: &'a Assessment,
    /// The capture's metadata.
    pub meta: &'a Metadata,
    /// The steps that are in the capture.
    pub steps: &'a [Step],
    /// The capture over time.
    pub trace: &'a Trace,
    /// Its pairs of tracks over travel.
    pub agreements: &'a [Agreement],
    /// The profile it was held against.
    pub profile: Option<ProfileUsed<'a>>,
    /// The constants block of the board, when one was given.
    pub block: Option<BlockUsed<'a>>,
    /// When the report is made.
    pub made: Timestamp,
}

/// The profile that a report used.
#[derive(Debug, Clone)]
pub struct ProfileUsed<'a> {
    /// The profile.
    pub profile: &'a Profile,
    /// Hash of its text.
    pub sha256: String,
    /// Its wiring; or why there is nothing to say of it.
    pub wiring: Result<WiringReport, String>,
}

/// The block that a report used.
#[derive(Debug, Clone)]
pub struct BlockUsed<'a> {
    /// The block.
    pub block: &'a Block,
    /// Its file's name.
    pub file: String,
    /// Hash of its file.
    pub sha256: String,
}

/// One HTML file that needs nothing else: no network, no script.
#[must_use]
pub fn report_html(sheet: &Sheet<'_>) -> String {
    html::page(&sections::document(sheet))
}

/// The same in Markdown, with pictures in letters.
#[must_use]
pub fn report_markdown(sheet: &Sheet<'_>) -> String {
    markdown::text(&sections::document(sheet))
}
