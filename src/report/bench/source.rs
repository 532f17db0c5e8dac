//! What a bench report is made from.

use crate::capture::Metadata;
use crate::constants::Block;
use crate::profile::Profile;
use crate::record::Assessment;
use crate::report::agreement::Agreement;
use crate::report::recurring::Recurring;
use crate::report::trace::Trace;
use crate::wiring::WiringReport;
use jiff::Timestamp;
use measure::judge::Verdict;
use measure::units::Step;

/// What a bench report is made from. Hashes are SHA-256 in lower-case hex.
#[derive(Debug, Clone)]
pub struct BenchReport<'a> {
    pub assessment: &'a Assessment,
    pub meta: &'a Metadata,
    pub steps: &'a [Step],
    pub trace: &'a Trace,
    pub agreements: &'a [Agreement],
    pub recurring: &'a [Recurring],
    pub profile: Option<ProfileUsed<'a>>,
    /// The constants block of the board, when one was given.
    pub block: Option<BlockUsed<'a>>,
    /// What was kept of the same recording, where it says another verdict.
    pub kept: Option<KeptOtherwise>,
    pub made: Timestamp,
}

/// The record kept last of the same recording.
#[derive(Debug, Clone)]
pub struct KeptOtherwise {
    pub verdict: Verdict,
    /// What it said first; empty in records of before.
    pub headline: String,
    pub kept: Timestamp,
}

#[derive(Debug, Clone)]
pub struct ProfileUsed<'a> {
    pub profile: &'a Profile,
    /// Hash of its text.
    pub sha256: String,
    /// Its wiring; or why there is nothing to say of it.
    pub wiring: Result<WiringReport, String>,
}

#[derive(Debug, Clone)]
pub struct BlockUsed<'a> {
    pub block: &'a Block,
    /// Its file's name.
    pub file: String,
    /// Hash of its file.
    pub sha256: String,
}
