//! Looking for what leaves the path, and for its way back: one pass, cheap where nothing happens.

use super::bridge::Bridge;
use super::excursion::{Bounds, Excursion, KINK_SHARE};
use crate::measure::statistics::least_squares::{Line, LineFit};
use std::ops::Range;

/// Full fits tried for one departure; bounds the cost where noise looks like departures.
const MOST_TRIES: usize = 60;

/// The first place from `from` on (twice an edge or more) whose second difference over the samples of an edge, ending there, is
/// abrupt.
pub(crate) fn next_kink(value: &[f64], from: usize, bounds: Bounds) -> Option<usize> {
    let steep = KINK_SHARE * bounds.threshold;
    let ends = value.get(from..)?.iter();
    let triples = ends
        .zip(&value[from - bounds.edge..])
        .zip(&value[from - 2 * bounds.edge..]);
    let mut kinks = triples.map(|((c, b), a)| c - 2.0 * b + a);
    let next = kinks.position(|kink| kink.abs() > steep)?;
    Some(from + next)
}

/// Walks over a path, bridges every excursion in `value` and marks it in `off`.
pub(crate) fn scan(
    time: &[f64],
    value: &mut [f64],
    off: &mut [bool],
    bounds: Bounds,
) -> Vec<Excursion> {
    let mut found = Vec::new();
    let mut s = (2 * bounds.edge).max(bounds.support);
    while let Some(next) = next_kink(value, s, bounds).filter(|s| s + 2 < value.len()) {
        s = next;
        let candidate = !off[s] && (!bounds.dense || leaves(time, value, s, bounds));
        if candidate && let Some((end, mut excursions)) = returns(time, value, s, bounds) {
            if !excursions.is_empty() {
                off[s..end].fill(true);
            }
            found.append(&mut excursions);
            s = end;
        } else {
            s += 1;
        }
    }
    found
}

/// The straight line through a few samples.
fn line(time: &[f64], value: &[f64]) -> Option<LineFit> {
    LineFit::through(time.iter().copied().zip(value.iter().copied()))
}

/// A quick look: is the sample far from the straight line of those just before it?
fn leaves(time: &[f64], value: &[f64], s: usize, bounds: Bounds) -> bool {
    let before = s - bounds.support..s;
    line(&time[before.clone()], &value[before])
        .is_some_and(|fit| (value[s] - fit.line.at(time[s])).abs() > 0.6 * bounds.threshold)
}

/// Looks for the return of what left at `s`. On success: the first sample back on the path and the excursions
/// in between; `value` is then bridged. No excursion when it was a burst of noise.
fn returns(
    time: &[f64],
    value: &mut [f64],
    s: usize,
    bounds: Bounds,
) -> Option<(usize, Vec<Excursion>)> {
    let fit = line(&time[s - bounds.support..s], &value[s - bounds.support..s])?;
    // Where nothing moves the slope of a few samples is their noise, and goes astray over a long loss.
    let line = match bounds.degree {
        1 => Line {
            slope: 0.0,
            ..fit.line
        },
        _ => fit.line,
    };
    let rough = fit.residual_sd.unwrap_or(0.0).max(bounds.sigma);
    let last = (s + bounds.longest).min(value.len() - 2);
    let mut furthest = 0.0_f64;
    let mut tries = 0;
    for r in s + 1..=last {
        furthest = furthest.max((value[r - 1] - line.at(time[r - 1])).abs());
        // Quick to see: nothing deep yet, not on the way back yet, no edge against the straight way across.
        let deep = furthest >= (0.5 * bounds.threshold).max(4.0 * rough);
        let back = (value[r] - line.at(time[r])).abs() <= 0.6 * furthest || r - s <= bounds.short;
        if !(deep && back && has_edge(time, value, s..r, bounds)) {
            continue;
        }
        tries += 1;
        if tries > MOST_TRIES {
            return None;
        }
        let bridge = Bridge::across(time, value, s..r, bounds)?;
        if !bridge.is_excursion() {
            continue;
        }
        if bridge.is_burst() {
            return Some((r, Vec::new()));
        }
        let mut excursions = bridge.excursions();
        excursions.retain(|found| !goes_on(time, value, (line, r), found, bounds));
        if excursions.is_empty() {
            continue;
        }
        let off: usize = excursions.iter().map(|e| e.range.len()).sum();
        // Mostly on the path is no excursion.
        if 5 * off >= 2 * (r - s) {
            let path = bridge.path();
            value[s..r].copy_from_slice(&path);
            return Some((r, excursions));
        }
    }
    None
}

/// Whether what was found goes on along the line before the gap, or comes along the one behind it, which begins at `r`: then it is the
/// path itself, and the bridge cuts its corner, as where a control that is let go begins to fall.
fn goes_on(
    time: &[f64],
    value: &[f64],
    (before, r): (Line, usize),
    found: &Excursion,
    bounds: Bounds,
) -> bool {
    let end = (r + bounds.support).min(value.len());
    let behind = line(&time[r..end], &value[r..end]).map(|fit| fit.line);
    let on = |line: Line| {
        let near = |i: &usize| (value[*i] - line.at(time[*i])).abs() <= 0.5 * bounds.threshold;
        2 * found.range.clone().filter(near).count() > found.range.len()
    };
    on(before) || behind.is_some_and(on)
}

/// Whether the first or last samples of a gap are off the chord from the sample before it to the one after it.
fn has_edge(time: &[f64], value: &[f64], gap: Range<usize>, bounds: Bounds) -> bool {
    let (from, to) = (gap.start - 1, gap.end);
    let slope = (value[to] - value[from]) / (time[to] - time[from]);
    let off = |i: usize| (value[i] - value[from] - slope * (time[i] - time[from])).abs();
    let edge = bounds.edge.min(gap.len());
    let (first, last) = (gap.clone().take(edge), gap.rev().take(edge));
    first.chain(last).any(|i| off(i) >= 0.5 * bounds.threshold)
}
