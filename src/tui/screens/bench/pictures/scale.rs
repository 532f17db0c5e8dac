//! What the height of a lane stands for: codes at its ends, and the limits and thresholds behind its trace.

use super::plot::Axis;
use crate::tui::run::Run;
use crate::tui::session::{Height, Session};
use measure::figure::FigureName;

/// From this many rows on a lane's height reaches to what counts as a wiring fault.
const ROWS_FOR_FAULTS: u16 = 5;

/// The bands of a lane, in codes, with their names.
pub fn bands(run: &Run, lane: usize) -> Vec<(&'static str, f64, f64)> {
    let full_scale = run.full_scale();
    let Some(lane) = run.lanes.get(lane) else {
        return Vec::new();
    };
    [
        ("full", FigureName::FullRatio),
        ("rest", FigureName::RestRatio),
    ]
    .into_iter()
    .filter_map(|(name, figure)| {
        let limit = run.limit(&lane.name, figure)?;
        let low = limit.min().unwrap_or(0.0) * full_scale;
        let high = limit.max().unwrap_or(1.0) * full_scale;
        Some((name, low, high))
    })
    .collect()
}

/// In codes: below the first and above the second a reading counts as a wiring fault.
pub fn faults(run: &Run, lane: usize) -> (Option<f64>, Option<f64>) {
    let track = run.lanes.get(lane).and_then(|lane| lane.track);
    let edges = track.and_then(|track| run.fault_edges.get(&track));
    let full_scale = run.full_scale();
    edges.map_or((None, None), |edges| {
        (
            edges.low.map(|ratio| ratio * full_scale),
            edges.high.map(|ratio| ratio * full_scale),
        )
    })
}

/// The codes at the bottom and the top of a lane.
pub fn axis(
    session: &Session,
    lane: usize,
    bands: &[(&str, f64, f64)],
    firsts: &[usize],
    rows: u16,
) -> Axis {
    let run = &session.run;
    let full_scale = run.full_scale();
    let whole = Axis {
        low: 0.0,
        high: full_scale,
    };
    let range = firsts.first().copied().unwrap_or(0)..firsts.last().copied().unwrap_or(0);
    let (seen, smallest) = match session.height {
        Height::FullScale => return whole,
        Height::Limits if bands.is_empty() => return whole,
        Height::Limits => (run.store.whole(lane), full_scale / 16.0),
        Height::CloseUp => (run.store.extremes(lane, range), 8.0),
    };
    let from_bands = bands.iter().filter(|_| session.height == Height::Limits);
    let all: Vec<f64> = from_bands
        .flat_map(|(_, low, high)| [*low, *high])
        .chain(
            seen.iter()
                .flat_map(|e| [f64::from(e.min), f64::from(e.max) + 1.0]),
        )
        .chain(fault_edges_shown(session, lane, rows))
        .collect();
    let low = all.iter().copied().fold(f64::INFINITY, f64::min);
    let high = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if !(low.is_finite() && high.is_finite()) {
        return whole;
    }
    let margin = ((high - low) * 0.05).max((smallest - (high - low)) / 2.0);
    Axis {
        low: low - margin,
        high: high + margin,
    }
}

/// The thresholds that the height of a lane of so many rows reaches to.
fn fault_edges_shown(session: &Session, lane: usize, rows: u16) -> impl Iterator<Item = f64> {
    let (low, high) = faults(&session.run, lane);
    let wanted = session.height == Height::Limits && rows >= ROWS_FOR_FAULTS;
    low.into_iter().chain(high).filter(move |_| wanted)
}
