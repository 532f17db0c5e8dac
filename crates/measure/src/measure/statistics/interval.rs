//! Quantiles and coverage: from a standard uncertainty and its degrees of freedom to a 95 % interval.

use super::chances::{
    gamma_lower, gamma_upper, gamma_weight, student_above, student_density, where_falls_to,
};
use crate::figure::{COVERAGE, Figure};
use crate::units::maths;

/// Degrees of freedom from which a t quantile is taken as the normal one.
const MANY: f64 = 1e6;

/// Upper tail left outside a symmetric 95 % interval.
const TAIL: f64 = (1.0 - COVERAGE) / 2.0;

/// The standard normal distribution function.
#[must_use]
pub fn normal_cdf(x: f64) -> f64 {
    0.5 * maths::erfc(-x / std::f64::consts::SQRT_2)
}

/// The standard normal density.
pub fn normal_pdf(x: f64) -> f64 {
    maths::exp(-0.5 * x * x) / std::f64::consts::TAU.sqrt()
}

/// Normal quantile of `p`, `0 < p < 1`; NaN outside.
#[must_use]
pub fn normal_quantile(p: f64) -> f64 {
    by_the_tail(p, |tail| {
        // Abramowitz and Stegun 26.2.23 is good to 5e-4, each step of Newton's doubles the digits.
        let t = (-2.0 * maths::ln(tail)).sqrt();
        let top = 2.515_517 + t * (0.802_853 + t * 0.010_328);
        let guess = t - top / (1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308)));
        where_falls_to(tail, guess, |x| normal_cdf(-x), normal_pdf)
    })
}

/// Quantile of Student's t of `p`, `0 < p < 1`; infinite `dof` is the normal. NaN when `p` or `dof` make no sense.
pub fn t_quantile(p: f64, dof: f64) -> f64 {
    if dof > MANY {
        return normal_quantile(p);
    }
    if dof.is_nan() || dof <= 0.0 {
        return f64::NAN;
    }
    by_the_tail(p, |tail| {
        let guess = normal_quantile(1.0 - tail);
        where_falls_to(
            tail,
            guess,
            |t| student_above(t, dof),
            |t| student_density(t, dof),
        )
    })
}

/// A quantile of a distribution that is even about 0, from that of its upper tail.
fn by_the_tail(p: f64, upper: impl Fn(f64) -> f64) -> f64 {
    if !(p > 0.0 && p < 1.0) {
        f64::NAN
    } else if p > 0.5 {
        upper(1.0 - p)
    } else if p < 0.5 {
        -upper(p)
    } else {
        0.0
    }
}

/// Chance that Student's t of `dof` degrees of freedom lies above `t`; infinite `dof` is the normal. NaN when they make no sense.
#[must_use]
pub fn t_tail(t: f64, dof: f64) -> f64 {
    if dof > MANY {
        return normal_cdf(-t);
    }
    if t.is_nan() || dof.is_nan() || dof <= 0.0 {
        return f64::NAN;
    }
    let above = student_above(t.abs(), dof);
    if t < 0.0 { 1.0 - above } else { above }
}

/// Chi-square quantile of `p`, `0 < p < 1`, `dof > 0`; NaN outside.
pub fn chi_square_quantile(p: f64, dof: f64) -> f64 {
    if !(p > 0.0 && p < 1.0 && dof > 0.0 && dof.is_finite()) {
        return f64::NAN;
    }
    // Wilson and Hilferty 1931: good to 1e-9 for many degrees of freedom, a guess for few.
    let a = 2.0 / (9.0 * dof);
    let guess = dof * (1.0 - a + normal_quantile(p) * a.sqrt()).powi(3);
    if dof > MANY {
        return guess;
    }
    let shape = dof / 2.0;
    let density = |x: f64| gamma_weight(shape, x) / x;
    // The smaller of the two tails keeps the digits; that of the lower one falls when it is turned over.
    let half = if p > 0.5 {
        where_falls_to(1.0 - p, guess / 2.0, |x| gamma_upper(shape, x), density)
    } else {
        where_falls_to(-p, guess / 2.0, |x| -gamma_lower(shape, x), density)
    };
    2.0 * half
}

/// Coverage factor of a two-sided 95 % interval with `dof` degrees of freedom.
#[must_use]
pub fn coverage_factor(dof: f64) -> f64 {
    t_quantile(1.0 - TAIL, dof)
}

/// Effective degrees of freedom of a sum of independent parts `(u, dof)` (JCGM 100, G.4; infinite for no part).
pub fn welch_satterthwaite(parts: &[(f64, f64)]) -> f64 {
    let total: f64 = parts.iter().map(|(u, _)| u * u).sum();
    let spread: f64 = parts.iter().map(|(u, dof)| u.powi(4) / dof).sum();
    if spread > 0.0 {
        total * total / spread
    } else {
        f64::INFINITY
    }
}

/// 95 % interval of a standard deviation `sd` with `dof` degrees of freedom, gaussian scatter (chi-square).
///
/// `(0, infinite)` when there is no degree of freedom.
#[must_use]
pub fn sd_interval(sd: f64, dof: f64) -> (f64, f64) {
    if dof.is_nan() || dof <= 0.0 {
        return (0.0, f64::INFINITY);
    }
    let end = |p| sd * (dof / chi_square_quantile(p, dof)).sqrt();
    (end(1.0 - TAIL), end(TAIL))
}

/// What an uncertainty is made of: scatter with degrees of freedom, and bounds of which nothing else is known.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Budget {
    /// Type A parts: standard uncertainty and its degrees of freedom.
    pub scatter: Vec<(f64, f64)>,
    /// Type B parts: half widths of rectangular distributions (JCGM 100, 4.3.7).
    pub bounds: Vec<f64>,
}

impl Budget {
    /// Combined standard uncertainty (JCGM 100, 5.1.2): root of the sum of squares, a bound counting `a / sqrt(3)`.
    #[must_use]
    pub fn standard(&self) -> f64 {
        let scatter: f64 = self.scatter.iter().map(|(u, _)| u * u).sum();
        let bounds: f64 = self.bounds.iter().map(|a| a * a / 3.0).sum();
        (scatter + bounds).sqrt()
    }

    /// Half width of the 95 % interval.
    ///
    /// The largest bound stays a rectangle, everything else is taken as normal, stretched by the t quantile of its
    /// effective degrees of freedom; the half width is that of their convolution, so that a rectangle alone
    /// gives 0.95 a and not 1.13 a. (JCGM 101 propagates distributions; here in closed form.)
    pub fn expanded(&self) -> f64 {
        let mut bounds = self.bounds.clone();
        bounds.sort_by(f64::total_cmp);
        let widest = bounds.pop().unwrap_or(0.0);
        let mut parts = self.scatter.clone();
        parts.extend(bounds.iter().map(|a| (a / 3.0_f64.sqrt(), f64::INFINITY)));
        let u = parts.iter().map(|(u, _)| u * u).sum::<f64>().sqrt();
        let normal = u * coverage_factor(welch_satterthwaite(&parts));
        half_width(normal / coverage_factor(f64::INFINITY), widest)
    }

    /// A figure of this uncertainty, its interval symmetric about `value`.
    pub fn figure(&self, value: f64, n: usize, method: impl Into<String>) -> Figure {
        let half = self.expanded();
        Figure {
            value,
            u: Some(self.standard()),
            low: Some(value - half),
            high: Some(value + half),
            n: n as u64,
            method: method.into(),
            shrink: None,
        }
    }

    /// The part of [`Self::standard`] that no scatter explains: that of the bounds.
    #[must_use]
    pub fn floor_u(&self) -> f64 {
        self.bounds.iter().map(|a| a * a / 3.0).sum::<f64>().sqrt()
    }

    /// The same budget in another unit.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        let factor = factor.abs();
        Self {
            scatter: self.scatter.iter().map(|(u, d)| (u * factor, *d)).collect(),
            bounds: self.bounds.iter().map(|a| a * factor).collect(),
        }
    }

    /// The budget of a sum or a difference of two independent quantities.
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        Self {
            scatter: [&self.scatter[..], &other.scatter[..]].concat(),
            bounds: [&self.bounds[..], &other.bounds[..]].concat(),
        }
    }
}

/// `h` with P(|R + N| <= h) = 95 %, R rectangular on `-a ..= a`, N normal with standard deviation `s`.
fn half_width(s: f64, a: f64) -> f64 {
    // Below a thousandth the smaller changes the half width by less than 1e-6 of it, and the formula below cancels.
    if s <= 1e-3 * a || a <= 1e-3 * s {
        return (COVERAGE * a).max(coverage_factor(f64::INFINITY) * s);
    }
    // The integral of the normal distribution function.
    let area = |x: f64| x * normal_cdf(x) + normal_pdf(x);
    let inside = |h: f64| {
        let up = area((h + a) / s) - area((h - a) / s);
        let down = area((a - h) / s) - area((-h - a) / s);
        s * (up - down) / (2.0 * a)
    };
    bisect(0.0, a + 6.0 * s, |h| inside(h) - COVERAGE)
}

/// Where a rising function crosses zero between `low` and `high`, by 60 halvings at most.
pub(crate) fn bisect(mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if middle <= low || middle >= high {
            break; // neighbours: nothing lies between
        }
        if f(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

/// Where a continuous `f` goes through 0 between `low` and `high`, by the method of Ridders (1979, "A new algorithm for
/// computing a single root of a real continuous function", from memory): what [`bisect`] finds in a quarter of its calls.
/// `f(low) <= 0 <= f(high)`; else the nearer end.
pub(crate) fn root(mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> f64 {
    let near = |a: f64, b: f64| (a - b).abs() <= 4.0 * f64::EPSILON * a.abs();
    let (mut below, mut above) = (f(low), f(high));
    let mut last = f64::NAN;
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if middle <= low || middle >= high || near(low, high) {
            break;
        }
        let at_middle = f(middle);
        let bend = (at_middle * at_middle - below * above).sqrt();
        let guess = middle - (middle - low) * at_middle / bend;
        if near(guess, last) {
            return guess;
        }
        last = guess;
        for (x, value) in [(middle, Some(at_middle)), (guess, None)] {
            if x > low && x < high {
                let value = value.unwrap_or_else(|| f(x));
                if value < 0.0 {
                    (low, below) = (x, value);
                } else {
                    (high, above) = (x, value);
                }
            }
        }
    }
    f64::midpoint(low, high)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Student's t of 2.776 445 and 4 degrees of freedom leaves 2.5 % above (any table).
    #[test]
    fn the_tail_of_student() {
        assert!((t_tail(2.776_445, 4.0) - 0.025).abs() < 1e-7);
        assert!((t_tail(-2.776_445, 4.0) - 0.975).abs() < 1e-7);
        assert!(t_tail(f64::INFINITY, 4.0).abs() < 1e-300 && t_tail(f64::NAN, 4.0).is_nan());
    }
    use crate::measure::reference_file::reference;

    /// Roots that are known: of 2, of a cubic that is flat at its ends, and of a step.
    #[test]
    fn roots_are_found_where_they_are() {
        let calls = std::cell::Cell::new(0);
        let square = |x: f64| {
            calls.set(calls.get() + 1);
            x * x - 2.0
        };
        assert!((root(0.0, 2.0, square) - std::f64::consts::SQRT_2).abs() < 1e-15);
        assert!(calls.get() < 25, "{} calls", calls.get());
        let cubic = root(-1.0, 3.0, |x| (x - 1.0).powi(3));
        assert!((cubic - 1.0).abs() < 1e-4, "{cubic}");
        let tail = |x: f64| normal_cdf(x) - 0.975;
        let (chance, halved) = (root(0.0, 16.0, tail), bisect(0.0, 16.0, tail));
        assert!((chance - halved).abs() < 1e-14, "{chance} {halved}");
        let step = root(0.0, 1.0, |x| if x < 0.3 { -1.0 } else { 1.0 });
        assert!((step - 0.3).abs() < 1e-12, "{step}");
        assert!(root(0.0, 1.0, |_| 1.0) < 1e-12 && root(0.0, 1.0, |_| -1.0) > 1.0 - 1e-12);
    }

    /// Normal, t and chi-square quantiles (file 06: tables common to any statistics text, by scipy).
    #[test]
    fn quantiles_agree_with_the_tables() {
        let file = reference("06-quantiles-guard-bands.json");
        let tol = file["tolerance"]["quantile_relative"].as_f64().unwrap();
        let check = |got: f64, wanted: &serde_json::Value, what: &str| {
            let wanted = wanted.as_f64().unwrap();
            assert!(
                (got - wanted).abs() <= tol * wanted.abs(),
                "{what}: {got} for {wanted}"
            );
        };
        let expected = &file["expected"];
        for (p, wanted) in expected["normal_quantile"].as_object().unwrap() {
            check(normal_quantile(p.parse().unwrap()), wanted, p);
        }
        for (name, quantile) in [
            ("t_quantile", t_quantile as fn(f64, f64) -> f64),
            ("chi2_quantile", chi_square_quantile),
        ] {
            for (dof, row) in expected[name].as_object().unwrap() {
                for (p, wanted) in row.as_object().unwrap() {
                    let got = quantile(p.parse().unwrap(), dof.parse().unwrap());
                    check(got, wanted, &format!("{name} {dof} {p}"));
                }
            }
        }
    }

    #[test]
    fn nonsense_is_not_a_number() {
        assert!(normal_quantile(0.0).is_nan() && normal_quantile(1.5).is_nan());
        assert!(t_quantile(0.9, 0.0).is_nan() && t_quantile(0.9, f64::NAN).is_nan());
        assert!(chi_square_quantile(0.9, 0.0).is_nan());
        assert_eq!(sd_interval(1.0, 0.0), (0.0, f64::INFINITY));
    }

    /// JCGM 100 G.4: two equal parts of 4 and 8 degrees: 4 u^4 / (u^4/4 + u^4/8), by hand 10.67.
    #[test]
    fn welch_satterthwaite_by_hand() {
        let dof = welch_satterthwaite(&[(2.0, 4.0), (2.0, 8.0)]);
        assert!((dof - 32.0 / 3.0).abs() < 1e-12);
        assert!(welch_satterthwaite(&[]).is_infinite());
    }

    #[test]
    fn a_bound_alone_and_scatter_alone() {
        let bound = Budget {
            scatter: vec![],
            bounds: vec![0.5],
        };
        // A rectangle of half width a: u = a / sqrt 3 (JCGM 100, 4.3.7), 95 % of it lies within 0.95 a.
        assert!((bound.standard() - 0.5 / 3.0_f64.sqrt()).abs() < 1e-15);
        assert!((bound.expanded() - 0.475).abs() < 1e-12);
        let scatter = Budget {
            scatter: vec![(1.0, 3.0)],
            bounds: vec![],
        };
        assert!((scatter.expanded() - 3.182_446_305_284_263).abs() < 1e-9); // t table, 3 degrees, 97.5 %
    }

    #[test]
    fn a_vanishing_bound_adds_nothing() {
        for tiny in [1e-60, 1e-12, 1e-4] {
            let budget = Budget {
                scatter: vec![(1.0, f64::INFINITY)],
                bounds: vec![tiny],
            };
            assert!((budget.expanded() - 1.959_964).abs() < 1e-5, "{tiny}");
        }
    }

    #[test]
    fn two_equal_bounds_stay_near_the_triangle() {
        // Sum of two rectangles of half width 1 is a triangle of half width 2: 95 % within 2 (1 - sqrt 0.05) = 1.553.
        let two = Budget {
            scatter: vec![],
            bounds: vec![1.0, 1.0],
        };
        assert!((two.expanded() - 1.5528).abs() < 0.06, "{}", two.expanded());
    }
}
