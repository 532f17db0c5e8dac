//! Least squares with up to three unknowns and equal weights, with the variance of the fitted value.

use crate::measure::statistics::linear_system::{Equations, solve};
use crate::measure::statistics::moments::real;

/// A fit of values to rows of `P` known factors each.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Fit<const P: usize> {
    factors: [f64; P],
    normal: Equations,
    /// Sum of the squares of what is left.
    pub rest: f64,
    /// Degrees of freedom of that.
    pub dof: f64,
}

impl<const P: usize> Fit<P> {
    /// `None` when the factors cannot be told apart, or with fewer values than unknowns.
    pub fn of(rows: &[[f64; P]], values: &[f64]) -> Option<Self> {
        let dof = rows.len().checked_sub(P)?;
        let mut normal: Equations = [[0.0; 5]; 4];
        for (row, value) in rows.iter().zip(values) {
            for (i, a) in row.iter().enumerate() {
                for (j, b) in row.iter().enumerate() {
                    normal[i][j] += a * b;
                }
                normal[i][4] += a * value;
            }
        }
        let found = solve(&normal, P)?;
        let mut factors = [0.0; P];
        factors.copy_from_slice(&found[..P]);
        let mut fit = Self {
            factors,
            normal,
            rest: 0.0,
            dof: real(dof),
        };
        fit.rest = rows
            .iter()
            .zip(values)
            .map(|(row, value)| (value - fit.at(row)).powi(2))
            .sum();
        fit.rest.is_finite().then_some(fit)
    }

    /// The fitted value.
    pub fn at(&self, row: &[f64; P]) -> f64 {
        self.factors.iter().zip(row).map(|(a, b)| a * b).sum()
    }

    /// A factor.
    pub fn factor(&self, at: usize) -> f64 {
        self.factors[at]
    }

    /// Variance of a linear combination of the factors, in variances of one value.
    pub fn share(&self, row: &[f64; P]) -> f64 {
        let mut equations = self.normal;
        for (i, x) in row.iter().enumerate() {
            equations[i][4] = *x;
        }
        let solved = solve(&equations, P).unwrap_or([f64::INFINITY; 4]);
        row.iter().zip(solved).map(|(a, b)| a * b).sum()
    }

    /// Variance of one value: what is left over says, and at least that of what is known of it.
    pub fn variance(&self, least: f64) -> f64 {
        if self.dof > 0.0 {
            (self.rest / self.dof).max(least)
        } else {
            least
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 0, 1, 4, 9 at 0 .. 3 is a parabola; through 0, 1, 5 at 0, 1, 2 the line is -0.5 + 2.5 x and leaves 1.5. The variance of the
    /// slope is 1/2, that of the level in the middle 1/3.
    #[test]
    fn a_parabola_and_a_line_by_hand() {
        let rows = [0.0, 1.0, 2.0, 3.0].map(|x: f64| [1.0, x, x * x]);
        let fit = Fit::of(&rows, &[0.0, 1.0, 4.0, 9.0]).unwrap();
        assert!((fit.factor(2) - 1.0).abs() < 1e-9 && fit.rest < 1e-18);
        let fit = Fit::of(&[[1.0, 0.0], [1.0, 1.0], [1.0, 2.0]], &[0.0, 1.0, 5.0]).unwrap();
        assert!((fit.factor(0) + 0.5).abs() < 1e-12 && (fit.factor(1) - 2.5).abs() < 1e-12);
        assert!((fit.rest - 1.5).abs() < 1e-12 && (fit.variance(0.1) - 1.5).abs() < 1e-12);
        assert!((fit.share(&[0.0, 1.0]) - 0.5).abs() < 1e-12);
        assert!((fit.share(&[1.0, 1.0]) - 1.0 / 3.0).abs() < 1e-12);
        assert!(Fit::of(&[[1.0, 1.0], [1.0, 1.0]], &[0.0, 1.0]).is_none());
    }
}
