//! What the chosen windows miss, with the change of wiring that would show it.

use super::{ChooseError, bad};
use crate::constants::Window;
use crate::wiring::faults::{Class, Direction, FaultRow};
use crate::wiring::search::Advice;
use crate::wiring::valid::Thresholds;
use crate::wiring::{ControlWiring, WiringReport, pair};
use measure::units::Track;
use serde::Serialize;

/// A single fault that the board may run on with.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HiddenFault {
    pub channel: String,
    pub fault: String,
    pub class: Class,
    pub direction: Option<Direction>,
    /// What it is taken for where it is not caught, percent of command.
    pub reads_as_pct: Option<[f64; 2]>,
    /// Travels in percent at which the windows catch it.
    pub caught_at_pct: Vec<[f64; 2]>,
    /// Travels in percent at which the comparison of the tracks shows it; absent with one track.
    pub tracks_show_at_pct: Option<Vec<[f64; 2]>>,
    /// Lowest and highest of the command that it is taken for less the one asked, percent.
    pub error_pct: Option<[f64; 2]>,
    /// Whether that is so small that the dead bands can allow for it, as `wiring` judges.
    pub small: bool,
    pub change: String,
}

impl HiddenFault {
    /// Whether it asks for more than was asked, by more than is small, and nothing on the board ever catches it.
    pub fn is_never_caught_and_unsafe(&self) -> bool {
        let shown = self
            .tracks_show_at_pct
            .as_ref()
            .is_some_and(|runs| !runs.is_empty());
        self.direction == Some(Direction::Unsafe)
            && matches!(self.class, Class::Hidden | Class::Floats)
            && !self.small
            && !shown
    }
}

/// The faults of one track that a window misses.
pub(super) fn missed(
    control: &ControlWiring,
    report: &WiringReport,
    track: Track,
    (channel, window): (&str, Window),
    compared: bool,
) -> Result<Vec<HiddenFault>, ChooseError> {
    let report = report.tracks.iter().find(|report| report.track == track);
    let (Some(wired), Some(report)) = (control.track(track), report) else {
        return Ok(Vec::new());
    };
    let analysis = control
        .analysis(wired)
        .map_err(|e| bad(format!("{channel}: {e}")))?;
    let hookup = analysis.hookup();
    let codes = f64::from(hookup.scale().codes());
    let top = hookup.scale().max_code().as_f64();
    let (low, high) = (f64::from(window.low), f64::from(window.high));
    let thresholds = Thresholds {
        below: if low > 0.0 {
            (low - 0.5) / codes
        } else {
            f64::NEG_INFINITY
        },
        above: if high < top {
            (high + 0.5) / codes
        } else {
            f64::INFINITY
        },
    };
    let analysis = analysis.with_thresholds(thresholds);
    let mut rows = analysis.judge_all();
    if compared {
        pair::mark(&analysis, &mut rows);
    }
    let advised = |row: &FaultRow| {
        report
            .hidden
            .iter()
            .find(|missed| missed.fault == row.fault)
    };
    Ok(rows
        .into_iter()
        .filter(FaultRow::missed)
        .map(|row| HiddenFault {
            channel: channel.to_owned(),
            fault: row.fault.to_string(),
            class: row.class,
            direction: row.direction,
            reads_as_pct: row.reads_as_pct,
            caught_at_pct: row.caught_at_pct.clone(),
            tracks_show_at_pct: row.pair_shows_at_pct.clone(),
            error_pct: row.error_pct,
            small: advised(&row).is_some_and(|missed| matches!(missed.advice, Advice::Small(_))),
            change: advised(&row).map_or_else(
                || "the wiring would show it, but the window of this unit had to be wider: see `wiring`".to_owned(),
                |missed| missed.advice.to_string(),
            ),
        })
        .collect())
}
