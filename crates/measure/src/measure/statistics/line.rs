//! Straight lines: least squares with standard uncertainties, and the minimax lines of linearity.
//!
//! Belongs here: a line through points, how well it is known, how far the points lie from it.
//! Does not belong here: where the points come from (`bins`), percent of span or intervals (`linearity`).
//!
//! Sources: least squares and its uncertainties, JCGM 100 annex H.3; the fit through a fixed point, NIST `StRD`
//! `NoInt`; the minimax line, convex duality: the narrowest vertical strip over points is as high as the tallest
//! vertical chord of their convex hull, and the zero-based error is the height, above the fixed point, of the
//! hull of the points joined by their reflection through that point.

use crate::measure::statistics::hull::{Chain, Side};
use crate::measure::statistics::stats::{mean, real};

/// A straight line, kept by a point near the data so that a large offset costs no digits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Where the line is anchored, in the unit of x.
    pub x0: f64,
    /// Its value there, in the unit of y.
    pub y0: f64,
    /// Rise of y for one unit of x.
    pub slope: f64,
}

impl Line {
    /// Value of the line at `x`.
    #[must_use]
    pub fn at(&self, x: f64) -> f64 {
        self.slope.mul_add(x - self.x0, self.y0)
    }

    /// Value of the line at `x = 0`.
    #[must_use]
    pub fn intercept(&self) -> f64 {
        self.at(0.0)
    }

    /// Largest absolute distance in y of any point from the line; 0 for no points.
    #[must_use]
    pub fn largest_deviation(&self, x: &[f64], y: &[f64]) -> f64 {
        x.iter()
            .zip(y)
            .map(|(&x, &y)| (y - self.at(x)).abs())
            .fold(0.0, f64::max)
    }
}

/// A least-squares line and what is known of it.
///
/// With no degree of freedom left (as many points as unknowns) the line is given and its uncertainties are `None`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineFit {
    /// The line, anchored at the mean of x, or at the fixed point.
    pub line: Line,
    /// Points used.
    pub n: usize,
    /// Degrees of freedom of the residuals: n - 2, or n - 1 through a fixed point.
    pub dof: usize,
    /// Standard deviation of the residuals, in the unit of y.
    pub residual_sd: Option<f64>,
    /// Share of the variance explained, 0 to 1; about the mean, or about the fixed point when there is one.
    /// `None` when y does not vary.
    pub r_squared: Option<f64>,
    /// Sum of squares of x about the anchor.
    sxx: f64,
    /// Share of the residual variance in that of the value at the anchor: 1/n, or 0 when it is fixed.
    anchor_share: f64,
}

impl LineFit {
    /// Standard uncertainty of the slope.
    #[must_use]
    pub fn u_slope(&self) -> Option<f64> {
        self.residual_sd.map(|sd| sd / self.sxx.sqrt())
    }

    /// Standard uncertainty of the line itself at `x`: not of a new reading there.
    #[must_use]
    pub fn u_at(&self, x: f64) -> Option<f64> {
        let dx = x - self.line.x0;
        self.residual_sd
            .map(|sd| sd * (self.anchor_share + dx * dx / self.sxx).sqrt())
    }

    /// Standard uncertainty of the intercept.
    #[must_use]
    pub fn u_intercept(&self) -> Option<f64> {
        self.u_at(0.0)
    }

    /// Covariance of intercept and slope.
    #[must_use]
    pub fn covariance(&self) -> Option<f64> {
        self.residual_sd
            .map(|sd| -sd * sd * self.line.x0 / self.sxx)
    }

    /// Correlation of intercept and slope, -1 to 1. `None` when either is known exactly.
    #[must_use]
    pub fn correlation(&self) -> Option<f64> {
        let r = self.covariance()? / (self.u_intercept()? * self.u_slope()?);
        r.is_finite().then_some(r)
    }

    /// Value of the line at `x` with its standard uncertainty (GUM H.3.4).
    #[must_use]
    pub fn predict(&self, x: f64) -> (f64, Option<f64>) {
        (self.line.at(x), self.u_at(x))
    }
}

/// A line with the largest deviation that the points keep from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoundedLine {
    /// The line.
    pub line: Line,
    /// Largest absolute deviation in y.
    pub max_error: f64,
}

/// Least-squares line. `None` for fewer than two different x, unequal lengths or a value that is not finite.
#[must_use]
pub fn least_squares(x: &[f64], y: &[f64]) -> Option<LineFit> {
    usable(x, y)?;
    let anchor = (mean(x), mean(y));
    fit_about(x, y, anchor, 2, 1.0 / real(x.len()))
}

/// Least-squares line held to pass through `point`. `None` when no x differs from the point's, for unequal lengths or
/// a value that is not finite.
#[must_use]
pub fn least_squares_through(x: &[f64], y: &[f64], point: (f64, f64)) -> Option<LineFit> {
    if !(point.0.is_finite() && point.1.is_finite()) {
        return None;
    }
    fit_about(x, y, point, 1, 0.0)
}

fn fit_about(
    x: &[f64],
    y: &[f64],
    anchor: (f64, f64),
    unknowns: usize,
    anchor_share: f64,
) -> Option<LineFit> {
    usable(x, y)?;
    let (x0, y0) = anchor;
    let (mut sxx, mut sxy, mut syy) = (0.0, 0.0, 0.0);
    for (&x, &y) in x.iter().zip(y) {
        let (dx, dy) = (x - x0, y - y0);
        sxx += dx * dx;
        sxy += dx * dy;
        syy += dy * dy;
    }
    if sxx <= 0.0 {
        return None;
    }
    let line = Line {
        x0,
        y0,
        slope: sxy / sxx,
    };
    let rss: f64 = x
        .iter()
        .zip(y)
        .map(|(&x, &y)| (y - line.at(x)).powi(2))
        .sum();
    let n = x.len();
    let dof = n.saturating_sub(unknowns);
    Some(LineFit {
        line,
        n,
        dof,
        residual_sd: (dof > 0).then(|| (rss / real(dof)).sqrt()),
        r_squared: (syy > 0.0).then(|| 1.0 - rss / syy),
        sxx,
        anchor_share,
    })
}

/// The line whose largest deviation is the smallest possible (minimax, Chebyshev), exactly, in O(n log n).
///
/// The error is unique. Where several lines reach it, the one in the middle of their slopes is given. `None` for fewer
/// than two different x, unequal lengths or a value that is not finite.
#[must_use]
pub fn minimax(x: &[f64], y: &[f64]) -> Option<BoundedLine> {
    usable(x, y)?;
    let base = least_squares(x, y)?.line;
    let points = flattened(x, y, &base);
    let upper = Chain::over(&points, Side::Upper);
    let lower = Chain::over(&points, Side::Lower);
    let (at, top, bottom) = upper
        .vertices()
        .iter()
        .chain(lower.vertices())
        .map(|&(at, _)| (at, upper.height(at), lower.height(at)))
        .max_by(|a, b| (a.1 - a.2).total_cmp(&(b.1 - b.2)))?;
    let (up_left, up_right) = upper.slopes(at);
    let (low_left, low_right) = lower.slopes(at);
    let tilt = between(up_right.max(low_left), up_left.min(low_right));
    Some(BoundedLine {
        line: Line {
            x0: base.x0 + at,
            y0: base.at(base.x0 + at) + f64::midpoint(top, bottom),
            slope: base.slope + tilt,
        },
        max_error: (top - bottom) / 2.0,
    })
}

/// The line through `point` whose slope makes the largest deviation smallest, exactly, in O(n log n).
///
/// `None` when no x differs from the point's, for unequal lengths or a value that is not finite.
#[must_use]
pub fn zero_based(x: &[f64], y: &[f64], point: (f64, f64)) -> Option<BoundedLine> {
    let base = least_squares_through(x, y, point)?.line;
    let mut points = flattened(x, y, &base);
    let reflected: Vec<_> = points.iter().map(|&(x, y)| (-x, -y)).collect();
    points.extend(reflected);
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    let upper = Chain::over(&points, Side::Upper);
    let (left, right) = upper.slopes(0.0);
    Some(BoundedLine {
        line: Line {
            slope: base.slope + between(right, left),
            ..base
        },
        max_error: upper.height(0.0),
    })
}

/// The line through the mean of y at the smallest x and at the largest.
///
/// `None` for fewer than two different x, unequal lengths or a value that is not finite.
#[must_use]
pub fn terminal(x: &[f64], y: &[f64]) -> Option<BoundedLine> {
    usable(x, y)?;
    let first = x.iter().copied().reduce(f64::min)?;
    let last = x.iter().copied().reduce(f64::max)?;
    if last <= first {
        return None;
    }
    let value_at = |end: f64| {
        let there: Vec<f64> = x
            .iter()
            .zip(y)
            .filter(|&(x, _)| x.total_cmp(&end).is_eq())
            .map(|(_, &y)| y)
            .collect();
        mean(&there)
    };
    let (low, high) = (value_at(first), value_at(last));
    let line = Line {
        x0: first,
        y0: low,
        slope: (high - low) / (last - first),
    };
    Some(BoundedLine {
        line,
        max_error: line.largest_deviation(x, y),
    })
}

/// Some(()) when the points can carry a line: equal lengths, at least one, all finite.
fn usable(x: &[f64], y: &[f64]) -> Option<()> {
    let fine = !x.is_empty() && x.len() == y.len() && x.iter().chain(y).all(|v| v.is_finite());
    fine.then_some(())
}

/// The points seen from `base`: x from its anchor, y from the line; sorted by x.
fn flattened(x: &[f64], y: &[f64], base: &Line) -> Vec<(f64, f64)> {
    let mut points: Vec<_> = x
        .iter()
        .zip(y)
        .map(|(&x, &y)| (x - base.x0, y - base.at(x)))
        .collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    points
}

/// The middle of two slopes, of which at most one may be infinite.
fn between(low: f64, high: f64) -> f64 {
    match (low.is_finite(), high.is_finite()) {
        (true, true) => f64::midpoint(low, high),
        (true, false) => low,
        (false, true) => high,
        (false, false) => 0.0,
    }
}
