//! What recurs, laid over each other: returns close up at rest, strokes about their middle, the second track over the first, and how
//! often each reading came at rest.
//!
//! Drawn from the latest samples of the run, as far as the screen keeps them one by one.

use super::super::state::Picture;
use super::plot::{self, Axis, LEFT, RIGHT};
use super::scale::bands;
use crate::tui::draw::{Pen, columns_of, rows_of};
use crate::tui::run::Run;
use crate::tui::theme::{Charset, Tone};
use measure::units::Step;
use ratatui::layout::Rect;
use std::collections::BTreeMap;
use std::ops::Range;

/// Microseconds shown of each return, before it was counted.
const RETURN_US: u64 = 1_500_000;
/// Microseconds shown on either side of a stroke's middle.
const STROKE_US: u64 = 1_000_000;
/// Part of the span from an end from which on a stroke counts as being there.
const AT_END: f64 = 0.2;
/// Most samples that are looked at for one picture.
const MOST: usize = 1 << 16;

/// A dot: across from 0 to 1, and what stands up.
type Dot = (f64, f64);

/// Whether there is anything for this picture.
pub fn shows(picture: Picture, run: &Run) -> bool {
    let has = |step| passages(run, step).next().is_some();
    match picture {
        Picture::Returns => passages(run, Step::Release).nth(1).is_some(),
        Picture::Strokes => has(Step::Strokes),
        Picture::Tracks => has(Step::Strokes) && two_tracks(run).is_some(),
        Picture::AtRest => has(Step::Rest),
        Picture::Trace | Picture::Travel | Picture::Deviation => false,
    }
}

pub fn draw(picture: Picture, run: &Run, pen: &mut Pen<'_>, area: Rect) {
    if area.width <= LEFT + RIGHT + 20 || area.height < 4 {
        return;
    }
    match picture {
        Picture::Returns => returns(run, pen, area),
        Picture::Strokes => strokes(run, pen, area),
        Picture::Tracks => tracks(run, pen, area),
        Picture::AtRest => at_rest(run, pen, area),
        Picture::Trace | Picture::Travel | Picture::Deviation => {}
    }
}

/// The stretches of a step, as far as samples are known one by one.
fn passages(run: &Run, step: Step) -> impl Iterator<Item = Range<usize>> {
    let len = run.store.len();
    let all = run.store.steps_in(len.saturating_sub(MOST)..len);
    all.filter_map(move |(range, of)| (of == step).then_some(range))
}

fn codes(run: &Run, lane: usize, samples: Range<usize>) -> impl Iterator<Item = (usize, f64)> {
    samples.filter_map(move |at| Some((at, f64::from(run.store.code(lane, at)?))))
}

/// Returns: the last moments of each before it was counted, close up at rest.
fn returns(run: &Run, pen: &mut Pen<'_>, area: Rect) {
    let count = passages(run, Step::Release).count();
    let title = format!("{count} returns, the last 1.5 s of each, close up at rest");
    let body = framed(pen, area, &title, "1.5 s before", "counted");
    let lanes = run.drawn_lanes();
    for (lane, place) in lanes.iter().zip(plot::shares(body, lanes.len())) {
        let (mut dots, mut settled) = (Vec::new(), Vec::new());
        for passage in passages(run, Step::Release) {
            let Some(end) = run.store.time_us(passage.end - 1) else {
                continue;
            };
            let from = run.store.first_at(end.saturating_sub(RETURN_US));
            for (at, code) in codes(run, *lane, from.max(passage.start)..passage.end) {
                let before = end.saturating_sub(run.store.time_us(at).unwrap_or(end));
                let along = 1.0 - share(before, RETURN_US);
                if along > 0.8 {
                    settled.push(code);
                }
                dots.push((along, code));
            }
        }
        cloud(run, pen, place, *lane, &dots, around(&settled, 8.0));
    }
}

/// Strokes: each way, about the moment at which it passed the middle.
fn strokes(run: &Run, pen: &mut Pen<'_>, area: Rect) {
    let lanes = run.drawn_lanes();
    let Some(lead) = lanes.first().copied() else {
        return;
    };
    let middles = middles(run, lead);
    let title = format!(
        "{} strokes over each other, about their middle",
        middles.len()
    );
    let body = framed(pen, area, &title, "-1 s", "+1 s");
    for (lane, place) in lanes.iter().zip(plot::shares(body, lanes.len())) {
        let mut dots = Vec::new();
        for middle in &middles {
            let Some(at_us) = run.store.time_us(*middle) else {
                continue;
            };
            let from_us = at_us.saturating_sub(STROKE_US);
            let samples = run.store.first_at(from_us)..run.store.first_at(at_us + STROKE_US);
            for (at, code) in codes(run, *lane, samples) {
                let since = run.store.time_us(at).unwrap_or(from_us) + STROKE_US;
                dots.push((share(since.saturating_sub(at_us), 2 * STROKE_US), code));
            }
        }
        let all: Vec<f64> = dots.iter().map(|(_, code)| *code).collect();
        cloud(run, pen, place, *lane, &dots, around(&all, 8.0));
    }
}

/// The samples at which the middle was passed, from one end to the other.
fn middles(run: &Run, lane: usize) -> Vec<usize> {
    let mut found = Vec::new();
    for passage in passages(run, Step::Strokes) {
        let Some(ends) = run.store.extremes(lane, passage.clone()) else {
            continue;
        };
        let (low, high) = (f64::from(ends.min), f64::from(ends.max));
        let (middle, reach) = (f64::midpoint(low, high), AT_END * (high - low));
        let (mut at_high, mut passed, mut before) = (None, None, None);
        for (at, code) in codes(run, lane, passage) {
            if before.is_some_and(|before| (before < middle) != (code < middle)) {
                passed = Some(at);
            }
            before = Some(code);
            let end = match code {
                code if code < low + reach => Some(false),
                code if code > high - reach => Some(true),
                _ => None,
            };
            if let Some(end) = end {
                if at_high.is_some_and(|was| was != end) {
                    found.extend(passed);
                }
                at_high = Some(end);
            }
        }
    }
    found
}

/// The first two tracks of the control.
fn two_tracks(run: &Run) -> Option<(usize, usize)> {
    let mut lanes = run.drawn_lanes().into_iter();
    let (first, second) = (lanes.next()?, lanes.next()?);
    let track = |lane: usize| run.lanes.get(lane).and_then(|lane| lane.track);
    (track(first).is_some() && track(second).is_some()).then_some((first, second))
}

/// The second track over the first.
fn tracks(run: &Run, pen: &mut Pen<'_>, area: Rect) {
    let Some((first, second)) = two_tracks(run) else {
        return;
    };
    let names = (
        run.lane_name(first).to_owned(),
        run.lane_name(second).to_owned(),
    );
    let title = format!(
        "{} over {}, in every stroke: one straight line is good",
        names.1, names.0
    );
    let all: Vec<Dot> = passages(run, Step::Strokes)
        .flatten()
        .filter_map(|at| Some((run.store.code(first, at)?, run.store.code(second, at)?)))
        .map(|(x, y)| (f64::from(x), f64::from(y)))
        .collect();
    let wide = around(&all.iter().map(|(x, _)| *x).collect::<Vec<_>>(), 8.0);
    let high = around(&all.iter().map(|(_, y)| *y).collect::<Vec<_>>(), 8.0);
    let (left, right) = (format!("{:.0}", wide.low), format!("{:.0}", wide.high));
    let body = framed(pen, area, &title, &left, &right);
    let across = |x: f64| (x - wide.low) / (wide.high - wide.low);
    let dots: Vec<Dot> = all.iter().map(|(x, y)| (across(*x), *y)).collect();
    cloud(run, pen, body, second, &dots, high);
}

/// How often each reading came at rest, about the mean of its hold.
fn at_rest(run: &Run, pen: &mut Pen<'_>, area: Rect) {
    let body = framed(
        pen,
        area,
        "noise at rest: how often each reading came",
        "",
        "",
    );
    let lanes = run.drawn_lanes();
    for (lane, place) in lanes.iter().zip(plot::shares(body, lanes.len())) {
        let counts = about_the_mean(run, *lane);
        let inner = plot::inner(place);
        let most = counts.values().copied().max().unwrap_or(0).max(1);
        let widest = counts
            .keys()
            .map(|off| off.unsigned_abs())
            .max()
            .unwrap_or(0);
        let bins = 2 * i64::try_from(widest).unwrap_or(0) + 1;
        let middle = inner.left() + inner.width / 2;
        let wide = (i64::from(inner.width) / bins).clamp(1, 8);
        let fill = pen.glyphs().bar[0].repeat(usize::try_from(wide).unwrap_or(1));
        for (off, count) in &counts {
            let Ok(x) = u16::try_from(i64::from(middle) + off * wide - wide / 2) else {
                continue;
            };
            if x < inner.left() || x >= inner.right() {
                continue;
            }
            let full = (count * u64::from(inner.height.saturating_sub(1))).div_ceil(most);
            let full = u16::try_from(full).unwrap_or(0);
            for y in (0..full)
                .map(|up| inner.bottom() - 2 - up)
                .filter(|y| *y >= inner.top())
            {
                pen.put(x, y, inner.right() - x, &fill, Tone::Lane(*lane));
            }
            if wide >= 3 || off % 5 == 0 {
                let label = format!("{off:+}");
                let label = if *off == 0 { "0" } else { &label };
                pen.put(x, inner.bottom() - 1, inner.right() - x, label, Tone::Quiet);
            }
        }
        let samples: u64 = counts.values().sum();
        super::travel::beside(
            pen,
            place,
            *lane,
            &[run.lane_name(*lane), &format!("n {samples}"), "codes"],
        );
    }
}

/// How many samples lay so many codes from the mean of their hold.
#[allow(clippy::cast_possible_truncation)] // of codes
fn about_the_mean(run: &Run, lane: usize) -> BTreeMap<i64, u64> {
    let mut counts = BTreeMap::new();
    for passage in passages(run, Step::Rest) {
        let hold: Vec<f64> = codes(run, lane, passage).map(|(_, code)| code).collect();
        #[allow(clippy::cast_precision_loss)] // below 2^16
        let mean = hold.iter().sum::<f64>() / hold.len().max(1) as f64;
        for code in hold {
            *counts.entry((code - mean).round() as i64).or_insert(0) += 1;
        }
    }
    counts
}

/// Title and a scale below; gives what is between them.
fn framed(pen: &mut Pen<'_>, area: Rect, title: &str, left: &str, right: &str) -> Rect {
    pen.rule(area, area.top(), title);
    let scale = rows_of(plot::inner(area), area.bottom() - 1, 1);
    pen.left(scale, scale.y, left, Tone::Quiet);
    pen.right(scale, scale.y, right, Tone::Quiet);
    rows_of(area, area.y + 1, area.height - 2)
}

/// From the lowest to the highest, and so many codes more on either side.
fn around(all: &[f64], more: f64) -> Axis {
    let low = all.iter().copied().fold(f64::INFINITY, f64::min);
    let high = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if low.is_finite() && high.is_finite() {
        Axis {
            low: (low - more).max(0.0),
            high: high + more,
        }
    } else {
        Axis {
            low: 0.0,
            high: 1.0,
        }
    }
}

/// A lane's dots in its place, the limits of its ends behind them; dots off the axis are left out.
fn cloud(run: &Run, pen: &mut Pen<'_>, place: Rect, lane: usize, dots: &[Dot], axis: Axis) {
    let inner = plot::inner(place);
    let behind = plot::Backdrop {
        bands: bands(run, lane)
            .iter()
            .map(|(_, low, high)| (*low, *high))
            .collect(),
        faults: (None, None),
    };
    plot::backdrop(pen, inner, axis, &behind);
    let (across, down) = plot::dots(pen.theme.charset);
    let (columns, rows) = (inner.width * across, inner.height * down);
    let mut cells: BTreeMap<(u16, u16), u8> = BTreeMap::new();
    for (x, code) in dots {
        if !(0.0..1.0).contains(x) || *code < axis.low || *code > axis.high {
            continue;
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // of 0 .. columns
        let column = (x * f64::from(columns)) as u16;
        let row = axis.row(*code, rows);
        *cells.entry((column / across, row / down)).or_insert(0) |=
            plot::bit(column % across, row % down);
    }
    for ((x, y), cell) in cells {
        let mut letters = [0; 4];
        let symbol = match pen.theme.charset {
            Charset::Unicode => char::from_u32(0x2800 + u32::from(cell))
                .unwrap_or('?')
                .encode_utf8(&mut letters),
            Charset::Ascii => "*",
        };
        pen.put(
            inner.left() + x,
            inner.top() + y,
            1,
            symbol,
            Tone::Lane(lane),
        );
    }
    let before = columns_of(place, place.x, LEFT - 1);
    pen.right(
        before,
        inner.top(),
        &format!("{:.0}", axis.high),
        Tone::Quiet,
    );
    pen.right(
        before,
        inner.bottom().saturating_sub(1),
        &format!("{:.0}", axis.low),
        Tone::Quiet,
    );
    super::travel::beside(pen, place, lane, &[run.lane_name(lane), "codes"]);
}

#[allow(clippy::cast_precision_loss)] // microseconds of a few seconds
fn share(part: u64, whole: u64) -> f64 {
    part as f64 / whole as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Batch, RunEvent, StreamInfo};
    use measure::units::{Code, Track};
    use std::time::Duration;

    /// Two tracks at 100 samples a second; each code with its step.
    fn run(samples: &[(Step, u32)]) -> Run {
        let mut run = Run::new("x".to_owned(), None, None, Duration::ZERO);
        let channels = [
            ("a".to_owned(), Some(Track::One)),
            ("b".to_owned(), Some(Track::Two)),
        ];
        let stream = StreamInfo {
            channels: channels.to_vec(),
            bits: 10,
            vref_mv: 5000.0,
            rate_hz: 100.0,
            board_time: true,
            source: "x".to_owned(),
            tag: None,
        };
        run.apply(&RunEvent::Stream(stream), Duration::ZERO);
        let batch = Batch {
            t_us: (0..samples.len() as u64).map(|n| n * 10_000).collect(),
            step: samples.iter().map(|(step, _)| *step).collect(),
            codes: vec![
                samples.iter().map(|(_, code)| Code(*code)).collect(),
                samples.iter().map(|(_, code)| Code(*code / 2)).collect(),
            ],
        };
        run.apply(&RunEvent::Samples(batch), Duration::ZERO);
        run
    }

    #[test]
    fn a_stroke_is_found_by_its_middle_and_half_a_one_is_none() {
        // Up in ten samples, down in ten, and half-way up and down again.
        let up = (0..=10).map(|n| 100 + 80 * n);
        let down = (0..=10).rev().map(|n| 100 + 80 * n);
        let half = (0..=5).chain((0..=5).rev()).map(|n| 100 + 80 * n);
        let all: Vec<(Step, u32)> = up
            .chain(down)
            .chain(half)
            .map(|code| (Step::Strokes, code))
            .collect();
        let run = run(&all);
        // 500 is the middle: reached at sample 5 on the way up, left at 11 + 6 on the way down.
        assert_eq!(middles(&run, 0), [5, 17]);
        assert!(shows(Picture::Strokes, &run) && shows(Picture::Tracks, &run));
        assert!(!shows(Picture::Returns, &run) && !shows(Picture::AtRest, &run));
    }

    #[test]
    fn readings_at_rest_are_counted_about_the_mean_of_their_own_hold() {
        // Two holds at 100 and at 200, each once a code below, twice at, once above.
        let hold = |at: u32| [at - 1, at, at, at + 1].map(|code| (Step::Rest, code));
        let all = [&hold(100)[..], &[(Step::Idle, 0)], &hold(200)[..]].concat();
        let counts = about_the_mean(&run(&all), 0);
        assert_eq!(
            counts.into_iter().collect::<Vec<_>>(),
            [(-1, 2), (0, 4), (1, 2)]
        );
    }

    #[test]
    fn two_returns_can_be_laid_over_each_other() {
        let all = [(Step::Release, 100), (Step::Idle, 0), (Step::Release, 101)];
        assert!(shows(Picture::Returns, &run(&all)) && !shows(Picture::Returns, &run(&all[..2])));
    }
}
