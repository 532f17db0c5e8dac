//! The trace: a lane for each channel, the strip of steps under them, the time below.
//!
//! Belongs here: where lanes, labels and readings stand. Does not belong here: how a lane is drawn (`plot`).

use super::pen::Pen;
use super::plot::{self, Axis, Backdrop, Line};
use super::scale::{axis, bands, faults};
use super::under;
use crate::tui::state::{Height, Phase, State, clamp_us};
use crate::tui::theme::Tone;
use crate::tui::words;
use measure::Towards;
use ratatui::layout::Rect;
use std::ops::Range;

/// Columns left of the lanes (codes, names of bands) and right of them (readings).
pub(super) const LEFT: u16 = 6;
pub(super) const RIGHT: u16 = 12;

/// From this many rows on there is a legend under the trace.
const LEGEND: u16 = 14;

/// Draws the trace into an area: lanes, then a row of steps, then a row of time.
pub fn draw(state: &State, pen: &mut Pen<'_>, area: Rect) {
    let lanes = state.run.drawn_lanes();
    if area.width <= LEFT + RIGHT || area.height < 3 {
        return;
    }
    let inner = Rect {
        x: area.x + LEFT,
        width: area.width - LEFT - RIGHT,
        ..area
    };
    let extent = state.run.extent_us();
    let edges = state.window.edges(extent);
    let (across, _) = plot::dots(pen.theme.charset);
    let firsts = plot::columns(&state.run.store, edges, inner.width * across);
    let below = under::samples(state, &plot::times(edges, inner.width * across));
    let legend_rows = u16::from(area.height >= LEGEND);
    let mut y = area.top();
    let count = u16::try_from(lanes.len()).unwrap_or(u16::MAX).max(1);
    let room = area.height - 2 - legend_rows;
    for (nth, lane) in (0_u16..).zip(&lanes) {
        // The rows that do not divide evenly go to the first lanes.
        let rows = room / count + u16::from(nth < room % count);
        let gap = u16::from(rows > 4);
        if rows == 0 {
            break;
        }
        let place = Rect {
            y,
            height: rows - gap,
            ..area
        };
        draw_lane(state, pen, place, *lane, &firsts, &below);
        y += rows;
    }
    if lanes.is_empty() {
        pen.middle(inner, area.top() + room / 2, "no sample yet", Tone::Quiet);
    }
    let foot = Rect {
        y: area.bottom() - 2 - legend_rows,
        height: 2,
        ..inner
    };
    if legend_rows > 0 {
        under::legend(state, pen, inner, area.bottom() - 1);
    }
    cursor(
        state,
        pen,
        Rect {
            height: room,
            ..inner
        },
        edges,
    );
    steps(state, pen, foot, &firsts, across);
    time(state, pen, foot, edges);
}

fn draw_lane(
    state: &State,
    pen: &mut Pen<'_>,
    area: Rect,
    lane: usize,
    firsts: &[usize],
    below: &[Option<Range<usize>>],
) {
    let inner = Rect {
        x: area.x + LEFT,
        width: area.width - LEFT - RIGHT,
        ..area
    };
    let bands = bands(state, lane);
    let axis = axis(state, lane, &bands, firsts, area.height);
    let behind = Backdrop {
        bands: bands.iter().map(|(_, low, high)| (*low, *high)).collect(),
        faults: faults(state, lane),
    };
    plot::backdrop(pen, inner, axis, &behind);
    under::draw(state, pen, inner, axis, lane, below);
    let rate_hz = state
        .run
        .taking
        .as_ref()
        .map_or(0.0, |taking| taking.rate_hz);
    let extents = plot::extents(&state.run.store, lane, firsts, longest_gap_us(rate_hz));
    plot::trace(pen, inner, axis, &extents, Line::Whole, Tone::Lane(lane));
    dropouts(state, pen, inner, lane, firsts);
    labels(pen, area, axis, &bands, &behind);
    readings(
        state,
        pen,
        Rect {
            x: inner.right() + 1,
            width: RIGHT - 1,
            ..area
        },
        lane,
    );
}

/// Marks where a dropout was found, on the edge that it went away from, so that the excursion itself stays seen.
fn dropouts(state: &State, pen: &mut Pen<'_>, area: Rect, lane: usize, firsts: &[usize]) {
    let run = &state.run;
    let (Some(part), Some((first, _))) = (state.part(lane), run.store.extent_us()) else {
        return;
    };
    let (across, _) = plot::dots(pen.theme.charset);
    let shown = firsts.first().copied().unwrap_or(0)..firsts.last().copied().unwrap_or(0);
    for dropout in &part.dropouts {
        let sample = run
            .store
            .first_at(first.saturating_add(micros(dropout.t_s)));
        if !shown.contains(&sample) {
            continue;
        }
        let (mark, y) = match dropout.towards {
            Towards::Ground => (pen.theme.either("▾", "v"), area.top()),
            Towards::Supply => (pen.theme.either("▴", "^"), area.bottom().saturating_sub(1)),
        };
        pen.put(
            area.left() + column(firsts, sample, across),
            y,
            1,
            mark,
            Tone::Bad,
        );
    }
}

/// The cell that a sample on the screen stands in.
fn column(firsts: &[usize], sample: usize, across: u16) -> u16 {
    let at = firsts
        .partition_point(|first| *first <= sample)
        .saturating_sub(1);
    u16::try_from(at).unwrap_or(u16::MAX) / across
}

/// Seconds as microseconds; what is negative or no number is 0.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // `as` holds at both ends
fn micros(seconds: f64) -> u64 {
    (seconds * 1e6) as u64
}

/// A pause longer than this is a gap: one and a half sample periods (DESIGN 4.1), or 100 ms when the rate is not known.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // positive, and below 2^53
pub(super) fn longest_gap_us(rate_hz: f64) -> u64 {
    if rate_hz.is_finite() && rate_hz > 1e-3 {
        (1.5e6 / rate_hz) as u64
    } else {
        100_000
    }
}

/// Left of a lane: the codes at its ends, and the bands' names where they lie.
fn labels(
    pen: &mut Pen<'_>,
    area: Rect,
    axis: Axis,
    bands: &[(&str, f64, f64)],
    behind: &Backdrop,
) {
    let place = Rect {
        width: LEFT - 1,
        ..area
    };
    let last = area.height.saturating_sub(1);
    let mut taken = Vec::new();
    for (name, low, high) in bands {
        let row = axis.row(f64::midpoint(*low, *high), area.height);
        pen.right(place, area.top() + row, name, Tone::Band);
        taken.push(row);
    }
    let in_fault = |row: u16| behind.is_fault(axis.codes(row, area.height));
    for row in [0, last] {
        if !taken.contains(&row) && in_fault(row) {
            pen.right(place, area.top() + row, "fault", Tone::Fault);
            taken.push(row);
        }
    }
    for (row, code) in [(0, axis.high), (last, axis.low)] {
        if !taken.contains(&row) {
            let code = format!("{:.0}", code.max(0.0));
            pen.right(place, area.top() + row, &code, Tone::Quiet);
        }
    }
}

/// Right of a lane: its name, and its code now or under the cursor.
fn readings(state: &State, pen: &mut Pen<'_>, area: Rect, lane: usize) {
    let run = &state.run;
    let Some(name) = run.lanes.get(lane).map(|lane| lane.name.as_str()) else {
        return;
    };
    let sample = match state.window.held() {
        None => run.store.len().checked_sub(1),
        Some(held) => sample_at(state, held.cursor_us),
    };
    let read = sample.and_then(|at| run.store.extremes(lane, at..at + 1));
    let (code, ratio) = match read {
        None => ("-".to_owned(), String::new()),
        Some(read) if read.min == read.max => (
            format!("{}", read.min),
            format!("ratio {:.3}", f64::from(read.min) / run.ruler()),
        ),
        // An old sample, known together with its neighbours only.
        Some(read) => (format!("{} to", read.min), format!("{}", read.max)),
    };
    if area.height >= 2 {
        pen.put(area.left(), area.top(), area.width, name, Tone::Lane(lane));
        pen.put(area.left(), area.top() + 1, area.width, &code, Tone::Strong);
        if area.height >= 3 {
            pen.put(area.left(), area.top() + 2, area.width, &ratio, Tone::Quiet);
        }
    } else {
        let x = pen.put(area.left(), area.top(), area.width, name, Tone::Lane(lane)) + 1;
        pen.put(
            x,
            area.top(),
            area.right().saturating_sub(x),
            &code,
            Tone::Strong,
        );
    }
}

/// The last sample at or before a time.
fn sample_at(state: &State, t_us: i64) -> Option<usize> {
    let after = u64::try_from(t_us).unwrap_or(0).saturating_add(1);
    state.run.store.first_at(after).checked_sub(1)
}

/// The cursor of a held trace.
fn cursor(state: &State, pen: &mut Pen<'_>, area: Rect, (from, to): (i64, i64)) {
    let Some(held) = state.window.held() else {
        return;
    };
    let along = i128::from(held.cursor_us) - i128::from(from);
    let span = (i128::from(to) - i128::from(from) + 1).max(1);
    let column = along * i128::from(area.width) / span;
    if let Ok(column) = u16::try_from(column)
        && column < area.width
    {
        pen.upright(area.left() + column, area.top(), area.bottom());
    }
}

/// The strip of steps.
fn steps(state: &State, pen: &mut Pen<'_>, area: Rect, firsts: &[usize], across: u16) {
    let (Some(from), Some(to)) = (firsts.first(), firsts.last()) else {
        return;
    };
    let edge = pen.glyphs().edge;
    for (range, step) in state.run.store.steps_in(*from..*to) {
        let (left, right) = (
            column(firsts, range.start, across),
            column(firsts, range.end.saturating_sub(1), across),
        );
        let x = area.left() + left;
        let room = (right - left + 1).min(area.right().saturating_sub(x));
        if step == measure::units::Step::Idle {
            continue;
        }
        let x = pen.put(x, area.top(), room, edge, Tone::Quiet);
        if usize::from(room) > step.word().len() + 1 {
            pen.put(x, area.top(), room - 1, step.word(), Tone::Quiet);
        }
    }
}

/// The row of time.
fn time(state: &State, pen: &mut Pen<'_>, foot: Rect, (from, to): (i64, i64)) {
    let y = foot.bottom() - 1;
    let row = Rect {
        y,
        height: 1,
        ..foot
    };
    let first = state
        .run
        .store
        .extent_us()
        .map_or(0, |(first, _)| clamp_us(first));
    let span = words::duration(seconds(to.saturating_sub(from)));
    let height = match state.height {
        Height::Limits => "",
        Height::Ruler => "whole ruler",
        Height::Close => "close up",
    };
    let (before, last) = match state.run.phase {
        Phase::Live => ("ago", "now"),
        Phase::Finished | Phase::Failed(_) => ("before the end", "end"),
    };
    match state.window.held() {
        None => {
            pen.put(
                row.left(),
                y,
                row.width,
                &format!("{span} {before}"),
                Tone::Quiet,
            );
            pen.right(row, y, last, Tone::Quiet);
            pen.middle(row, y, height, Tone::Quiet);
        }
        Some(held) => {
            let at = |t: i64| words::duration(seconds(t.saturating_sub(first)));
            pen.put(row.left(), y, row.width, &at(from), Tone::Quiet);
            pen.right(row, y, &at(to), Tone::Quiet);
            let together =
                match sample_at(state, held.cursor_us).map(|at| state.run.store.together(at)) {
                    Some(many @ 2..) => format!(", by {many} samples"),
                    _ => String::new(),
                };
            pen.middle(
                row,
                y,
                &format!("held, {span} wide{together}  {height}"),
                Tone::Now,
            );
            let cursor = format!("at {}", at(held.cursor_us));
            pen.put(row.right() + 1, y, RIGHT - 1, &cursor, Tone::Now);
        }
    }
}

#[allow(clippy::cast_precision_loss)] // microseconds of a run are far below 2^53
fn seconds(us: i64) -> f64 {
    us as f64 * 1e-6
}
