//! The noise of one stroke over the travel, held against the stroke's own.

use crate::measure::statistics::moments::real;
use crate::measure::strokes::segment::Direction;
use crate::measure::strokes::stroke_noise::Residuals;
use crate::measure::strokes::travel_map::BINS;
use std::ops::Range;

/// Least ratio of variances for a place to stand out: twice the noise.
pub(super) const STANDS_OUT: f64 = 4.0;
/// Normal quantile of the 1 % chance that a quiet place stands out by itself.
const CHANCE_Z: f64 = 2.326_347_874_040_841;

/// Sums of squared residuals over the bins of one stroke.
#[derive(Debug, Clone)]
pub(crate) struct StrokeEnergy {
    pub direction: Direction,
    /// Sum of squares in codes squared, per bin.
    pub squares: Vec<f64>,
    /// Samples, per bin.
    pub count: Vec<usize>,
    /// Independent residuals per sample.
    pub independent: f64,
    /// The stroke's own noise variance, code squared.
    pub base: f64,
}

impl StrokeEnergy {
    /// Of one stroke's residuals; its own noise is not known yet.
    pub fn of(direction: Direction, residuals: &Residuals) -> Self {
        let mut energy = Self {
            direction,
            squares: vec![0.0; BINS],
            count: vec![0; BINS],
            independent: residuals.independent,
            base: f64::NAN,
        };
        for (travel_pct, residual) in residuals.points() {
            if let Some(bin) = bin_of(travel_pct) {
                energy.squares[bin] += residual * residual;
                energy.count[bin] += 1;
            }
        }
        energy
    }

    /// Samples over some bins.
    pub fn samples(&self, bins: Range<usize>) -> usize {
        self.count[bins].iter().sum()
    }

    /// Variance ratio to the stroke's own noise over some bins, with the independent residuals behind it.
    pub fn ratio(&self, bins: Range<usize>) -> Option<(f64, f64)> {
        let count = self.samples(bins.clone());
        let squares: f64 = self.squares[bins].iter().sum();
        let independent = (real(count) * self.independent).max(1.0);
        (count > 0).then(|| (squares / real(count) / self.base, independent))
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

/// The bin of a travel in percent, if it is on the travel.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // checked to be in 0 .. 100
fn bin_of(travel_pct: f64) -> Option<usize> {
    (0.0..100.0)
        .contains(&travel_pct)
        .then_some(travel_pct as usize)
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
            (bin_of(-0.1), bin_of(100.0), bin_of(f64::NAN)),
            (None, None, None)
        );
        assert_eq!((bin_of(0.0), bin_of(99.99)), (Some(0), Some(99)));
    }
}
