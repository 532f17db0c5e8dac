//! Dropouts: the signal leaves its path and comes back.
//!
//! An excursion is judged against the path *on both sides* of it: a cubic (a line where nothing moves) through the
//! samples just before and just after must fit both, and what lies between must go beyond both sides and beyond the
//! threshold. So a fast stroke, whose own slope may be larger than the threshold in every sample, shows none; a level
//! that does not return is movement; and a burst of noise raises its own bar, because the fit's residuals do.
//! A Hampel identifier does worse on both counts (`tests/reference/28`).
//!
//! Belongs here: finding excursions on one path. Does not belong here: which passages, or what they mean.

pub(super) mod behind;
mod bridge;
mod excursion;
mod search;
pub(super) mod shifts;

use crate::measure::statistics::robust::{MAD_FACTOR, median};
use crate::measure::strokes::path::{Bridged, Path};
use crate::units::Code;
use bridge::{LOCAL_SIGMA, roughness};
use excursion::Bounds;
pub(crate) use excursion::{DEPTH_PCT, DEPTH_SIGMA, Excursion};
use search::{next_kink, scan};
use std::ops::Range;

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
    /// Most seconds that an excursion may last.
    pub fn longest_s(self) -> f64 {
        match self {
            Self::Moving => 0.4,
            Self::Still => 2.0,
        }
    }
}

/// Finds every excursion of a path as it was recorded, and bridges it there; what lies deep within samples that are `known`
/// may be left out.
///
/// `threshold` (> 0) is the smallest depth in codes, `sigma` the noise in codes. Linear in the samples.
pub(crate) fn find(
    path: &mut Path<'_>,
    threshold: f64,
    sigma: f64,
    motion: Motion,
    known: impl Fn(&Range<usize>) -> bool,
) -> Vec<Excursion> {
    let bounds = Bounds {
        threshold,
        sigma,
        edge: path.samples(0.002).clamp(1, 6),
        support: path.samples(0.005).clamp(4, 8),
        longest: path.samples(motion.longest_s()).max(2),
        short: path.samples(0.008).clamp(4, 8),
        near: path.samples(BURST_S).max(8),
        degree: match motion {
            Motion::Moving => 3,
            Motion::Still => 1,
        },
        dense: path.period < 0.002_5,
    };
    let mut found = Vec::new();
    for part in around_edges(path.codes(), bounds, known) {
        let (first, len) = (part.start, part.len());
        let mut part = Part {
            time: part.clone().map(|at| path.time(at)).collect(),
            value: path.codes()[part].iter().map(|c| c.as_f64()).collect(),
            off: vec![false; len],
        };
        let excursions = part.excursions(bounds);
        for run in part.off_runs() {
            path.bridge(Bridged {
                range: first + run.start..first + run.end,
                value: part.value[run].to_vec(),
            });
        }
        found.extend(excursions.into_iter().map(|e| Excursion {
            range: first + e.range.start..first + e.range.end,
            gap: first + e.gap.start..first + e.gap.end,
            ..e
        }));
    }
    found
}

/// The parts of a recording with abrupt edges in them, each with all that may tell of these edges; in order, apart. Not those
/// that are `known`.
fn around_edges(
    codes: &[Code],
    bounds: Bounds,
    known: impl Fn(&Range<usize>) -> bool,
) -> Vec<Range<usize>> {
    let edge = bounds.edge;
    let (Some(middle), Some(last)) = (codes.get(edge..), codes.get(2 * edge..)) else {
        return Vec::new();
    };
    // An excursion may end so far from its edge, and be judged by what lies so far beyond.
    let reach = 3 * bounds.longest + bounds.near + 64;
    let mut parts: Vec<Range<usize>> = Vec::new();
    let kinks = codes.iter().zip(middle).zip(last);
    for (at, ((a, b), c)) in (2 * edge..).zip(kinks) {
        let kink = i64::from(a.0) - 2 * i64::from(b.0) + i64::from(c.0);
        if kink.unsigned_abs() > bounds.kink() {
            let part = at.saturating_sub(reach)..(at + reach).min(codes.len());
            match parts.last_mut() {
                _ if known(&part) => {}
                Some(before) if before.end >= part.start => before.end = part.end,
                _ => parts.push(part),
            }
        }
    }
    parts
}

/// Noise in codes of some samples and those around them as they came, by the median of their second differences: of a worn zone or
/// a burst, in which an excursion is no lost contact, while one that is hardly moves it.
fn loudness_around(raw: &[f64], range: &Range<usize>, near: usize) -> f64 {
    let from = range.start.saturating_sub(near.max(range.len()));
    let to = (range.end + near.max(range.len())).min(raw.len());
    let mut kinks: Vec<f64> = raw[from..to]
        .windows(3)
        .map(|w| (w[0] - 2.0 * w[1] + w[2]).abs())
        .collect();
    median(&mut kinks).map_or(0.0, |kink| MAD_FACTOR * kink / 6.0_f64.sqrt())
}

/// Samples in a row that are worked on.
struct Part {
    time: Vec<f64>,
    value: Vec<f64>,
    off: Vec<bool>,
}

impl Part {
    /// Finds every excursion, replaces it in `value` by the path and marks it in `off`.
    fn excursions(&mut self, bounds: Bounds) -> Vec<Excursion> {
        let raw = self.value.clone();
        let mut found = scan(&self.time, &mut self.value, &mut self.off, bounds);
        // What left slowly and came back at once is seen from the other side.
        if self.has_edges(bounds) {
            let turned = self.time.iter().rev().map(|t| -t).collect::<Vec<_>>();
            self.value.reverse();
            self.off.reverse();
            let backwards = scan(&turned, &mut self.value, &mut self.off, bounds);
            self.value.reverse();
            self.off.reverse();
            let n = self.value.len();
            found.extend(backwards.into_iter().map(|e| Excursion {
                range: n - e.range.end..n - e.range.start,
                gap: n - e.gap.end..n - e.gap.start,
                ..e
            }));
            found.sort_by_key(|e| e.range.start);
        }
        self.without_bursts(&raw, found, bounds.near)
    }

    /// Whether abrupt edges are left that are not part of an excursion.
    fn has_edges(&self, bounds: Bounds) -> bool {
        next_kink(&self.value, 2 * bounds.edge, bounds).is_some()
    }

    /// Takes back what is part of a burst of noise: excursions to both sides close together, and ones that the roughness
    /// of the samples around them explains.
    fn without_bursts(
        &mut self,
        raw: &[f64],
        found: Vec<Excursion>,
        near: usize,
    ) -> Vec<Excursion> {
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
                let local = self.roughness_around(&found[at].range, near);
                let loud = loudness_around(raw, &found[at].range, 4 * near);
                let least = (LOCAL_SIGMA * local).max(DEPTH_SIGMA * loud);
                found[at].depth.abs() >= least && !both_sides(at)
            })
            .collect();
        let mut kept = Vec::new();
        for (excursion, keep) in found.into_iter().zip(keep) {
            if keep {
                kept.push(excursion);
            } else {
                for i in excursion.gap.clone() {
                    self.value[i] = raw[i];
                    self.off[i] = false;
                }
            }
        }
        kept
    }

    /// [`roughness`] of the on-path samples just before and just after an excursion, the larger.
    fn roughness_around(&self, range: &Range<usize>, near: usize) -> f64 {
        let on = |range: Range<usize>| -> f64 {
            let kept: Vec<f64> = range
                .filter(|&i| !self.off[i])
                .map(|i| self.value[i])
                .collect();
            roughness(&kept)
        };
        let before = on(range.start.saturating_sub(near)..range.start);
        let after = on(range.end..(range.end + near).min(self.value.len()));
        before.max(after)
    }

    /// The samples that were taken off the path, in runs.
    fn off_runs(&self) -> Vec<Range<usize>> {
        let mut from = 0;
        let runs = self.off.chunk_by(|a, b| a == b).map(|run| {
            from += run.len();
            (run[0], from - run.len()..from)
        });
        runs.filter(|(off, _)| *off).map(|(_, run)| run).collect()
    }
}
