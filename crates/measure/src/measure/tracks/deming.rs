//! A straight line when both variables have errors.
//!
//! Belongs here: York's line for points with their own weights, and its closed form when all weights are alike.
//! Does not belong here: tracks, delays.

/// A line with its standard uncertainties.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BothErrorsLine {
    /// Change of y per unit of x.
    pub slope: f64,
    /// y at x = 0.
    pub intercept: f64,
    /// Standard uncertainty of the slope, from the weights alone.
    pub slope_u: f64,
    /// Standard uncertainty of the intercept, from the weights alone.
    pub intercept_u: f64,
    /// Weighted sum of squared distances.
    pub chi_square: f64,
}

/// The line through points with weights `1 / u^2` in x and in y, errors not correlated.
///
/// `None` when there are fewer than three points, unequal lengths, weights that are not positive, all x the same, or no
/// convergence. Source: York 1966 in the form of York and others 2004.
#[must_use]
pub fn york(x: &[f64], y: &[f64], weight_x: &[f64], weight_y: &[f64]) -> Option<BothErrorsLine> {
    let n = x.len();
    let weights_good = weight_x
        .iter()
        .chain(weight_y)
        .all(|w| w.is_finite() && *w > 0.0);
    if n < 3 || [y.len(), weight_x.len(), weight_y.len()] != [n; 3] || !weights_good {
        return None;
    }
    let mut slope = ordinary_slope(x, y)?;
    for _ in 0..200 {
        let step = York::at(slope, x, y, weight_x, weight_y);
        let better = step.slope;
        if !better.is_finite() {
            return None;
        }
        let done = (better - slope).abs() <= 1e-14 * better.abs().max(1e-300);
        slope = better;
        if done {
            break;
        }
    }
    Some(York::at(slope, x, y, weight_x, weight_y).line(slope, x, y))
}

fn ordinary_slope(x: &[f64], y: &[f64]) -> Option<f64> {
    let moments = Moments::of(x.iter().copied().zip(y.iter().copied()));
    (moments.xx > 0.0).then(|| moments.xy / moments.xx)
}

/// One step of the iteration.
struct York {
    slope: f64,
    weights: Vec<f64>,
    betas: Vec<f64>,
    mean_x: f64,
    mean_y: f64,
}

impl York {
    fn at(slope: f64, x: &[f64], y: &[f64], weight_x: &[f64], weight_y: &[f64]) -> Self {
        let weights: Vec<f64> = weight_x
            .iter()
            .zip(weight_y)
            .map(|(wx, wy)| wx * wy / (wx + slope * slope * wy))
            .collect();
        let total: f64 = weights.iter().sum();
        let mean = |v: &[f64]| weights.iter().zip(v).map(|(w, v)| w * v).sum::<f64>() / total;
        let (mean_x, mean_y) = (mean(x), mean(y));
        let betas: Vec<f64> = (0..x.len())
            .map(|i| {
                let (u, v) = (x[i] - mean_x, y[i] - mean_y);
                weights[i] * (u / weight_y[i] + slope * v / weight_x[i])
            })
            .collect();
        let (mut above, mut below) = (0.0, 0.0);
        for i in 0..x.len() {
            above += weights[i] * betas[i] * (y[i] - mean_y);
            below += weights[i] * betas[i] * (x[i] - mean_x);
        }
        Self {
            slope: above / below,
            weights,
            betas,
            mean_x,
            mean_y,
        }
    }

    fn line(&self, slope: f64, x: &[f64], y: &[f64]) -> BothErrorsLine {
        let total: f64 = self.weights.iter().sum();
        let intercept = self.mean_y - slope * self.mean_x;
        let adjusted = |i: usize| self.mean_x + self.betas[i];
        let weighed = |f: &dyn Fn(usize) -> f64| -> f64 {
            (0..x.len()).map(|i| self.weights[i] * f(i)).sum()
        };
        let mean = weighed(&adjusted) / total;
        let slope_variance = 1.0 / weighed(&|i| (adjusted(i) - mean).powi(2));
        BothErrorsLine {
            slope,
            intercept,
            slope_u: slope_variance.sqrt(),
            intercept_u: (1.0 / total + mean * mean * slope_variance).sqrt(),
            chi_square: weighed(&|i| (y[i] - slope * x[i] - intercept).powi(2)),
        }
    }
}

/// Count, means, and sums of squares and products about the means. Merges and unmerges without losing digits.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Moments {
    pub n: f64,
    pub mean_x: f64,
    pub mean_y: f64,
    pub xx: f64,
    pub yy: f64,
    pub xy: f64,
}

impl Moments {
    /// Of some points, in two passes over the iterator.
    pub fn of(points: impl Iterator<Item = (f64, f64)> + Clone) -> Self {
        let (mut n, mut sum_x, mut sum_y) = (0.0, 0.0, 0.0);
        for (x, y) in points.clone() {
            n += 1.0;
            sum_x += x;
            sum_y += y;
        }
        if n == 0.0 {
            return Self::default();
        }
        let mut moments = Self {
            n,
            mean_x: sum_x / n,
            mean_y: sum_y / n,
            ..Self::default()
        };
        for (x, y) in points {
            let (u, v) = (x - moments.mean_x, y - moments.mean_y);
            moments.xx += u * u;
            moments.yy += v * v;
            moments.xy += u * v;
        }
        moments
    }

    /// Of both together (updating formulae of Chan and others 1979).
    #[must_use]
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

    /// Slope and intercept when all x share one uncertainty and all y another; `ratio` is `(u_y / u_x)^2`.
    ///
    /// The closed form of York's line for equal weights (Deming). `None` when x and y do not vary together.
    #[must_use]
    pub fn line(self, ratio: f64) -> Option<(f64, f64)> {
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
    #[must_use]
    pub fn correlation(self) -> Option<f64> {
        (self.xx > 0.0 && self.yy > 0.0).then(|| self.xy / (self.xx * self.yy).sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::reference_file::{numbers, reference};

    #[test]
    fn pearsons_points_with_yorks_weights() {
        // tests/reference/26: York 1966, York and others 2004; recomputed by iteration and by direct minimisation.
        let file = reference("26-track-pair.json");
        let column = |key: &str| numbers(&file["inputs"][key]);
        let (x, y) = (column("x"), column("y"));
        let line = york(&x, &y, &column("weight_x"), &column("weight_y")).unwrap();
        let want = &file["expected"]["york"];
        for (got, key) in [
            (line.slope, "slope"),
            (line.intercept, "intercept"),
            (line.slope_u, "slope_sd"),
            (line.intercept_u, "intercept_sd"),
            (line.chi_square, "chi_square"),
        ] {
            let want = want[key].as_f64().unwrap();
            assert!((got - want).abs() < 1e-6, "{key}: {got} {want}");
        }
    }

    #[test]
    fn pearsons_points_without_weights() {
        // tests/reference/26: orthogonal line; and York's line with all weights 1 is the same line.
        let file = reference("26-track-pair.json");
        let (x, y) = (numbers(&file["inputs"]["x"]), numbers(&file["inputs"]["y"]));
        let want = &file["expected"]["orthogonal_unweighted"];
        let ones = vec![1.0; x.len()];
        let weighted = york(&x, &y, &ones, &ones).unwrap();
        let points = x.iter().copied().zip(y.iter().copied());
        let (slope, intercept) = Moments::of(points).line(1.0).unwrap();
        for (got, key) in [
            (slope, "slope"),
            (intercept, "intercept"),
            (weighted.slope, "slope"),
            (weighted.intercept, "intercept"),
        ] {
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
    fn no_line_without_points_or_variation() {
        assert_eq!(york(&[], &[], &[], &[]), None);
        assert_eq!(york(&[1.0, 2.0], &[1.0, 2.0], &[1.0; 2], &[1.0; 2]), None);
        assert_eq!(
            york(&[1.0; 3], &[1.0, 2.0, 3.0], &[1.0; 3], &[1.0; 3]),
            None
        );
        assert_eq!(
            york(&[1.0, 2.0, 3.0], &[1.0, 2.0, 3.0], &[0.0; 3], &[1.0; 3]),
            None,
            "a weight of 0 is refused"
        );
        assert_eq!(Moments::of(std::iter::empty()).line(1.0), None);
        let still = Moments::of([(1.0, 5.0), (2.0, 5.0), (3.0, 5.0)].into_iter());
        assert_eq!(still.line(1.0), None);
        assert_eq!(still.correlation(), None);
    }
}
