//! What recurs, laid over each other: returns close up at rest, strokes about their middle, the second track over the first, how
//! often each reading came at rest and what hertz its noise is made of; and readings along the travel.
//!
//! Drawn from the latest samples of the run, as far as the screen keeps them one by one. What is drawn is prepared in
//! `report::Sampled`, as for the report.

use super::super::state::Picture;
use super::cloud::{Dot, ends, framed, scattered};
use super::plot::{self, Axis, LEFT, RIGHT};
use super::scale::bands;
use super::{along, at_rest};
use crate::report::Sampled;
use crate::tui::draw::Pen;
use crate::tui::run::Run;
use measure::units::{Passage, Step};
use ratatui::layout::Rect;

/// Of a return, the seconds before it was counted in which it has settled.
const SETTLED_S: f64 = 0.3;
/// Seconds across a picture of returns, and on either side of a stroke's middle.
const RETURN_S: f64 = 1.5;
const STROKE_S: f64 = 1.0;
/// Most samples that are looked at for one picture.
const MOST: usize = 1 << 16;

/// Whether there is anything for this picture.
pub fn shows(picture: Picture, run: &Run) -> bool {
    let has = |step| passages(run).any(|passage| passage.step == step);
    match picture {
        Picture::Along => run
            .drawn_lanes()
            .into_iter()
            .any(|lane| along::shows(run, lane)),
        Picture::Returns => {
            let releases = passages(run).filter(|passage| passage.step == Step::Release);
            releases.count() > 1
        }
        Picture::Strokes => has(Step::Strokes),
        Picture::Tracks => has(Step::Strokes) && two_tracks(run).is_some(),
        Picture::AtRest => has(Step::Rest),
        Picture::Lines => at_rest::hums(run).next().is_some() && has(Step::Rest),
        Picture::Trace | Picture::Travel | Picture::Deviation => false,
    }
}

pub fn draw(picture: Picture, run: &Run, pen: &mut Pen<'_>, area: Rect) {
    if area.width <= LEFT + RIGHT + 20 || area.height < 4 {
        return;
    }
    match picture {
        Picture::Along => along::draw(run, pen, area, &sampled(run)),
        Picture::Returns => returns(run, pen, area),
        Picture::Strokes => strokes(run, pen, area),
        Picture::Tracks => tracks(run, pen, area),
        Picture::AtRest => at_rest::readings(run, pen, area, &sampled(run)),
        Picture::Lines => at_rest::lines(run, pen, area, &sampled(run)),
        Picture::Trace | Picture::Travel | Picture::Deviation => {}
    }
}

/// The stretches of one step, as far as samples are known one by one; they count from the first of these.
fn passages(run: &Run) -> impl Iterator<Item = Passage> {
    let len = run.store.len();
    let first = len.saturating_sub(MOST);
    let all = run.store.steps_in(first..len);
    all.map(move |(range, step)| Passage {
        step,
        range: range.start - first..range.end - first,
    })
}

/// The latest samples of the lanes that are drawn.
fn sampled(run: &Run) -> Sampled {
    let len = run.store.len();
    let first = len.saturating_sub(MOST);
    let code = |lane, at| run.store.code(lane, at).map_or(f64::NAN, f64::from);
    let lanes = run.drawn_lanes().into_iter();
    Sampled {
        t_us: (first..len)
            .map(|at| run.store.time_us(at).unwrap_or(0))
            .collect(),
        passages: passages(run).collect(),
        channels: lanes
            .map(|lane| {
                let codes = (first..len).map(|at| code(lane, at)).collect();
                (run.lane_name(lane).to_owned(), codes)
            })
            .collect(),
    }
}

/// Returns: the last moments of each before it was counted, close up at rest.
fn returns(run: &Run, pen: &mut Pen<'_>, area: Rect) {
    let sampled = sampled(run);
    let count = sampled.passages(Step::Release).count();
    let title = format!("{count} returns, the last 1.5 s of each, close up at rest");
    let body = framed(pen, area, &title, "1.5 s before", "counted");
    let lanes = run.drawn_lanes();
    for (lane, place) in lanes.iter().zip(plot::shares(body, lanes.len())) {
        let curves = sampled.returns(run.lane_name(*lane));
        let settled = curves.iter().flatten().filter(|(t, _)| *t > -SETTLED_S);
        let axis = around(settled.map(|(_, code)| *code), 8.0);
        let dots = curves
            .iter()
            .flatten()
            .map(|(t, code)| (1.0 + t / RETURN_S, *code));
        cloud(run, pen, place, *lane, dots, axis);
    }
}

/// Strokes: each way, about the moment at which it passed the middle.
fn strokes(run: &Run, pen: &mut Pen<'_>, area: Rect) {
    let lanes = run.drawn_lanes();
    let Some(lead) = lanes.first().copied() else {
        return;
    };
    let sampled = sampled(run);
    let lead = run.lane_name(lead);
    let count = sampled.middles(lead).len();
    let title = format!("{count} strokes over each other, about their middle");
    let body = framed(pen, area, &title, "-1 s", "+1 s");
    for (lane, place) in lanes.iter().zip(plot::shares(body, lanes.len())) {
        let curves = sampled.strokes(lead, run.lane_name(*lane));
        let axis = around(curves.iter().flatten().map(|(_, code)| *code), 8.0);
        let dots = curves.iter().flatten();
        let dots = dots.map(|(t, code)| ((t + STROKE_S) / (2.0 * STROKE_S), *code));
        cloud(run, pen, place, *lane, dots, axis);
    }
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
    let names = (run.lane_name(first), run.lane_name(second));
    let title = format!(
        "{} over {}, in every stroke: one straight line is good",
        names.1, names.0
    );
    let sampled = sampled(run);
    let (across, up) = (sampled.codes(names.0), sampled.codes(names.1));
    let all: Vec<Dot> = sampled
        .passages(Step::Strokes)
        .flatten()
        .filter_map(|at| Some((*across.get(at)?, *up.get(at)?)))
        .filter(|(x, y)| x.is_finite() && y.is_finite())
        .collect();
    let wide = around(all.iter().map(|(x, _)| *x), 8.0);
    let high = around(all.iter().map(|(_, y)| *y), 8.0);
    let (left, right) = (format!("{:.0}", wide.low), format!("{:.0}", wide.high));
    let body = framed(pen, area, &title, &left, &right);
    let across = |x: f64| (x - wide.low) / (wide.high - wide.low);
    let dots = all.iter().map(|(x, y)| (across(*x), *y));
    cloud(run, pen, body, second, dots, high);
}

/// From the lowest to the highest, and so many codes more on either side.
fn around(all: impl Iterator<Item = f64>, more: f64) -> Axis {
    let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), code| {
        (low.min(code), high.max(code))
    });
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
fn cloud(
    run: &Run,
    pen: &mut Pen<'_>,
    place: Rect,
    lane: usize,
    dots: impl Iterator<Item = Dot>,
    axis: Axis,
) {
    let inner = plot::inner(place);
    let behind = plot::Backdrop {
        bands: bands(run, lane)
            .iter()
            .map(|(_, low, high)| (*low, *high))
            .collect(),
        faults: (None, None),
    };
    plot::backdrop(pen, inner, axis, &behind);
    scattered(pen, inner, lane, dots, axis);
    ends(pen, place, axis);
    super::travel::beside(pen, place, lane, &[run.lane_name(lane), "codes"]);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Batch, RunEvent, StreamInfo};
    use measure::units::{Code, Track};
    use std::time::Duration;

    /// One track at 100 samples a second; each code with its step.
    fn run(samples: &[(Step, u32)]) -> Run {
        let mut run = Run::new("x".to_owned(), None, None, Duration::ZERO);
        let stream = StreamInfo {
            channels: vec![("a".to_owned(), Some(Track::One))],
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
            codes: vec![samples.iter().map(|(_, code)| Code(*code)).collect()],
        };
        run.apply(&RunEvent::Samples(batch), Duration::ZERO);
        run
    }

    #[test]
    fn what_recurs_is_drawn_from_the_second_return_and_the_first_stroke_on() {
        let all = [(Step::Release, 100), (Step::Idle, 0), (Step::Release, 101)];
        assert!(shows(Picture::Returns, &run(&all)) && !shows(Picture::Returns, &run(&all[..2])));
        let stroke = run(&[(Step::Strokes, 100)]);
        assert!(shows(Picture::Strokes, &stroke) && !shows(Picture::Tracks, &stroke));
        assert!(!shows(Picture::AtRest, &stroke) && !shows(Picture::Along, &stroke));
    }

    /// A run longer than what is looked at: the stretches count from the first sample that is.
    #[test]
    fn a_long_run_is_looked_at_from_where_it_is_kept() {
        let idle = vec![(Step::Idle, 7); MOST + 10];
        let run = run(&[&idle[..], &[(Step::Rest, 100); 4][..]].concat());
        let sampled = sampled(&run);
        assert_eq!(sampled.t_us.len(), MOST);
        assert_eq!(sampled.passages(Step::Rest).next(), Some(MOST - 4..MOST));
        assert_eq!(sampled.codes("a").last(), Some(&100.0));
    }
}
