//! What a bench report is made from.

use crate::capture::Metadata;
use crate::constants::Block;
use crate::profile::Profile;
use crate::record::Assessment;
use crate::report::agreement::Agreement;
use crate::report::trace::Trace;
use crate::wiring::WiringReport;
use jiff::Timestamp;
use measure::units::Step;

/// What a bench report is made from. Hashes are SHA-256 in lower-case hex.
#[derive(Debug, Clone)]
pub struct BenchReport<'a> {
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
