//! Dropouts: the signal leaves its path and comes back.
//!
//! An excursion is judged against the path *on both sides* of it: a cubic (a line where nothing moves) through the
//! samples just before and just after must fit both, and what lies between must go beyond both sides and beyond the
//! threshold. So a fast stroke, whose own slope may be larger than the threshold in every sample, shows none; a level
//! that does not return is movement; and a burst of noise raises its own bar, because the fit's residuals do.
//! A Hampel identifier does worse on both counts (`tests/reference/28`).
//!
//! Belongs here: finding excursions on one path. Does not belong here: which passages, or what they mean.

mod bridge;
mod curve;
mod search;

use crate::measure::strokes::path::Path;
use bridge::{LOCAL_SIGMA, roughness};
use search::{kink, scan};
use std::ops::Range;

/// Smallest depth, % of span (DESIGN 4.4).
pub const DEPTH_PCT: f64 = 2.0;
/// Smallest depth in standard deviations of the noise (DESIGN 4.4).
pub const DEPTH_SIGMA: f64 = 8.0;
/// Excursions closer than this, to both sides, are one burst of noise; seconds.
const BURST_S: f64 = 0.01;

/// How the control moves in a passage: decides what its path may look like and how long an excursion may last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Motion {
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
pub(crate) struct Excursion {
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
pub(crate) fn find(path: &mut Path, threshold: f64, sigma: f64, motion: Motion) -> Vec<Excursion> {
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
        found.sort_by_key(|e| e.range.start);
    }
    without_bursts(path, &raw, found)
}

/// Takes back what is part of a burst of noise: excursions to both sides close together, and ones that the roughness
/// of the samples around them explains.
fn without_bursts(path: &mut Path, raw: &[f64], found: Vec<Excursion>) -> Vec<Excursion> {
    let near = path.samples(BURST_S).max(8);
    // They begin in order; the furthest end so far says from where on one can be close.
    let reach: Vec<usize> = found
        .iter()
        .scan(0, |furthest: &mut usize, e| {
            *furthest = (*furthest).max(e.range.end);
            Some(*furthest)
        })
        .collect();
    let both_sides = |at: usize| {
        let from = found[at].range.start.saturating_sub(near);
        let to = found[at].range.end + near;
        let first = reach.partition_point(|&end| end <= from);
        let close = || {
            let begun = found[first..].iter().take_while(|e| e.range.start < to);
            begun.filter(|e| e.range.end > from)
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

/// [`roughness`] of the on-path samples just before and just after an excursion, the larger.
fn roughness_around(path: &Path, range: &Range<usize>, near: usize) -> f64 {
    let on = |range: Range<usize>| -> f64 {
        let kept: Vec<f64> = range
            .filter(|&i| !path.off[i])
            .map(|i| path.value[i])
            .collect();
        roughness(&kept)
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
