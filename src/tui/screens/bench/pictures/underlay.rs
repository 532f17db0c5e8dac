//! The earlier run under the trace, and the legend of what is behind the trace.

use super::super::overlay::Align;
use super::super::state::Bench;
use super::plot::{self, Axis, Line, RIGHT, longest_gap_us};
use super::scale::{bands, faults};
use crate::tui::draw::{Pen, columns_of};
use crate::tui::run::{Extremes, Run};
use crate::tui::theme::Tone;
use ratatui::layout::Rect;
use std::ops::Range;

/// The samples of the earlier run under each column; nothing where it has none.
pub fn samples(bench: &Bench, run: &Run, times: &[i64]) -> Vec<Option<Range<usize>>> {
    let Some(overlay) = &bench.overlay else {
        return Vec::new();
    };
    let stretches = overlay.stretches(run);
    let first_at = |t: i64| {
        overlay
            .store
            .first_at(u64::try_from(t.max(0)).unwrap_or(u64::MAX))
    };
    times
        .windows(2)
        .map(|pair| {
            let (from, to) = (*pair.first()?, *pair.last()?);
            let stretch = stretches.iter().find(|s| s.under(from).is_some())?;
            let then = stretch.under(from)?;
            let end = then.saturating_add(to.saturating_sub(from));
            Some(first_at(then)..first_at(end))
        })
        .collect()
}

/// Draws the earlier run's channel of the same name, in the codes of this board.
pub fn draw(
    bench: &Bench,
    run: &Run,
    pen: &mut Pen<'_>,
    area: Rect,
    axis: Axis,
    lane: usize,
    below: &[Option<Range<usize>>],
) {
    let (Some(overlay), Some(lane)) = (&bench.overlay, run.lanes.get(lane)) else {
        return;
    };
    let Some(its) = overlay.lanes.iter().position(|name| *name == lane.name) else {
        return;
    };
    let now = run
        .taking
        .as_ref()
        .map_or(overlay.bits, |taking| taking.bits);
    let scaled = |code: u32| match now.checked_sub(overlay.bits) {
        Some(up) => code.checked_shl(up).unwrap_or(u32::MAX),
        None => code.checked_shr(overlay.bits - now).unwrap_or(0),
    };
    let gap = longest_gap_us(overlay.rate_hz);
    let extents: Vec<Option<Extremes>> = below
        .iter()
        .map(|samples| {
            let extremes = plot::extent(&overlay.store, its, samples.clone()?, gap)?;
            Some(Extremes {
                min: scaled(extremes.min),
                max: scaled(extremes.max),
            })
        })
        .collect();
    plot::trace(pen, area, axis, &extents, Line::Dotted, Tone::Quiet);
}

/// What the fills and the dotted trace mean, as far as they are on the screen.
pub fn legend(bench: &Bench, run: &Run, pen: &mut Pen<'_>, area: Rect, y: u16) {
    let glyphs = pen.glyphs();
    let lanes = run.drawn_lanes();
    let mut pieces: Vec<(String, Tone)> = Vec::new();
    if lanes.iter().any(|lane| !bands(run, *lane).is_empty()) {
        pieces.push((format!("{0}{0} limit   ", glyphs.band), Tone::Band));
    }
    if lanes.iter().any(|lane| faults(run, *lane) != (None, None)) {
        pieces.push((format!("{0}{0} wiring fault   ", glyphs.fault), Tone::Fault));
    }
    if let Some(name) = &bench.fetching {
        pieces.push((format!("reading {name}"), Tone::Quiet));
    }
    if let Some(overlay) = &bench.overlay {
        let how = match overlay.align {
            Align::Step => "step by step",
            Align::Beginning => "from the beginning",
        };
        let dotted = pen.theme.either("⡇⡇", ",,");
        let words = if overlay.store.is_empty() {
            format!("results of {}; its recording is not here", overlay.name)
        } else {
            format!("{dotted} {}, {how} (b)", overlay.name)
        };
        pieces.push((words, Tone::Quiet));
    }
    let row = columns_of(area, area.x, area.width + RIGHT);
    let pieces: Vec<(&str, Tone)> = pieces
        .iter()
        .map(|(text, tone)| (text.as_str(), *tone))
        .collect();
    pen.pieces(row, y, &pieces);
}
