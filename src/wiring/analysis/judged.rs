//! A wiring judged as it will be fitted: with the windows that its board will have.

use super::super::faults::{FaultRow, Tally, ZeroEnd};
use super::super::hookup::Hookup;
use super::super::valid::EndLimits;
use super::super::windows::{Windows, windows};
use super::FaultAnalysis;

/// One track with its thresholds and every fault.
#[derive(Debug, Clone)]
pub struct TrackFaults {
    pub analysis: FaultAnalysis,
    pub windows: Windows,
    pub rows: Vec<FaultRow>,
    pub tally: Tally,
}

impl TrackFaults {
    /// `None` when a good control has no reading.
    pub fn of(hookup: &Hookup, zero: ZeroEnd, rest: EndLimits, full: EndLimits) -> Option<Self> {
        let analysis = FaultAnalysis::new(hookup, zero, rest, full)?;
        let windows = fitted(&analysis);
        let analysis = analysis.with_thresholds(windows.thresholds());
        let rows = analysis.judge_all();
        Some(Self {
            tally: Tally::of(&rows),
            analysis,
            windows,
            rows,
        })
    }
}

/// The windows of an analysis: once with thresholds as near as they may stand, to find where they should.
pub fn fitted(analysis: &FaultAnalysis) -> Windows {
    let rows = analysis.judge_those(|fault| fault.places_thresholds());
    windows(analysis.hookup(), analysis.valid(), &rows)
}
