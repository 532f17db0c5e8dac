//! Whether what lies between two pieces of path is an excursion.

use super::excursion::{Bounds, DEPTH_SIGMA, Excursion};
use crate::measure::statistics::local_polynomial::LocalPolynomial;
use crate::measure::statistics::moments::real;
use crate::units::maths;
use std::ops::Range;

/// Smallest depth in standard deviations of the few samples around an excursion. Less than [`DEPTH_SIGMA`], since ten
/// samples tell a standard deviation to a quarter only.
pub(crate) const LOCAL_SIGMA: f64 = 6.0;
/// Smallest depth in standard uncertainties of signal and interpolated path together: bites on long gaps only.
const PATH_SIGMA: f64 = 5.0;
/// Smallest depth across a long gap, as a share of what a hand may have moved meanwhile.
const MOVED_SHARE: f64 = 0.2;
/// Least share of the depth that one edge covers at once.
const ABRUPT_SHARE: f64 = 0.6;
/// Most samples on each side that tell the path across a long gap.
const WIDEST: usize = 24;

/// A gap with the path fitted through both its sides.
pub(crate) struct Bridge<'a> {
    time: &'a [f64],
    value: &'a [f64],
    left: Range<usize>,
    gap: Range<usize>,
    right: Range<usize>,
    curve: LocalPolynomial,
    bounds: Bounds,
    /// Sample of the gap that is furthest off the path.
    deepest: usize,
}

impl<'a> Bridge<'a> {
    /// Fits the path through what lies before and after a gap. `None` when there is too little.
    pub fn across(
        time: &'a [f64],
        value: &'a [f64],
        gap: Range<usize>,
        bounds: Bounds,
    ) -> Option<Self> {
        let reach = bounds.support.max((gap.len() / 3).min(WIDEST));
        let left = gap.start.saturating_sub(reach)..gap.start;
        let right = gap.end..(gap.end + reach).min(value.len());
        let degree = match left.len() + right.len() {
            ..4 => return None,
            4..6 => bounds.degree.min(1),
            6..8 => bounds.degree.min(2),
            _ => bounds.degree,
        };
        let sides = || left.clone().chain(right.clone());
        let curve = LocalPolynomial::fit(degree, || sides().map(|i| (time[i], value[i])))?;
        let off = |i: usize| (value[i] - curve.at(time[i])).abs();
        let each = gap.clone().map(|i| (off(i), i));
        let (_, deepest) = each.reduce(|a, b| if b.0 >= a.0 { b } else { a })?;
        Some(Self {
            time,
            value,
            left,
            gap,
            right,
            curve,
            bounds,
            deepest,
        })
    }

    /// Whether the gap is an excursion: deep enough, with a path that both sides lie on, an abrupt edge, and no step.
    pub fn is_excursion(&self) -> bool {
        self.is_deep() && self.is_smooth() && self.is_abrupt() && self.is_no_step()
    }

    /// Whether the signal departs to both sides, the lesser by a quarter of the larger at least: a burst of noise.
    pub fn is_burst(&self) -> bool {
        let (low, high) = self.gap.clone().fold((0.0_f64, 0.0_f64), |(low, high), i| {
            let departure = self.departure(i);
            (low.min(departure), high.max(departure))
        });
        let (lesser, larger) = ((-low).min(high), (-low).max(high));
        lesser >= 0.5 * self.bounds.threshold && lesser >= 0.25 * larger
    }

    /// The excursions in the gap; ones at least two samples on the path apart are separate.
    pub fn excursions(&self) -> Vec<Excursion> {
        let off = (0.5 * self.bounds.threshold).max(0.2 * self.depth());
        let mut runs: Vec<Range<usize>> = Vec::new();
        for i in self.gap.clone() {
            if self.departure(i).abs() > off {
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
                    .map(|i| self.departure(i))
                    .max_by(|a, b| a.abs().total_cmp(&b.abs()))?;
                let middle = f64::midpoint(self.time[range.start], self.time[range.end - 1]);
                (depth.abs() >= self.bounds.threshold).then(|| Excursion {
                    range,
                    gap: self.gap.clone(),
                    depth,
                    level: self.curve.at(middle),
                })
            })
            .collect()
    }

    /// The path's codes across the gap.
    pub fn path(&self) -> Vec<f64> {
        let gap = self.gap.clone();
        gap.map(|i| self.curve.at(self.time[i])).collect()
    }

    fn departure(&self, i: usize) -> f64 {
        self.value[i] - self.curve.at(self.time[i])
    }

    fn depth(&self) -> f64 {
        self.departure(self.deepest).abs()
    }

    fn sides(&self) -> impl Iterator<Item = usize> + use<> {
        self.left.clone().chain(self.right.clone())
    }

    fn is_long(&self) -> bool {
        self.gap.len() > self.bounds.short
    }

    /// Seconds between the samples on both sides.
    fn across_s(&self) -> f64 {
        self.time[self.right.start] - self.time[self.left.end - 1]
    }

    /// Deep enough against the threshold, the noise, the path's own uncertainty and what may have moved.
    fn is_deep(&self) -> bool {
        let depth = self.depth();
        let squares: f64 = self.sides().map(|i| self.departure(i).powi(2)).sum();
        let freedom = self.sides().count().saturating_sub(self.curve.size());
        let local = (squares / real(freedom.max(1))).sqrt();
        let bounds = self.bounds;
        let least = bounds.threshold.max(DEPTH_SIGMA * bounds.sigma);
        if depth < least.max(LOCAL_SIGMA * local) {
            return false;
        }
        // A path known only from afar is itself uncertain.
        let ends = (self.time[self.gap.start], self.time[self.gap.end - 1]);
        let unsure = self.curve.spread(f64::midpoint(ends.0, ends.1));
        if depth < PATH_SIGMA * local.max(bounds.sigma) * maths::hypot(unsure, 1.0) {
            return false;
        }
        let speed = |side: &Range<usize>| {
            let (from, to) = (side.start, side.end - 1);
            ((self.value[to] - self.value[from]) / (self.time[to] - self.time[from])).abs()
        };
        let moved = speed(&self.left).max(speed(&self.right)) * self.across_s();
        !(self.is_long() && depth < MOVED_SHARE * moved)
    }

    /// Both sides lie on the path. What rough samples leave is no misfit; a misfit of a fair part of the depth is one
    /// whatever the noise.
    fn is_smooth(&self) -> bool {
        let worst = self
            .sides()
            .map(|i| self.departure(i).abs())
            .fold(0.0, f64::max);
        let side = |range: &Range<usize>| roughness(&self.value[range.clone()]);
        let rough = side(&self.left).max(side(&self.right));
        let allowed = (0.3 * self.bounds.threshold)
            .max(0.1 * self.depth())
            .max(4.5 * rough);
        worst <= allowed.min(0.3 * self.depth())
    }

    /// One edge covers most of the depth within a few samples, on top of the path's own movement.
    fn is_abrupt(&self) -> bool {
        let edge = self.bounds.edge.min(self.gap.len());
        let least = ABRUPT_SHARE * self.depth();
        let jump =
            |from: usize, to: usize| (self.departure(to) - self.departure(from)).abs() >= least;
        let (start, end) = (self.gap.start, self.gap.end);
        (start..start + edge).any(|i| jump(start - 1, i)) || (end - edge..end).any(|i| jump(end, i))
    }

    /// Neither a step to a new level nor a turn of the path.
    ///
    /// The straight lines of both sides must meet in the middle (after a step they stay apart). Then the signal goes
    /// beyond both sides in the direction in which it departs, or the path goes on the same way on both sides, or the
    /// gap is short and far from both lines. A dwell between two strokes does none of these.
    fn is_no_step(&self) -> bool {
        let line = |side: &Range<usize>| {
            LocalPolynomial::fit(1, || side.clone().map(|i| (self.time[i], self.value[i])))
        };
        let (Some(before), Some(after)) = (line(&self.left), line(&self.right)) else {
            return false;
        };
        let (from, to) = (self.left.end - 1, self.right.start);
        let middle = f64::midpoint(self.time[from], self.time[to]);
        let apart = (before.at(middle) - after.at(middle)).abs();
        if apart > (0.4 * self.depth()).max(6.0 * self.bounds.sigma) {
            return false;
        }
        let (t, value) = (self.time[self.deepest], self.value[self.deepest]);
        let slope = |line: &LocalPolynomial| line.at(middle + 1.0) - line.at(middle);
        let chord = self.curve.at(self.time[to]) - self.curve.at(self.time[from]);
        let goes_on = slope(&before) * slope(&after) > 0.0 && chord * slope(&after) > 0.0;
        let far =
            |line: &LocalPolynomial| (value - line.at(t)).abs() >= 0.6 * self.bounds.threshold;
        self.beyond() >= 0.9 * self.bounds.threshold
            || goes_on
            || (!self.is_long() && far(&before) && far(&after))
    }

    /// How far the deepest sample lies beyond both sides in the direction in which it departs, in codes.
    fn beyond(&self) -> f64 {
        let nearest = self.left.clone().rev().take(2);
        let ends = nearest.chain(self.right.clone().take(2));
        let (low, high) = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), i| {
            (low.min(self.value[i]), high.max(self.value[i]))
        });
        if self.departure(self.deepest) < 0.0 {
            low - self.value[self.deepest]
        } else {
            self.value[self.deepest] - high
        }
    }
}

/// Noise in codes of some samples, from second differences (variance 6). 0 when there are fewer than three.
pub(crate) fn roughness(value: &[f64]) -> f64 {
    let squares: f64 = value
        .windows(3)
        .map(|w| (w[0] - 2.0 * w[1] + w[2]).powi(2))
        .sum();
    (squares / 6.0 / real(value.len().saturating_sub(2).max(1))).sqrt()
}
