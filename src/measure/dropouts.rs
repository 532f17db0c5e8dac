//! Dropouts: the signal leaves its path and comes back.
//!
//! An excursion is judged against the path *on both sides* of it: a cubic (a line where nothing moves) through the
//! samples just before and just after must fit both, and what lies between must go beyond both sides and beyond the
//! threshold. So a fast stroke, whose own slope may be larger than the threshold in every sample, shows none; a level
//! that does not return is movement; and a burst of noise raises its own bar, because the fit's residuals do.
//! A Hampel identifier does worse on both counts (`tests/reference/28`).
//!
//! Belongs here: finding excursions on one path. Does not belong here: which passages, or what they mean.

use super::elimination::solve;
use super::path::Path;
use super::stats::real;
use std::ops::Range;

/// Smallest depth, % of span (DESIGN 4.4).
pub const DEPTH_PCT: f64 = 2.0;
/// Smallest depth in standard deviations of the noise (DESIGN 4.4).
pub const DEPTH_SIGMA: f64 = 8.0;
/// Smallest depth in standard deviations of the few samples around an excursion. Less than [`DEPTH_SIGMA`], since ten
/// samples tell a standard deviation to a quarter only.
const LOCAL_SIGMA: f64 = 6.0;
/// Smallest depth in standard uncertainties of signal and interpolated path together: bites on long gaps only.
const PATH_SIGMA: f64 = 5.0;
/// Excursions closer than this, to both sides, are one burst of noise; seconds.
const BURST_S: f64 = 0.01;

/// Full fits tried for one departure; bounds the cost where noise looks like departures.
const MOST_TRIES: usize = 60;

/// How the control moves in a passage: decides what its path may look like and how long an excursion may last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Motion {
    /// Moved by hand. Longer excursions than 0.4 s could be movement.
    Moving,
    /// Left alone or held. Excursions up to 2 s.
    Still,
}

impl Motion {
    fn longest_s(self) -> f64 {
        match self {
            Self::Moving => 0.4,
            Self::Still => 2.0,
        }
    }
}

/// An excursion that returned, in samples of its path.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Excursion {
    /// First sample off the path up to the first one back on it.
    pub range: Range<usize>,
    /// The samples that were bridged for it; shared by excursions close together.
    gap: Range<usize>,
    /// Signal minus path where it is furthest off, in codes.
    pub depth: f64,
    /// The path's code in the middle of the excursion.
    pub level: f64,
}

/// What counts on one path.
#[derive(Debug, Clone, Copy)]
struct Bounds {
    /// Smallest depth in codes.
    threshold: f64,
    /// Noise in codes.
    sigma: f64,
    /// Samples within which one edge must be done: 2 ms, 1 ..= 6.
    edge: usize,
    /// Samples on each side that tell the path, at least.
    support: usize,
    /// Most samples that an excursion may last.
    longest: usize,
    /// Longest gap in samples across which a straight line from one side still tells the other: 8 ms, 4 at least.
    short: usize,
    /// Degree of the path.
    degree: usize,
    /// Whether samples are close enough in time for a straight look ahead.
    dense: bool,
}

/// Finds every excursion, replaces it in `path.value` by the path and marks it in `path.off`.
///
/// `threshold` (> 0) is the smallest depth in codes, `sigma` the noise in codes. Linear in the samples.
pub(super) fn find(path: &mut Path, threshold: f64, sigma: f64, motion: Motion) -> Vec<Excursion> {
    let bounds = Bounds {
        threshold,
        sigma,
        edge: path.samples(0.002).clamp(1, 6),
        support: path.samples(0.005).clamp(4, 8),
        longest: path.samples(motion.longest_s()).max(2),
        short: path.samples(0.008).clamp(4, 8),
        degree: match motion {
            Motion::Moving => 3,
            Motion::Still => 1,
        },
        dense: path.period < 0.002_5,
    };
    if !has_edges(path, bounds) {
        return Vec::new();
    }
    let raw = path.value.clone();
    let mut found = scan(&path.time, &mut path.value, &mut path.off, bounds);
    // What left slowly and came back at once is seen from the other side.
    if has_edges(path, bounds) {
        let turned = path.time.iter().rev().map(|t| -t).collect::<Vec<_>>();
        path.value.reverse();
        path.off.reverse();
        let backwards = scan(&turned, &mut path.value, &mut path.off, bounds);
        path.value.reverse();
        path.off.reverse();
        let n = path.len();
        found.extend(backwards.into_iter().map(|e| Excursion {
            range: n - e.range.end..n - e.range.start,
            gap: n - e.gap.end..n - e.gap.start,
            ..e
        }));
        found.sort_by_key(|e| e.gap.start);
    }
    without_bursts(path, &raw, found, bounds)
}

/// Takes back what is part of a burst of noise: excursions to both sides close together, and ones that the roughness
/// of the samples around them explains.
fn without_bursts(
    path: &mut Path,
    raw: &[f64],
    found: Vec<Excursion>,
    bounds: Bounds,
) -> Vec<Excursion> {
    let near = path.samples(BURST_S).max(8);
    let both_sides = |at: usize| {
        let from = found[at].range.start.saturating_sub(near);
        let to = found[at].range.end + near;
        let close = || {
            found
                .iter()
                .filter(|e| e.range.end > from && e.range.start < to)
        };
        close().any(|e| e.depth < 0.0) && close().any(|e| e.depth > 0.0)
    };
    let keep: Vec<bool> = (0..found.len())
        .map(|at| {
            let local = roughness_around(path, &found[at].range, near);
            found[at].depth.abs() >= LOCAL_SIGMA * local && !both_sides(at)
        })
        .collect();
    let mut kept = Vec::new();
    for (excursion, keep) in found.into_iter().zip(keep) {
        if keep {
            kept.push(excursion);
        } else {
            for i in excursion.gap.clone() {
                path.value[i] = raw[i];
                path.off[i] = false;
            }
        }
    }
    kept
}

/// Noise in codes of some samples, from second differences (variance 6). 0 when there are none.
fn roughness(value: &[f64], range: Range<usize>) -> f64 {
    let squares: f64 = value[range.clone()]
        .windows(3)
        .map(|w| (w[0] - 2.0 * w[1] + w[2]).powi(2))
        .sum();
    (squares / 6.0 / real(range.len().saturating_sub(2).max(1))).sqrt()
}

/// [`roughness`] of the on-path samples just before and just after an excursion, the larger.
fn roughness_around(path: &Path, range: &Range<usize>, near: usize) -> f64 {
    let on = |range: Range<usize>| -> f64 {
        let kept: Vec<f64> = range
            .filter(|&i| !path.off[i])
            .map(|i| path.value[i])
            .collect();
        roughness(&kept, 0..kept.len())
    };
    let before = on(range.start.saturating_sub(near)..range.start);
    let after = on(range.end..(range.end + near).min(path.len()));
    before.max(after)
}

/// Whether abrupt edges are left that are not part of an excursion.
fn has_edges(path: &Path, bounds: Bounds) -> bool {
    let e = bounds.edge;
    (2 * e..path.len()).any(|s| kink(&path.value, s, e).abs() > 0.6 * bounds.threshold)
}

/// Second difference over `e` samples, ending at `s`.
fn kink(value: &[f64], s: usize, e: usize) -> f64 {
    value[s] - 2.0 * value[s - e] + value[s - 2 * e]
}

fn scan(time: &[f64], value: &mut [f64], off: &mut [bool], bounds: Bounds) -> Vec<Excursion> {
    let mut found = Vec::new();
    let mut s = (2 * bounds.edge).max(bounds.support);
    while s + 2 < value.len() {
        let candidate = !off[s]
            && kink(value, s, bounds.edge).abs() > 0.6 * bounds.threshold
            && (!bounds.dense || leaves(time, value, s, bounds));
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

/// A straight line through a few samples, and how rough they are about it.
struct Line {
    middle: f64,
    mean: f64,
    slope: f64,
    /// Root mean square departure, with two degrees of freedom taken off.
    spread: f64,
}

impl Line {
    fn through(time: &[f64], value: &[f64]) -> Option<Self> {
        let n = real(value.len());
        let (middle, mean) = (time.iter().sum::<f64>() / n, value.iter().sum::<f64>() / n);
        let (mut tt, mut ty) = (0.0, 0.0);
        for (t, y) in time.iter().zip(value) {
            tt += (t - middle).powi(2);
            ty += (t - middle) * (y - mean);
        }
        if tt <= 0.0 {
            return None;
        }
        let mut line = Self {
            middle,
            mean,
            slope: ty / tt,
            spread: 0.0,
        };
        let squares: f64 = time
            .iter()
            .zip(value)
            .map(|(t, y)| (y - line.at(*t)).powi(2))
            .sum();
        line.spread = (squares / (n - 2.0).max(1.0)).sqrt();
        Some(line)
    }

    fn at(&self, t: f64) -> f64 {
        self.mean + self.slope * (t - self.middle)
    }
}

/// A quick look: is the sample far from the straight line of those just before it?
fn leaves(time: &[f64], value: &[f64], s: usize, bounds: Bounds) -> bool {
    let before = s - bounds.support..s;
    Line::through(&time[before.clone()], &value[before])
        .is_some_and(|line| (value[s] - line.at(time[s])).abs() > 0.6 * bounds.threshold)
}

/// Looks for the return of what left at `s`. On success: the first sample back on the path and the excursions
/// in between; `value` is then bridged. No excursion when it was a burst of noise.
fn returns(
    time: &[f64],
    value: &mut [f64],
    s: usize,
    bounds: Bounds,
) -> Option<(usize, Vec<Excursion>)> {
    let line = Line::through(&time[s - bounds.support..s], &value[s - bounds.support..s])?;
    let rough = line.spread.max(bounds.sigma);
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
        let Some(curve) = joined(time, value, s..r, bounds) else {
            continue;
        };
        if is_burst(time, value, s..r, &curve, bounds) {
            return Some((r, Vec::new()));
        }
        let excursions = split(time, value, s..r, &curve, bounds);
        let off: usize = excursions.iter().map(|e| e.range.len()).sum();
        if 5 * off >= 2 * (r - s) {
            for i in s..r {
                value[i] = curve.at(time[i]);
            }
            return Some((r, excursions));
        }
    }
    None
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

/// Whether the signal departs to both sides within a gap, the lesser by a quarter of the larger at least.
fn is_burst(time: &[f64], value: &[f64], gap: Range<usize>, curve: &Curve, bounds: Bounds) -> bool {
    let (low, high) = gap.fold((0.0_f64, 0.0_f64), |(low, high), i| {
        let departure = value[i] - curve.at(time[i]);
        (low.min(departure), high.max(departure))
    });
    let (lesser, larger) = ((-low).min(high), (-low).max(high));
    lesser >= 0.5 * bounds.threshold && lesser >= 0.25 * larger
}

/// The path across `gap`, if the samples on both sides lie on one and one edge of the gap is abrupt.
fn joined(time: &[f64], value: &[f64], gap: Range<usize>, bounds: Bounds) -> Option<Curve> {
    let reach = bounds.support.max((gap.len() / 3).min(24));
    let left = gap.start.saturating_sub(reach)..gap.start;
    let right = gap.end..(gap.end + reach).min(value.len());
    let places = || left.clone().chain(right.clone());
    let count = left.len() + right.len();
    let degree = match count {
        ..4 => return None,
        4..6 => bounds.degree.min(1),
        6..8 => bounds.degree.min(2),
        _ => bounds.degree,
    };
    let curve = Curve::fit(degree, || places().map(|i| (time[i], value[i])))?;
    let departure = |i: usize| value[i] - curve.at(time[i]);
    let depth = gap.clone().map(|i| departure(i).abs()).fold(0.0, f64::max);
    let (mut squares, mut worst) = (0.0, 0.0_f64);
    for i in places() {
        squares += departure(i).powi(2);
        worst = worst.max(departure(i).abs());
    }
    let local = (squares / real((count - degree - 1).max(1))).sqrt();
    let sigma = local.max(bounds.sigma);
    if depth
        < bounds
            .threshold
            .max(DEPTH_SIGMA * bounds.sigma)
            .max(LOCAL_SIGMA * local)
    {
        return None;
    }
    // A path known only from afar is itself uncertain.
    let unsure = curve.spread(f64::midpoint(time[gap.start], time[gap.end - 1]));
    if depth < PATH_SIGMA * sigma * (1.0 + unsure * unsure).sqrt() {
        return None;
    }
    // Across a long gap a hand's movement is known less well: a fifth of what it may have moved.
    let speed = |side: &Range<usize>| {
        let (from, to) = (side.start, side.end - 1);
        ((value[to] - value[from]) / (time[to] - time[from])).abs()
    };
    let moved = speed(&left).max(speed(&right)) * (time[right.start] - time[left.end - 1]);
    if gap.len() > bounds.short && depth < 0.2 * moved {
        return None;
    }
    // What rough samples leave is no misfit; a misfit of a fair part of the depth is one whatever the noise.
    let rough = roughness(value, left.clone()).max(roughness(value, right.clone()));
    let allowed = (0.3 * bounds.threshold)
        .max(0.1 * depth)
        .max(4.5 * rough)
        .min(0.3 * depth);
    let edge = bounds.edge.min(gap.len());
    let jump = |from: usize, to: usize| (departure(to) - departure(from)).abs() >= 0.6 * depth;
    let abrupt = gap.clone().take(edge).any(|i| jump(gap.start - 1, i))
        || gap.clone().rev().take(edge).any(|i| jump(gap.end, i));
    (worst <= allowed
        && abrupt
        && leaves_both_sides(time, value, [left, gap, right], &curve, bounds))
    .then_some(curve)
}

/// Whether a gap is an excursion and neither a step to a new level nor a turn of the path.
///
/// The straight lines of both sides must meet in the middle (after a step they stay apart). Then the signal goes beyond
/// both sides in the direction in which it departs, or the path goes on the same way on both sides, or the gap is
/// short and far from both lines. A dwell between two strokes does none of these.
fn leaves_both_sides(
    time: &[f64],
    value: &[f64],
    [left, gap, right]: [Range<usize>; 3],
    curve: &Curve,
    bounds: Bounds,
) -> bool {
    let straight =
        |side: &Range<usize>| Curve::fit(1, || side.clone().map(|i| (time[i], value[i])));
    let (Some(before), Some(after)) = (straight(&left), straight(&right)) else {
        return false;
    };
    let departure = |i: usize| value[i] - curve.at(time[i]);
    let Some(deepest) = gap
        .clone()
        .max_by(|&a, &b| departure(a).abs().total_cmp(&departure(b).abs()))
    else {
        return false;
    };
    let depth = departure(deepest).abs();
    let middle = f64::midpoint(time[left.end - 1], time[right.start]);
    if (before.at(middle) - after.at(middle)).abs() > (0.4 * depth).max(6.0 * bounds.sigma) {
        return false;
    }
    let ends = || left.clone().rev().take(2).chain(right.clone().take(2));
    let low = ends().map(|i| value[i]).fold(f64::INFINITY, f64::min);
    let high = ends().map(|i| value[i]).fold(f64::NEG_INFINITY, f64::max);
    let beyond = if departure(deepest) < 0.0 {
        low - value[deepest]
    } else {
        value[deepest] - high
    };
    let slope = |line: &Curve| line.at(middle + 1.0) - line.at(middle);
    let chord = curve.at(time[right.start]) - curve.at(time[left.end - 1]);
    let goes_on = slope(&before) * slope(&after) > 0.0 && chord * slope(&after) > 0.0;
    let from = |line: &Curve| (value[deepest] - line.at(time[deepest])).abs();
    let far = from(&before).min(from(&after)) >= 0.6 * bounds.threshold;
    beyond >= 0.9 * bounds.threshold || goes_on || (gap.len() <= bounds.short && far)
}

/// Splits a gap into the excursions that are at least two samples on the path apart.
fn split(
    time: &[f64],
    value: &[f64],
    gap: Range<usize>,
    curve: &Curve,
    bounds: Bounds,
) -> Vec<Excursion> {
    let deepest = gap
        .clone()
        .map(|i| (value[i] - curve.at(time[i])).abs())
        .fold(0.0, f64::max);
    let off = (0.5 * bounds.threshold).max(0.2 * deepest);
    let mut runs: Vec<Range<usize>> = Vec::new();
    for i in gap.clone() {
        if (value[i] - curve.at(time[i])).abs() > off {
            match runs.last_mut() {
                Some(run) if i < run.end + 2 => run.end = i + 1,
                _ => runs.push(i..i + 1),
            }
        }
    }
    runs.into_iter()
        .filter_map(|range| {
            let depth = range
                .clone()
                .map(|i| value[i] - curve.at(time[i]))
                .max_by(|a, b| a.abs().total_cmp(&b.abs()))?;
            let level = curve.at(f64::midpoint(time[range.start], time[range.end - 1]));
            (depth.abs() >= bounds.threshold).then_some(Excursion {
                range,
                gap: gap.clone(),
                depth,
                level,
            })
        })
        .collect()
}

/// A polynomial of degree up to 3 in time.
struct Curve {
    centre: f64,
    reach: f64,
    terms: [f64; 4],
    /// The equations that gave the terms, and how many.
    rows: [[f64; 5]; 4],
    size: usize,
}

impl Curve {
    /// Least squares; `None` when the points do not determine it.
    fn fit<I: Iterator<Item = (f64, f64)>>(degree: usize, points: impl Fn() -> I) -> Option<Self> {
        let (first, offset) = points().next()?;
        let last = points().last()?.0;
        let (centre, reach) = (f64::midpoint(first, last), (last - first) / 2.0);
        if reach <= 0.0 {
            return None;
        }
        let size = degree + 1;
        let mut rows = [[0.0; 5]; 4];
        for (t, y) in points() {
            let u = (t - centre) / reach;
            let powers = [1.0, u, u * u, u * u * u];
            for (row, p) in rows.iter_mut().zip(powers).take(size) {
                for (cell, q) in row.iter_mut().zip(powers).take(size) {
                    *cell += p * q;
                }
                row[4] += p * (y - offset);
            }
        }
        let mut terms = solve(rows, size)?;
        terms[0] += offset;
        Some(Self {
            centre,
            reach,
            terms,
            rows,
            size,
        })
    }

    /// Standard uncertainty of the polynomial at a time, for points of standard uncertainty 1.
    fn spread(&self, t: f64) -> f64 {
        let u = (t - self.centre) / self.reach;
        let powers = [1.0, u, u * u, u * u * u];
        let mut rows = self.rows;
        for (row, p) in rows.iter_mut().zip(powers) {
            row[4] = p;
        }
        solve(rows, self.size).map_or(f64::INFINITY, |terms| {
            let variance: f64 = terms.iter().zip(powers).map(|(a, p)| a * p).sum();
            variance.max(0.0).sqrt()
        })
    }

    fn at(&self, t: f64) -> f64 {
        let u = (t - self.centre) / self.reach;
        let [a, b, c, d] = self.terms;
        a + u * (b + u * (c + u * d))
    }
}
