//! Straight lines by least squares, weighted or not, and how well they are known.
//!
//! Sources: JCGM 100 annex H.3 (a line and its uncertainties); Deming's line where both variables are uncertain, the
//! closed form of York 1966 for equal weights; updating of sums after Chan and others 1979.

use crate::measure::statistics::moments::{mean, real};

/// Weighted sums of squares and products of points (x, y) about their weighted means.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Moments {
    /// Total weight: the number of points where each weighs 1.
    pub n: f64,
    pub mean_x: f64,
    pub mean_y: f64,
    pub xx: f64,
    pub yy: f64,
    pub xy: f64,
}

impl Moments {
    /// Of points that all weigh 1, in two passes.
    pub fn of(points: impl Iterator<Item = (f64, f64)> + Clone) -> Self {
        Self::weighted(points.map(|(x, y)| (x, y, 1.0)))
    }

    /// Of points (x, y, weight), in two passes.
    pub fn weighted(points: impl Iterator<Item = (f64, f64, f64)> + Clone) -> Self {
        let (mut n, mut sum_x, mut sum_y) = (0.0, 0.0, 0.0);
        for (x, y, w) in points.clone() {
            n += w;
            sum_x += w * x;
            sum_y += w * y;
        }
        if n == 0.0 {
            return Self::default();
        }
        Self::about(sum_x / n, sum_y / n, points)
    }

    /// Of points (x, y, weight) about a point other than their mean.
    fn about(mean_x: f64, mean_y: f64, points: impl Iterator<Item = (f64, f64, f64)>) -> Self {
        let mut sums = Self {
            mean_x,
            mean_y,
            ..Self::default()
        };
        for (x, y, w) in points {
            let (dx, dy) = (x - mean_x, y - mean_y);
            sums.n += w;
            sums.xx += w * dx * dx;
            sums.yy += w * dy * dy;
            sums.xy += w * dx * dy;
        }
        sums
    }

    /// Of both sets of points together.
    pub fn with(self, other: Self) -> Self {
        let n = self.n + other.n;
        if n == 0.0 {
            return self;
        }
        let (dx, dy) = (other.mean_x - self.mean_x, other.mean_y - self.mean_y);
        let cross = self.n * other.n / n;
        Self {
            n,
            mean_x: self.mean_x + dx * other.n / n,
            mean_y: self.mean_y + dy * other.n / n,
            xx: self.xx + other.xx + dx * dx * cross,
            yy: self.yy + other.yy + dy * dy * cross,
            xy: self.xy + other.xy + dx * dy * cross,
        }
    }

    /// The least-squares line of y on x; `None` without spread in x.
    pub fn line(self) -> Option<Line> {
        (self.xx > 0.0).then(|| Line {
            x0: self.mean_x,
            y0: self.mean_y,
            slope: self.xy / self.xx,
        })
    }

    /// Slope and intercept when all x share one uncertainty and all y another (Deming); `ratio` is `(u_y / u_x)^2`.
    ///
    /// `None` below three points or when x and y do not vary together.
    pub fn deming(self, ratio: f64) -> Option<(f64, f64)> {
        let (xx, yy, xy) = (self.xx * ratio, self.yy, self.xy);
        if self.n < 3.0 || self.xx <= 0.0 || xy == 0.0 {
            return None;
        }
        let root = ((yy - xx).powi(2) + 4.0 * ratio * xy * xy).sqrt();
        // The form without a difference of like numbers.
        let slope = if yy < xx {
            2.0 * ratio * xy / (xx - yy + root)
        } else {
            (yy - xx + root) / (2.0 * xy)
        };
        Some((slope, self.mean_y - slope * self.mean_x))
    }

    /// Correlation of x and y; `None` when either does not vary.
    pub fn correlation(self) -> Option<f64> {
        (self.xx > 0.0 && self.yy > 0.0).then(|| self.xy / (self.xx * self.yy).sqrt())
    }
}

/// A straight line, anchored near the data so that a large offset costs no digits.
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
        self.slope * (x - self.x0) + self.y0
    }

    /// Largest absolute distance in y of any point from the line; 0 for no points.
    pub fn largest_deviation(&self, x: &[f64], y: &[f64]) -> f64 {
        x.iter()
            .zip(y)
            .map(|(&x, &y)| (y - self.at(x)).abs())
            .fold(0.0, f64::max)
    }

    /// Weighted sum of the squared residuals of points (x, y, weight).
    pub(crate) fn residual_squares(&self, points: impl Iterator<Item = (f64, f64, f64)>) -> f64 {
        points.map(|(x, y, w)| w * (y - self.at(x)).powi(2)).sum()
    }
}

/// A least-squares line and what is known of it.
///
/// With no degree of freedom left (as many points as unknowns) the line is given and its uncertainties are `None`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineFit {
    /// The line, anchored at the mean of x, or at the fixed point.
    pub line: Line,
    /// Degrees of freedom of the residuals: n - 2, or n - 1 through a fixed point.
    pub dof: usize,
    /// Standard deviation of the residuals, in the unit of y.
    pub residual_sd: Option<f64>,
    /// Sum of squares of x about the anchor.
    sxx: f64,
    /// Share of the residual variance in that of the value at the anchor: 1/n, or 0 when it is fixed.
    anchor_share: f64,
}

impl LineFit {
    /// The line through points; `None` without spread in x.
    pub(crate) fn through(points: impl Iterator<Item = (f64, f64)> + Clone) -> Option<Self> {
        let moments = Moments::of(points.clone());
        Self::of(moments, points, 2, moments.n.recip())
    }

    fn of(
        moments: Moments,
        points: impl Iterator<Item = (f64, f64)> + Clone,
        unknowns: usize,
        anchor_share: f64,
    ) -> Option<Self> {
        let line = moments.line()?;
        let dof = points.clone().count().saturating_sub(unknowns);
        let squares = line.residual_squares(points.map(|(x, y)| (x, y, 1.0)));
        Some(Self {
            line,
            dof,
            residual_sd: (dof > 0).then(|| (squares / real(dof)).sqrt()),
            sxx: moments.xx,
            anchor_share,
        })
    }

    /// Standard uncertainty of the slope.
    #[must_use]
    pub fn u_slope(&self) -> Option<f64> {
        self.residual_sd.map(|sd| sd / self.sxx.sqrt())
    }

    /// Standard uncertainty of the line itself at `x`, not of a new reading there; at 0 that of the intercept.
    #[must_use]
    pub fn u_at(&self, x: f64) -> Option<f64> {
        let dx = x - self.line.x0;
        self.residual_sd
            .map(|sd| sd * (self.anchor_share + dx * dx / self.sxx).sqrt())
    }
}

/// Least-squares line. `None` for fewer than two different x, unequal lengths or a value that is not finite.
#[must_use]
pub fn least_squares(x: &[f64], y: &[f64]) -> Option<LineFit> {
    let points = points(x, y)?;
    let moments = Moments::about(mean(x), mean(y), points.clone().map(|(x, y)| (x, y, 1.0)));
    LineFit::of(moments, points, 2, moments.n.recip())
}

/// Least-squares line held to pass through `point`. `None` when no x differs from the point's, for unequal lengths or
/// a value that is not finite.
#[must_use]
pub fn least_squares_through(x: &[f64], y: &[f64], point: (f64, f64)) -> Option<LineFit> {
    let points = points(x, y)?;
    let (x0, y0) = point;
    let moments = Moments::about(x0, y0, points.clone().map(|(x, y)| (x, y, 1.0)));
    LineFit::of(moments, points, 1, 0.0)
}

/// The points when they can carry a line: equal lengths, at least one, all finite.
pub(crate) fn points<'a>(
    x: &'a [f64],
    y: &'a [f64],
) -> Option<impl Iterator<Item = (f64, f64)> + Clone + 'a> {
    let fine = !x.is_empty() && x.len() == y.len() && x.iter().chain(y).all(|v| v.is_finite());
    fine.then(|| x.iter().copied().zip(y.iter().copied()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::reference_file::{numbers, reference};

    #[test]
    fn pearsons_points_without_weights() {
        // tests/reference/26: orthogonal line.
        let file = reference("26-track-pair.json");
        let (x, y) = (numbers(&file["inputs"]["x"]), numbers(&file["inputs"]["y"]));
        let want = &file["expected"]["orthogonal_unweighted"];
        let moments = Moments::of(points(&x, &y).unwrap());
        let (slope, intercept) = moments.deming(1.0).unwrap();
        for (got, key) in [(slope, "slope"), (intercept, "intercept")] {
            let want = want[key].as_f64().unwrap();
            assert!((got - want).abs() < 1e-9, "{key}: {got} {want}");
        }
    }

    #[test]
    fn moments_of_parts_are_those_of_the_whole() {
        let points: Vec<(f64, f64)> = (0..50)
            .map(|i| (f64::from(i), f64::from(i * i) + 1e6))
            .collect();
        let whole = Moments::of(points.iter().copied());
        let parts = Moments::of(points[..20].iter().copied())
            .with(Moments::of(points[20..].iter().copied()));
        for (a, b) in [
            (whole.xx, parts.xx),
            (whole.xy, parts.xy),
            (whole.yy, parts.yy),
            (whole.mean_y, parts.mean_y),
        ] {
            assert!((a - b).abs() < 1e-9 * a.abs());
        }
    }

    #[test]
    fn a_weight_counts_as_so_many_points() {
        let repeated = [(1.0, 2.0), (3.0, 5.0), (3.0, 5.0), (3.0, 5.0), (4.0, 1.0)];
        let weighted = [(1.0, 2.0, 1.0), (3.0, 5.0, 3.0), (4.0, 1.0, 1.0)];
        let a = Moments::of(repeated.into_iter()).line().unwrap();
        let b = Moments::weighted(weighted.into_iter()).line().unwrap();
        assert!((a.slope - b.slope).abs() < 1e-14 && (a.at(0.0) - b.at(0.0)).abs() < 1e-14);
    }

    #[test]
    fn no_line_without_points_or_variation() {
        assert_eq!(Moments::of(std::iter::empty()).deming(1.0), None);
        assert_eq!(Moments::of(std::iter::empty()).line(), None);
        let still = Moments::of([(1.0, 5.0), (2.0, 5.0), (3.0, 5.0)].into_iter());
        assert_eq!(still.deming(1.0), None);
        assert_eq!(still.correlation(), None);
    }
}
