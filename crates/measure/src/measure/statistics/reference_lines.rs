//! The reference lines of linearity: minimax (independent), zero-based, terminal.
//!
//! Source: convex duality. The narrowest vertical strip over points is as high as the tallest vertical chord of their
//! convex hull; the zero-based error is the height, above the fixed point, of the hull of the points joined by their
//! reflection through that point.

use crate::measure::statistics::hull::{Chain, Side};
use crate::measure::statistics::least_squares::{
    Line, least_squares, least_squares_through, points,
};
use crate::measure::statistics::moments::mean;

/// A line with the largest deviation that the points keep from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoundedLine {
    /// The line.
    pub line: Line,
    /// Largest absolute deviation in y.
    pub max_error: f64,
}

/// The line whose largest deviation is the smallest possible (minimax, Chebyshev), exactly, in O(n log n).
///
/// The error is unique. Where several lines reach it, the one in the middle of their slopes is given. `None` for fewer
/// than two different x, unequal lengths or a value that is not finite.
#[must_use]
pub fn minimax(x: &[f64], y: &[f64]) -> Option<BoundedLine> {
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
pub fn terminal(x: &[f64], y: &[f64]) -> Option<BoundedLine> {
    let points = points(x, y)?;
    let first = x.iter().copied().reduce(f64::min)?;
    let last = x.iter().copied().reduce(f64::max)?;
    if last <= first {
        return None;
    }
    let value_at = |end: f64| {
        let there = points.clone().filter(|(x, _)| x.total_cmp(&end).is_eq());
        let there: Vec<f64> = there.map(|(_, y)| y).collect();
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
