//! The four linearities of a curve, with intervals.
//!
//! Deviations are of the curve halfway between going up and coming down, at the positions that were measured: noise is
//! averaged out first, and its rest is in the interval. The terminal line goes through the curve's values at the first and
//! last position measured, the zero-based one through the first. The value is the estimate that is too high as often
//! as too low (see `bootstrap`); the largest deviation as read is in `method`.

use crate::measure::statistics::bootstrap::{LINEARITY, MaxDeviation, interval};
use crate::measure::statistics::hull::{Chain, Side};
use crate::measure::statistics::least_squares::{Line, Moments, least_squares};
use crate::measure::statistics::reference_lines::{BoundedLine, minimax, terminal, zero_based};
use crate::measure::travel::candidates::candidates;
use crate::measure::travel::nodes::Series;

/// Which line the deviation is from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineKind {
    /// The minimax line.
    Independent,
    /// The least-squares line.
    BestFit,
    /// The line through both measured ends.
    Terminal,
    /// The line through the measured rest end, slope chosen to make the largest deviation smallest.
    ZeroBased,
}

impl LineKind {
    /// All four.
    pub const ALL: [Self; 4] = [
        Self::Independent,
        Self::BestFit,
        Self::Terminal,
        Self::ZeroBased,
    ];

    /// The line through a curve given by x, growing, and y, with its largest deviation.
    #[must_use]
    pub fn line(self, x: &[f64], y: &[f64]) -> Option<BoundedLine> {
        match self {
            Self::Independent => minimax(x, y),
            Self::Terminal => terminal(x, y),
            Self::ZeroBased => zero_based(x, y, (*x.first()?, *y.first()?)),
            Self::BestFit => least_squares(x, y).map(|fit| BoundedLine {
                line: fit.line,
                max_error: fit.line.largest_deviation(x, y),
            }),
        }
    }
}

/// Largest deviation, in codes, with its interval from draws of the curve's noise. `None` below three positions.
pub(crate) fn largest_deviation(
    kind: LineKind,
    curve: &Series,
    draws: &[Vec<f64>],
) -> Option<MaxDeviation> {
    let x = &curve.travel;
    if x.len() < 3 {
        return None;
    }
    let candidates = candidates(x, &curve.value, &curve.sd, draws, LINEARITY.slack, |y| {
        from_line(kind, x, y)
    })?;
    let size = Size { kind, x };
    Some(interval(&candidates, draws, LINEARITY, |d| size.of(d)))
}

/// Deviations of y from its line.
fn from_line(kind: LineKind, x: &[f64], y: &[f64]) -> Option<Vec<f64>> {
    let line = kind.line(x, y)?.line;
    Some(x.iter().zip(y).map(|(&x, y)| y - line.at(x)).collect())
}

/// The largest deviation alone, quickly, for one x and many y: what [`LineKind::line`] gives as `max_error`.
struct Size<'a> {
    kind: LineKind,
    x: &'a [f64],
}

impl Size<'_> {
    fn of(&self, d: &[f64]) -> f64 {
        let ([x0, .., x1], [d0, .., d1]) = (self.x, d) else {
            return f64::NAN;
        };
        match self.kind {
            LineKind::Independent => self.half_height(d),
            LineKind::ZeroBased => self.height_over_rest(d, *x0, *d0),
            LineKind::BestFit => {
                let points = self.x.iter().copied().zip(d.iter().copied());
                let line = Moments::of(points).line();
                line.map_or(f64::NAN, |line| line.largest_deviation(self.x, d))
            }
            LineKind::Terminal => {
                let slope = (d1 - d0) / (x1 - x0);
                let (x0, y0) = (*x0, *d0);
                Line { x0, y0, slope }.largest_deviation(self.x, d)
            }
        }
    }

    fn half_height(&self, d: &[f64]) -> f64 {
        let points: Vec<(f64, f64)> = self.x.iter().copied().zip(d.iter().copied()).collect();
        let upper = Chain::over(&points, Side::Upper);
        let lower = Chain::over(&points, Side::Lower);
        upper
            .vertices()
            .iter()
            .chain(lower.vertices())
            .map(|&(at, _)| upper.height(at) - lower.height(at))
            .fold(0.0, f64::max)
            / 2.0
    }

    fn height_over_rest(&self, d: &[f64], x0: f64, d0: f64) -> f64 {
        let right = self.x.iter().zip(d).map(|(x, d)| (x - x0, d - d0));
        let points: Vec<(f64, f64)> = right
            .clone()
            .rev()
            .map(|(x, d)| (-x, -d))
            .chain(right)
            .collect();
        Chain::over(&points, Side::Upper).height(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_quick_size_is_that_of_the_line() {
        let x: Vec<f64> = (0..23).map(|i| f64::from(i) * 4.5).collect();
        for wave in [0.05, 0.3, 1.7] {
            let y: Vec<f64> = x.iter().map(|x| (wave * x).sin() + 0.1 * x).collect();
            for kind in LineKind::ALL {
                let slow = kind.line(&x, &y).unwrap().max_error;
                let quick = Size { kind, x: &x }.of(&y);
                assert!((slow - quick).abs() < 1e-12, "{kind:?}: {slow} {quick}");
            }
        }
    }
}
