//! Honest intervals for the largest of many noisy deviations, by seeded simulation.
//!
//! The largest of many noisy values is biased high: of 21 values that are all truly 0 the largest reads about two
//! standard errors. So the size that was seen is not taken at its word. For a *shape* of the true deviations, scaled by
//! a factor, the noise is added in many seeded draws; the factors at which the size that was seen lies at the
//! upper tail, at half and at the lower tail of what is drawn bound and centre the true size (inversion of a test;
//! Efron and Tibshirani 1993, chapter 13, parametric). The bias depends on the shape, which is not known, so:
//!
//! - the middle uses the polynomial that the noise justifies, or the deviations as seen where no polynomial fits;
//! - the low end uses the same shape with every point that may be at the top raised to it (`shape`): a bow has a flat
//!   top and a wave equal peaks, where several points compete to be the largest, which is most bias;
//! - the high end is the higher of two: from the deviations as seen, and from a single deviating point, which no other
//!   competes with: least bias.
//!
//! Where one point stands out both ends miss as often as their tails say; where several compete the high end is hardly
//! ever too low and only the low end misses, less often where points were raised that do not compete. So the tails
//! ([`Tails`]) are unequal, most of it below. What comes of it is measured, not derived:
//! (`crates/measure/tests/figures/lines_coverage.rs` measures it, docs/validity.md has the result.) Where noise alone would read as much as was
//! seen, the low end is 0.

use crate::measure::statistics::moments::{mean, real};

/// Seed of every draw of this room: one capture always gives one result. Stated in the figures' `method`.
pub const SEED: u64 = 1303;

/// Draws of noise. Costs time in proportion; 999 place the 3.5 % end to 0.6 %.
pub(crate) const DRAWS: usize = 999;

/// How careful an interval is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Tails {
    /// Standard uncertainties of its distance to the top by which a point is raised (`shape`).
    pub slack: f64,
    /// Share of draws left below the low end.
    pub below: f64,
    /// Share of draws left above the high end.
    pub above: f64,
}

/// For deviations from a line. The errors of the line's own points are common to all deviations: two uncertainties are
/// too few, because the top reads high just when the others, on the other side of the line, read low (four equal
/// peaks by simulation: low end too high in 10.9 % of units with two, in 5.4 % with three, in 4.2 % when the shape is known).
pub(crate) const LINEARITY: Tails = Tails {
    slack: 3.0,
    below: 0.035,
    above: 0.015,
};

/// For the gap between both ways. A gap that reads high by chance also passes for scatter (`scatter`) or for a bend, and
/// both make the interval wider: of the misses that `below` asks for about half are left (by simulation).
pub(crate) const HYSTERESIS: Tails = Tails {
    slack: 2.0,
    below: 0.055,
    above: 0.01,
};

/// Halvings of the search for a factor.
const HALVINGS: usize = 11;

/// A size with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct MaxDeviation {
    /// Median-unbiased estimate.
    pub value: f64,
    /// Standard deviation of the size over the draws.
    pub u: f64,
    /// Lower end, at least 0.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// The candidates that the truth may have.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Candidates {
    /// The deviations as seen.
    pub seen: Vec<f64>,
    /// The most likely: the smooth curve that the noise justifies, or as seen.
    pub likely: Vec<f64>,
    /// The same with every point that may be at the top raised to it.
    pub raised: Vec<f64>,
    /// A single deviating point, all zeros but one: each that it may be.
    pub singles: Vec<Vec<f64>>,
}

/// Interval of `size(deviations)`, which scales with its argument, from draws of the deviations' noise.
pub(crate) fn interval(
    candidates: &Candidates,
    draws: &[Vec<f64>],
    tails: Tails,
    mut size: impl FnMut(&[f64]) -> f64,
) -> MaxDeviation {
    let seen = size(&candidates.seen);
    if draws.iter().flatten().all(|&e| e == 0.0) {
        return MaxDeviation {
            value: seen,
            u: 0.0,
            low: seen,
            high: seen,
        };
    }
    let mut search = Search {
        seen,
        draws,
        work: vec![0.0; candidates.seen.len()],
        size: &mut size,
    };
    let low = search.factor(&candidates.raised, tails.below);
    let value = search.factor(&candidates.likely, 0.5);
    let high = std::iter::once(&candidates.seen)
        .chain(&candidates.singles)
        .map(|shape| search.factor(shape, 1.0 - tails.above))
        .fold(0.0, f64::max);
    MaxDeviation {
        value,
        u: search.spread(&candidates.likely, value),
        low: low.min(value),
        high: high.max(value),
    }
}

struct Search<'a, F> {
    seen: f64,
    draws: &'a [Vec<f64>],
    work: Vec<f64>,
    size: &'a mut F,
}

impl<F: FnMut(&[f64]) -> f64> Search<'_, F> {
    /// The true size at which a share `tail` of the draws reads as much as was seen, or more; 0 when even without any
    /// true deviation that many do.
    ///
    /// What a draw reads is convex in the factor. So between two factors at which it reads less than was seen it
    /// does so too, and draws that read more at both count as doing so between: only the undecided are drawn again.
    fn factor(&mut self, shape: &[f64], tail: f64) -> f64 {
        let unit = (self.size)(shape);
        let wanted = tail * real(self.draws.len());
        let all: Vec<usize> = (0..self.draws.len()).collect();
        let (mut reached, mut open) = self.split(shape, 0.0, &all);
        if unit <= 0.0 || real(reached.len()) >= wanted {
            return 0.0;
        }
        let mut sure = reached.len();
        let (mut low, mut high) = (0.0, self.seen / unit);
        loop {
            let below;
            (reached, below) = self.split(shape, high, &open);
            if real(sure + reached.len()) >= wanted || high > 1e6 * self.seen / unit {
                open = reached;
                break;
            }
            // Between this factor and the next the undecided are those still below.
            sure += reached.len();
            open = below;
            low = high;
            high *= 1.5;
        }
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(low, high);
            let (above, below) = self.split(shape, middle, &open);
            if real(sure + above.len()) < wanted {
                sure += above.len();
                open = below;
                low = middle;
            } else {
                open = above;
                high = middle;
            }
        }
        f64::midpoint(low, high) * unit
    }

    /// The draws, of those given, that read as much as was seen or more, and those that read less.
    fn split(&mut self, shape: &[f64], factor: f64, draws: &[usize]) -> (Vec<usize>, Vec<usize>) {
        let all = self.draws;
        draws
            .iter()
            .partition(|&&i| self.read(shape, factor, &all[i]) >= self.seen)
    }

    fn read(&mut self, shape: &[f64], factor: f64, draw: &[f64]) -> f64 {
        for ((work, shape), noise) in self.work.iter_mut().zip(shape).zip(draw) {
            *work = factor * *shape + *noise;
        }
        (self.size)(&self.work)
    }

    /// Standard deviation of the size over the draws about a true `size`.
    fn spread(&mut self, shape: &[f64], size: f64) -> f64 {
        let unit = (self.size)(shape);
        let factor = if unit > 0.0 { size / unit } else { 0.0 };
        let draws = self.draws;
        let sizes: Vec<f64> = draws.iter().map(|d| self.read(shape, factor, d)).collect();
        let centre = mean(&sizes);
        let squares: f64 = sizes.iter().map(|s| (s - centre).powi(2)).sum();
        (squares / real(sizes.len().saturating_sub(1).max(1))).sqrt()
    }
}
