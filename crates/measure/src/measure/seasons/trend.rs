//! Trend: the straight line through measurements of one quantity over time, and when it reaches a limit.
//!
//! Each measurement has its own uncertainty; between them there is scatter of another kind (another day, another
//! temperature, taken out and put back). The line is fitted with weights 1 / (u^2 + t^2), where the scatter t is what
//! makes the weighted residuals as large as their degrees of freedom say, and 0 when the uncertainties alone explain
//! them.
//!
//! Sources: R. C. Paule and J. Mandel, J. Res. Natl. Bur. Stand. 87 (1982) 377, for the scatter, here about a line instead
//! of a mean; the crossing after E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175: the times at which the limit lies inside
//! the line's own 95 % interval.

use crate::measure::seasons::change::Estimate;
use crate::measure::statistics::interval::{bisect, coverage_factor};
use crate::measure::statistics::least_squares::{Line, Moments};
use crate::measure::statistics::moments::real;

/// Fewest measurements for a trend: two make a change, and a line through two says nothing of its own uncertainty.
pub const FEWEST: usize = 3;

/// A fitted trend. Time and value in the units of the points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trend {
    /// Change for one unit of time.
    pub slope: f64,
    /// Half width of its 95 % interval.
    pub slope_half: f64,
    /// Scatter between measurements beyond their own uncertainty, standard deviation.
    pub scatter: f64,
    /// Measurements used.
    pub n: usize,
    /// Weighted mean time, where the line is anchored.
    middle: f64,
    /// The line there.
    level: f64,
    /// Variance of the line there, and of the slope.
    level_var: f64,
    slope_var: f64,
}

/// When a trend reaches a value: 95 % interval from and to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crossing {
    /// Where the line itself crosses.
    pub time: f64,
    /// Earliest.
    pub from: f64,
    /// Latest.
    pub to: f64,
}

impl Trend {
    /// Whether the slope differs from 0, by its 95 % interval.
    #[must_use]
    pub fn is_sure(&self) -> bool {
        self.slope.abs() > self.slope_half
    }

    /// The line at a time, with the half width of its 95 % interval.
    #[must_use]
    pub fn at(&self, time: f64) -> (f64, f64) {
        let x = time - self.middle;
        let var = x * x * self.slope_var + self.level_var;
        (self.slope * x + self.level, self.factor() * var.sqrt())
    }

    /// When the line reaches `limit`, in the past or to come. `None` when the slope may be 0: then no time can be told.
    #[must_use]
    pub fn reaches(&self, limit: f64) -> Option<Crossing> {
        if !self.is_sure() {
            return None;
        }
        let (gap, k2) = (self.level - limit, self.factor().powi(2));
        // (b^2 - k^2 v1) x^2 + 2 b gap x + gap^2 - k^2 v0 = 0, whose first factor is above 0 for a sure slope.
        let a = self.slope * self.slope - k2 * self.slope_var;
        let half_b = self.slope * gap;
        let c = gap * gap - k2 * self.level_var;
        let apart = (half_b * half_b - a * c).max(0.0).sqrt();
        Some(Crossing {
            time: self.middle - gap / self.slope,
            from: self.middle + (-half_b - apart) / a,
            to: self.middle + (-half_b + apart) / a,
        })
    }

    fn factor(&self) -> f64 {
        coverage_factor(real(self.n - 2))
    }
}

/// The trend of `(time, estimate)`. `None` for fewer than three measurements, or when all are of one time.
#[must_use]
pub fn trend(points: &[(f64, Estimate)]) -> Option<Trend> {
    if points.len() < FEWEST || points.iter().any(|(t, _)| !t.is_finite()) {
        return None;
    }
    let known = Weighted::through(points, 0.0);
    let dof = real(points.len() - 2);
    let scatter = match known {
        Some(fit) if fit.misfit <= dof => 0.0,
        _ => scatter_of(points, dof),
    };
    let fit = Weighted::through(points, scatter * scatter)?;
    Some(Trend {
        slope: fit.line.slope,
        slope_half: coverage_factor(dof) * fit.slope_var.sqrt(),
        scatter,
        n: points.len(),
        middle: fit.line.x0,
        level: fit.line.y0,
        level_var: fit.level_var,
        slope_var: fit.slope_var,
    })
}

/// The scatter at which the weighted residuals are as large as `dof`.
fn scatter_of(points: &[(f64, Estimate)], dof: f64) -> f64 {
    let spread = points.iter().map(|(_, e)| e.value).fold(f64::MIN, f64::max)
        - points.iter().map(|(_, e)| e.value).fold(f64::MAX, f64::min);
    if spread <= 0.0 {
        return 0.0;
    }
    let misfit = |s: f64| Weighted::through(points, s * s).map_or(f64::MAX, |fit| fit.misfit);
    // With a scatter of the whole spread no residual is larger than 1, so the misfit is below n; beyond, it falls on.
    let most = spread * real(points.len());
    let least = spread * 1e-12;
    if misfit(least) <= dof {
        return least;
    }
    bisect(least, most, |s| dof - misfit(s))
}

/// A line through the points, weighted by `1 / (u^2 + extra)`.
struct Weighted {
    line: Line,
    level_var: f64,
    slope_var: f64,
    /// Weighted sum of squared residuals.
    misfit: f64,
}

impl Weighted {
    /// `None` when a weight is infinite or all times are one.
    fn through(points: &[(f64, Estimate)], extra: f64) -> Option<Self> {
        let weight = |e: &Estimate| 1.0 / (e.u() * e.u() + extra);
        let points = points.iter().map(|(t, e)| (*t, e.value, weight(e)));
        let moments = Moments::weighted(points.clone());
        let line = moments.line().filter(|_| moments.n.is_finite())?;
        Some(Self {
            line,
            level_var: 1.0 / moments.n,
            slope_var: 1.0 / moments.xx,
            misfit: line.residual_squares(points),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::reference_file::{numbers, reference};

    /// Points of one standard uncertainty.
    fn points(t: &[f64], y: &[f64], u: f64) -> Vec<(f64, Estimate)> {
        let half = 1.959_963_984_540_054 * u;
        t.iter()
            .zip(y)
            .map(|(&t, &value)| {
                let estimate = Estimate::new(value, Some(value - half), Some(value + half));
                (t, estimate.unwrap())
            })
            .collect()
    }

    #[test]
    fn a_line_that_the_uncertainties_explain_and_its_crossing_worked_by_hand() {
        // y = t, u = 0.1 each, t = 0 .. 3: variance of the level 0.01/4, of the slope 0.01/5; t(97.5 %, 2) = 4.30265.
        // Fieller for 6: 0.962974 x^2 - 9 x + 20.203718 = 0 about 1.5: x = 3.74756 and 5.59855.
        let found = trend(&points(&[0.0, 1.0, 2.0, 3.0], &[0.0, 1.0, 2.0, 3.0], 0.1)).unwrap();
        assert!((found.slope - 1.0).abs() < 1e-12 && found.scatter.abs() < 1e-12);
        assert!((found.slope_half - 4.302_652_7 * 0.002_f64.sqrt()).abs() < 1e-6);
        let Crossing { time, from, to } = found.reaches(6.0).unwrap();
        assert!((time - 6.0).abs() < 1e-9);
        assert!(
            (from - 5.24756).abs() < 1e-4 && (to - 7.09855).abs() < 1e-4,
            "{from} {to}"
        );
        // At its ends the limit lies on the edge of the line's interval.
        let (value, half) = found.at(from);
        assert!((value + half - 6.0).abs() < 1e-9);
    }

    #[test]
    fn without_uncertainties_it_is_the_thermometer_line_of_the_gum() {
        // JCGM 100, H.3: equal weights, so the scatter is the residual sd and the slope's uncertainty that of H.3.
        let file = "03-gum-h3-thermometer-line.json";
        let file = reference(file);
        let (t, b) = (numbers(&file["inputs"]["t"]), numbers(&file["inputs"]["b"]));
        let centred: Vec<f64> = t.iter().map(|t| t - 20.0).collect();
        let found = trend(&points(&centred, &b, 0.0)).unwrap();
        assert!((found.slope - 0.002_183).abs() < 1e-6, "{found:?}");
        assert!((found.scatter - 0.003_5).abs() < 5e-5, "{found:?}");
        // u(y2) = 0.000 67, nu = 9, t(97.5 %, 9) = 2.262.
        assert!(
            (found.slope_half / 2.262_157 - 0.000_67).abs() < 5e-6,
            "{found:?}"
        );
        // H.3.4: b(30) = -0.1494, u = 0.0041.
        let (value, half) = found.at(10.0);
        assert!((value + 0.149_4).abs() < 5e-5);
        assert!((half / 2.262_157 - 0.004_1).abs() < 5e-5, "{half}");
    }

    /// Uncertainties a thousand times too small for the scatter that is there: it is found all the same (JCGM 100, H.3).
    #[test]
    fn uncertainties_that_do_not_explain_the_scatter_leave_it_to_the_line() {
        let file = reference("03-gum-h3-thermometer-line.json");
        let (t, b) = (numbers(&file["inputs"]["t"]), numbers(&file["inputs"]["b"]));
        let found = trend(&points(&t, &b, 3.5e-6)).unwrap();
        assert!((found.scatter - 0.003_5).abs() < 5e-5, "{found:?}");
        assert!(
            (found.slope_half / 2.262_157 - 0.000_67).abs() < 5e-6,
            "{found:?}"
        );
    }

    #[test]
    fn one_that_is_known_exactly_does_not_take_the_trend_away() {
        let mut points = points(&[0.0, 1.0, 2.0, 3.0], &[1.0, 2.0, 3.0, 4.0], 0.02);
        points[0].1 = Estimate::new(1.0, Some(1.0), Some(1.0)).unwrap();
        let found = trend(&points).unwrap();
        assert!(
            (found.slope - 1.0).abs() < 1e-9 && found.is_sure(),
            "{found:?}"
        );
    }

    #[test]
    fn nothing_is_told_of_a_slope_that_may_be_zero_and_none_of_too_few() {
        let flat = trend(&points(&[0.0, 1.0, 2.0, 3.0], &[1.0, 1.2, 0.9, 1.1], 0.1)).unwrap();
        assert!(!flat.is_sure());
        assert_eq!(flat.reaches(2.0), None);
        assert_eq!(trend(&points(&[0.0, 1.0], &[1.0, 2.0], 0.1)), None);
        assert_eq!(
            trend(&points(&[1.0, 1.0, 1.0], &[1.0, 2.0, 3.0], 0.1)),
            None
        );
        assert_eq!(
            trend(&points(&[0.0, f64::NAN, 1.0], &[1.0, 2.0, 3.0], 0.1)),
            None
        );
        // All alike and exact: a slope of nothing, surely told as not sure.
        let same = trend(&points(&[0.0, 1.0, 2.0], &[5.0; 3], 0.0));
        assert!(same.is_none_or(|t| !t.is_sure()));
    }

    #[test]
    fn a_limit_already_passed_is_dated_back() {
        let found = trend(&points(&[0.0, 1.0, 2.0, 3.0], &[0.0, 1.0, 2.0, 3.0], 0.01)).unwrap();
        let crossing = found.reaches(-1.0).unwrap();
        assert!((crossing.time + 1.0).abs() < 1e-9 && crossing.to < 0.0);
    }
}
