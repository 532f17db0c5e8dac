//! Readings along the travel, with what the profile allows at rest and at full, and what counts as a wiring fault.

use super::cloud::{ends, scattered};
use super::plot::{self, Axis, Backdrop};
use super::scale::{bands, faults};
use super::travel::{beside, frame};
use crate::report::{Along, Sampled, Way};
use crate::tui::draw::{Pen, columns_of};
use crate::tui::run::Run;
use crate::tui::theme::Tone;
use measure::figure::FigureName;
use ratatui::layout::Rect;

/// Rows from which a lane's ends are labelled.
const LABELLED: u16 = 3;

/// Whether an end of a lane was measured.
pub(super) fn shows(run: &Run, lane: usize) -> bool {
    let ends = [FigureName::RestCode, FigureName::FullCode];
    run.part(lane).is_some_and(|part| {
        ends.into_iter()
            .any(|name| part.figures.get(name).is_some())
    })
}

/// A part for each channel.
pub(super) fn draw(run: &Run, pen: &mut Pen<'_>, area: Rect, sampled: &Sampled) {
    let parts = super::travel::parts(run, |_| true);
    let paired = run
        .assessment
        .as_deref()
        .is_some_and(|all| !all.pairs.is_empty());
    let lead = parts.first().filter(|_| paired);
    let all: Vec<(usize, Along)> = parts
        .iter()
        .filter_map(|(lane, part)| {
            let other = lead.filter(|(first, _)| first != lane);
            let other = other.map(|(first, part)| (run.lane_name(*first), *part));
            let along = Along::of(sampled, (run.lane_name(*lane), part), other)?;
            let allowed = |name| {
                let found = bands(run, *lane).into_iter().find(|(of, ..)| *of == name);
                found.map(|(_, low, high)| (low, high))
            };
            Some((
                *lane,
                along.within([allowed("rest"), allowed("full")], faults(run, *lane)),
            ))
        })
        .collect();
    let way = all
        .last()
        .map(|(_, along)| along.describe())
        .unwrap_or_default();
    let none = "It grows here with rest and full.";
    let Some(inner) = frame(run, pen, area, &way, &parts, none) else {
        return;
    };
    for ((lane, along), place) in all.iter().zip(plot::shares(inner, all.len())) {
        one(run, pen, place, *lane, along);
    }
}

fn one(run: &Run, pen: &mut Pen<'_>, place: Rect, lane: usize, along: &Along) {
    let inner = plot::inner(place);
    let (low, high) = along.range();
    let axis = Axis { low, high };
    let behind = Backdrop {
        bands: Vec::new(),
        faults: along.faults,
    };
    plot::backdrop(pen, inner, axis, &behind);
    let eighth = inner.width / 8;
    let at = [inner.left(), inner.right() - eighth];
    for (x, allowed) in at.into_iter().zip(along.allowed) {
        let behind = Backdrop {
            bands: allowed.into_iter().collect(),
            faults: (None, None),
        };
        plot::backdrop(pen, columns_of(inner, x, eighth), axis, &behind);
    }
    let across = |pct: f64| (pct / 100.0).clamp(0.0, 0.999);
    let seen = along.seen.iter();
    let dots = seen.flat_map(|seen| {
        [
            (across(seen.travel_pct), seen.low),
            (across(seen.travel_pct), seen.high),
        ]
    });
    let straight = match (along.way == Way::Ends, along.ends) {
        (true, [Some(rest), Some(full)]) => Some((rest, full)),
        _ => None,
    };
    let line = straight.into_iter().flat_map(|(rest, full)| {
        (0..40_u32).map(move |k| {
            let share = f64::from(k) / 39.0;
            (across(share * 100.0), rest + share * (full - rest))
        })
    });
    scattered(pen, inner, lane, dots.chain(line), axis);
    let mark = pen.glyphs().value;
    for (x, code) in [inner.left(), inner.right() - 1]
        .into_iter()
        .zip(along.ends)
    {
        if let Some(code) = code {
            pen.put(
                x,
                inner.top() + axis.row(code, inner.height),
                1,
                mark,
                Tone::Strong,
            );
        }
    }
    ends(pen, place, axis);
    let some = along.faults.0.or(along.faults.1).is_some() && inner.height >= LABELLED;
    let fault = if some {
        format!("{} = fault", pen.glyphs().fault)
    } else {
        String::new()
    };
    beside(pen, place, lane, &[run.lane_name(lane), "codes", &fault]);
}
