//! The noise of one stroke over the travel, held against the stroke's own and against the same signal at rest.

use crate::measure::statistics::moments::real;
use crate::measure::strokes::segment::{Direction, Stroke};
use crate::measure::strokes::stroke_noise::Residuals;
use crate::measure::strokes::travel_map::BINS;
use std::ops::Range;

/// Least ratio of variances for a place to stand out: twice the noise.
pub(crate) const STANDS_OUT: f64 = 4.0;
/// Normal quantile of the 1 % chance that a quiet place stands out by itself.
const CHANCE_Z: f64 = 2.326_347_874_040_841;
/// Least ratio of a stroke's own noise variance to that at rest for most of the stroke to be loud.
const RAISED: f64 = 2.0;
/// Travel beyond the ends, in %, that still counts as the outermost percent: a stop is not the same at every press.
const BEYOND_PCT: f64 = 2.0;

/// Sums of squared residuals over the bins of one stroke.
#[derive(Debug, Clone)]
pub(crate) struct StrokeEnergy {
    pub direction: Direction,
    /// Sum of squares in codes squared, per bin.
    pub squares: Vec<f64>,
    /// Samples, per bin.
    pub count: Vec<usize>,
    /// Of the dwell at the rest end and at the full end: sum of squares and samples.
    pub dwell: [(f64, usize); 2],
    /// Independent residuals per sample.
    pub independent: f64,
    /// The stroke's own noise variance, code squared.
    pub own: f64,
    /// Sum of squares over what quiet contact would have, per bin.
    pub relative: Vec<f64>,
    /// Whether it is louder than the same signal at rest in most of its time.
    pub raised: bool,
}

impl StrokeEnergy {
    /// Of one stroke's residuals; what they are to be held against is not known yet. What lies before and after the stroke
    /// proper counts as movement where it is more than `near_pct` from where the stroke turned, as dwell elsewhere.
    pub fn of(stroke: &Stroke, residuals: &Residuals, near_pct: f64) -> Self {
        let mut energy = Self {
            direction: stroke.direction,
            squares: vec![0.0; BINS],
            count: vec![0; BINS],
            dwell: [(0.0, 0); 2],
            independent: residuals.independent,
            own: f64::NAN,
            relative: Vec::new(),
            raised: false,
        };
        let core = residuals.core.clone();
        // Next to the stroke the control still creeps, or already does: the half away from it is the dwell.
        let after = core.end..residuals.code.len();
        let (still, creeps) = (0..core.start / 2, core.start / 2..core.start);
        energy.outside(residuals, [still, creeps], stroke.from_pct, near_pct);
        let middle = after.start + after.len().div_ceil(2);
        let (creeps, still) = (after.start..middle, middle..after.end);
        energy.outside(residuals, [still, creeps], stroke.to_pct, near_pct);
        for (travel_pct, residual) in residuals.points(core) {
            energy.add(travel_pct, residual);
        }
        energy
    }

    /// What lies before or after the stroke proper, away from it and next to it.
    fn outside(
        &mut self,
        residuals: &Residuals,
        [still, creeps]: [Range<usize>; 2],
        turned_pct: f64,
        near_pct: f64,
    ) {
        let moves = |travel_pct: f64| (travel_pct - turned_pct).abs() > near_pct;
        for (travel_pct, residual) in residuals.points(still.clone()) {
            if !moves(travel_pct) {
                let end = &mut self.dwell[usize::from(turned_pct > 50.0)];
                *end = (end.0 + residual * residual, end.1 + 1);
            }
        }
        for range in [still, creeps] {
            for (travel_pct, residual) in residuals.points(range) {
                if moves(travel_pct) {
                    self.add(travel_pct, residual);
                }
            }
        }
    }

    fn add(&mut self, travel_pct: f64, residual: f64) {
        if let Some(bin) = bin_of(travel_pct) {
            self.squares[bin] += residual * residual;
            self.count[bin] += 1;
        }
    }

    /// Holds it against its own noise and, where that is known, against what the same signal has at rest: variances, the
    /// second per bin. The quieter of both counts, for a track that is worn everywhere has no quiet part of its own.
    pub fn hold_against(&mut self, own: f64, still: Option<&dyn Fn(usize, usize) -> f64>) {
        self.own = own;
        let crossed = (0..BINS).filter(|&bin| self.count[bin] > 0);
        let quiet = still.map(|still| {
            let (sum, n) = crossed.fold((0.0, 0.0), |(sum, n), bin| {
                (sum + still(bin, self.count[bin]), n + 1.0)
            });
            sum / n
        });
        self.raised = quiet.is_some_and(|quiet| own > RAISED * quiet);
        let squares = self.squares.iter().zip(&self.count).enumerate();
        self.relative = squares
            .map(|(bin, (squares, &count))| {
                let still = still.filter(|_| count > 0);
                squares / still.map_or(own, |still| still(bin, count).min(own))
            })
            .collect();
    }

    /// Noise of quiet contact in codes, over the travel that it crossed: what its bins are held against.
    pub fn quiet(&self) -> Option<f64> {
        let crossed = (0..BINS).filter(|&bin| self.relative[bin] > 0.0);
        let (squares, relative) = crossed.fold((0.0, 0.0), |(squares, relative), bin| {
            (squares + self.squares[bin], relative + self.relative[bin])
        });
        (relative > 0.0).then(|| (squares / relative).sqrt())
    }

    /// Samples over some bins.
    pub fn samples(&self, bins: Range<usize>) -> usize {
        self.count[bins].iter().sum()
    }

    /// Variance ratio to quiet contact over some bins, with the independent residuals behind it.
    pub fn ratio(&self, bins: Range<usize>) -> Option<(f64, f64)> {
        let count = self.samples(bins.clone());
        let squares: f64 = self.relative[bins].iter().sum();
        let independent = (real(count) * self.independent).max(1.0);
        (count > 0).then(|| (squares / real(count), independent))
    }

    /// Whether some bins stand out in this stroke; `None` when it did not cross them.
    pub fn stands_out(&self, bins: Range<usize>) -> Option<bool> {
        let (ratio, n) = self.ratio(bins)?;
        Some(ratio > STANDS_OUT && ratio > chance_ratio(n))
    }
}

/// The variance ratio that chance exceeds once in a hundred: chi-square over its degrees of freedom.
///
/// Wilson and Hilferty 1931; within 1 % from one degree of freedom on.
pub(super) fn chance_ratio(n: f64) -> f64 {
    let part = 2.0 / (9.0 * n);
    (1.0 - part + CHANCE_Z * part.sqrt()).powi(3)
}

pub(super) fn around(bin: usize, neighbours: usize) -> Range<usize> {
    bin.saturating_sub(neighbours)..(bin + neighbours + 1).min(BINS)
}

/// The bin of a travel in percent, if it is on the travel or little beyond its ends.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // not negative, small
fn bin_of(travel_pct: f64) -> Option<usize> {
    (-BEYOND_PCT..100.0 + BEYOND_PCT)
        .contains(&travel_pct)
        .then_some((travel_pct.max(0.0) as usize).min(BINS - 1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::distribution::{ChiSquared, ContinuousCDF};

    #[test]
    fn chance_ratio_is_a_chi_square_quantile() {
        // Against statrs: 99 % quantile of chi-square over its degrees of freedom; Wilson-Hilferty is good to 1 %.
        for n in [1.0, 2.0, 5.0, 20.0, 200.0] {
            let exact = ChiSquared::new(n).unwrap().inverse_cdf(0.99) / n;
            assert!((chance_ratio(n) / exact - 1.0).abs() < 0.01, "{n}");
        }
    }

    #[test]
    fn bins_are_on_the_travel() {
        assert_eq!(
            (bin_of(-2.1), bin_of(102.0), bin_of(f64::NAN)),
            (None, None, None)
        );
        assert_eq!((bin_of(0.0), bin_of(99.99)), (Some(0), Some(99)));
        assert_eq!((bin_of(-0.1), bin_of(100.0)), (Some(0), Some(99)));
    }
}
