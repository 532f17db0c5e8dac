//! The trace: a lane for each channel, the strip of steps under them, the time below.

use super::super::state::Bench;
use super::plot::{self, Axis, Backdrop, LEFT, Line, RIGHT, longest_gap_us};
use super::scale::{axis, bands, faults};
use super::underlay;
use crate::tui::draw::{Pen, columns_of, from_column, rows_of};
use crate::tui::format;
use crate::tui::run::{Phase, Run};
use crate::tui::session::{Height, Session};
use crate::tui::theme::Tone;
use measure::Towards;
use ratatui::layout::Rect;
use std::ops::Range;

/// From this many rows on there is a legend under the trace.
const LEGEND: u16 = 14;

/// Draws the trace into an area: lanes, then a row of steps, then a row of time.
pub fn draw(bench: &Bench, session: &Session, pen: &mut Pen<'_>, area: Rect) {
    if area.width <= LEFT + RIGHT || area.height < 3 {
        return;
    }
    let run = &session.run;
    let lanes = run.drawn_lanes();
    let inner = plot::inner(area);
    let edges = bench.window.edges(run.extent_us());
    let (across, _) = plot::dots(pen.theme.charset);
    let firsts = plot::columns(&run.store, edges, inner.width * across);
    let below = underlay::samples(bench, run, &plot::times(edges, inner.width * across));
    let legend_rows = u16::from(area.height >= LEGEND);
    let room = area.height - 2 - legend_rows;
    let lanes_area = rows_of(area, area.y, room);
    for (lane, place) in lanes.iter().zip(plot::shares(lanes_area, lanes.len())) {
        let place = rows_of(place, place.y, place.height - u16::from(place.height > 4));
        draw_lane(bench, session, pen, place, *lane, &firsts, &below);
    }
    if lanes.is_empty() {
        pen.middle(inner, area.top() + room / 2, "no sample yet", Tone::Quiet);
    }
    if legend_rows > 0 {
        underlay::legend(bench, run, pen, inner, area.bottom() - 1);
    }
    let above = rows_of(inner, inner.y, room);
    cursor(bench, pen, above, edges);
    let foot = rows_of(inner, area.bottom() - 2 - legend_rows, 2);
    steps(run, pen, foot, &firsts, across);
    time(bench, session, pen, foot, edges);
}

fn draw_lane(
    bench: &Bench,
    session: &Session,
    pen: &mut Pen<'_>,
    area: Rect,
    lane: usize,
    firsts: &[usize],
    below: &[Option<Range<usize>>],
) {
    let run = &session.run;
    let inner = plot::inner(area);
    let bands = bands(run, lane);
    let axis = axis(session, lane, &bands, firsts, area.height);
    let behind = Backdrop {
        bands: bands.iter().map(|(_, low, high)| (*low, *high)).collect(),
        faults: faults(run, lane),
    };
    plot::backdrop(pen, inner, axis, &behind);
    underlay::draw(bench, run, pen, inner, axis, lane, below);
    let rate_hz = run.taking.as_ref().map_or(0.0, |taking| taking.rate_hz);
    let extents = plot::extents(&run.store, lane, firsts, longest_gap_us(rate_hz));
    plot::trace(pen, inner, axis, &extents, Line::Whole, Tone::Lane(lane));
    dropouts(run, pen, inner, lane, firsts);
    labels(pen, area, axis, &bands, &behind);
    let beside = from_column(area, inner.right() + 1);
    readings(bench, run, pen, beside, lane);
}

/// Marks where a dropout was found, on the edge that it went away from, so that the excursion itself stays seen.
fn dropouts(run: &Run, pen: &mut Pen<'_>, area: Rect, lane: usize, firsts: &[usize]) {
    let (Some(part), Some((first, _))) = (run.part(lane), run.store.extent_us()) else {
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

/// Left of a lane: the codes at its ends, and the bands' names where they lie.
fn labels(
    pen: &mut Pen<'_>,
    area: Rect,
    axis: Axis,
    bands: &[(&str, f64, f64)],
    behind: &Backdrop,
) {
    let place = columns_of(area, area.x, LEFT - 1);
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
fn readings(bench: &Bench, run: &Run, pen: &mut Pen<'_>, area: Rect, lane: usize) {
    let Some(name) = run.lanes.get(lane).map(|lane| lane.name.as_str()) else {
        return;
    };
    let sample = match bench.window.held() {
        None => run.store.len().checked_sub(1),
        Some(held) => sample_at(run, held.cursor_us),
    };
    let read = sample.and_then(|at| run.store.extremes(lane, at..at + 1));
    let (code, ratio) = match read {
        None => ("-".to_owned(), String::new()),
        Some(read) if read.min == read.max => (format!("{}", read.min), volts(run, read.min)),
        // An old sample, known together with its neighbours only.
        Some(read) => (format!("{} to", read.min), format!("{}", read.max)),
    };
    if area.height >= 2 {
        pen.left(area, area.top(), name, Tone::Lane(lane));
        pen.left(area, area.top() + 1, &code, Tone::Strong);
        if area.height >= 3 {
            pen.left(area, area.top() + 2, &ratio, Tone::Quiet);
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

/// `0.803 V`; the part of the range where nothing says what it stands for.
fn volts(run: &Run, code: u32) -> String {
    run.volts(code).map_or_else(
        || format!("ratio {:.3}", f64::from(code) / run.full_scale()),
        |volts| format!("{volts:.3} V"),
    )
}

/// The last sample at or before a time.
fn sample_at(run: &Run, t_us: i64) -> Option<usize> {
    let after = u64::try_from(t_us).unwrap_or(0).saturating_add(1);
    run.store.first_at(after).checked_sub(1)
}

/// The cursor of a held trace.
fn cursor(bench: &Bench, pen: &mut Pen<'_>, area: Rect, (from, to): (i64, i64)) {
    let Some(held) = bench.window.held() else {
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
fn steps(run: &Run, pen: &mut Pen<'_>, area: Rect, firsts: &[usize], across: u16) {
    let (Some(from), Some(to)) = (firsts.first(), firsts.last()) else {
        return;
    };
    let edge = pen.glyphs().edge;
    for (range, step) in run.store.steps_in(*from..*to) {
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
fn time(bench: &Bench, session: &Session, pen: &mut Pen<'_>, foot: Rect, (from, to): (i64, i64)) {
    let run = &session.run;
    let y = foot.bottom() - 1;
    let row = rows_of(foot, y, 1);
    let (first, _) = run.extent_us();
    let span = format::duration(seconds(to.saturating_sub(from)));
    let height = match session.height {
        Height::Limits => "",
        Height::FullScale => "whole range",
        Height::CloseUp => "close-up",
    };
    let (before, last) = match run.phase {
        Phase::Live => ("ago", "now"),
        Phase::Finished | Phase::Failed(_) => ("before the end", "end"),
    };
    match bench.window.held() {
        None => {
            pen.left(row, y, &format!("{span} {before}"), Tone::Quiet);
            pen.right(row, y, last, Tone::Quiet);
            pen.middle(row, y, height, Tone::Quiet);
        }
        Some(held) => {
            // A window wider than the run begins before it.
            let at = |t: i64| format::duration(seconds(t.saturating_sub(first).max(0)));
            pen.left(row, y, &at(from), Tone::Quiet);
            pen.right(row, y, &at(to), Tone::Quiet);
            let together = match sample_at(run, held.cursor_us).map(|at| run.store.together(at)) {
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
