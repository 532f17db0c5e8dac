//! The special functions behind the quantiles: incomplete gamma and beta, Student's t. On `maths` alone, so that an
//! interval has the same bytes on every system; a general library's rest on the platform's logarithm.
//!
//! Sources: DLMF (NIST Digital Library of Mathematical Functions), the equation at each; continued fractions by the
//! method of Lentz as changed by Thompson and Barnett (1986, from memory).
#![allow(clippy::many_single_char_names)] // the letters of the formulas as they are published

use crate::units::maths;

/// Terms after which a series or a fraction is given up; it takes about `5 sqrt(a)`, and `a` is at most half a million.
const TERMS: u32 = 20_000;

/// From where on [`beyond_stirling`] is good to the last digit.
const LARGE: f64 = 16.0;

/// In place of a zero in a denominator.
const TINY: f64 = 1e-300;

/// Q(a, x), the upper regularised incomplete gamma function, `a > 0`, `x >= 0`; NaN outside.
pub fn gamma_upper(a: f64, x: f64) -> f64 {
    if !(a > 0.0 && a.is_finite() && x >= 0.0) {
        return f64::NAN;
    }
    if x == 0.0 {
        return 1.0;
    }
    if x.is_infinite() {
        return 0.0;
    }
    if x < a + 1.0 {
        1.0 - rising(a, x)
    } else {
        falling(a, x)
    }
}

/// P(a, x), the lower one.
pub fn gamma_lower(a: f64, x: f64) -> f64 {
    if x > 0.0 && x < a + 1.0 {
        rising(a, x)
    } else {
        1.0 - gamma_upper(a, x)
    }
}

/// `x^a e^-x / Gamma(a)`: the density of a gamma variable, times x. Large `a` by Stirling (DLMF 5.11.1), where its terms
/// would cancel.
pub fn gamma_weight(a: f64, x: f64) -> f64 {
    if a < LARGE {
        return maths::exp(a * maths::ln(x) - x - maths::ln_gamma(a));
    }
    let away = (x - a) / a;
    // a (ln(1 + away) - away): what is left of the exponent
    let left = a * (maths::log1p(away) - away) - beyond_stirling(a);
    maths::exp(left) * (a / std::f64::consts::TAU).sqrt()
}

/// P by its series (DLMF 8.11.4).
fn rising(a: f64, x: f64) -> f64 {
    let (mut term, mut sum, mut n) = (1.0 / a, 1.0 / a, a);
    for _ in 0..TERMS {
        n += 1.0;
        term *= x / n;
        sum += term;
        if term < sum * f64::EPSILON {
            break;
        }
    }
    (sum * gamma_weight(a, x)).min(1.0)
}

/// Q by its continued fraction (DLMF 8.9.2).
fn falling(a: f64, x: f64) -> f64 {
    let mut b = x + 1.0 - a;
    let (mut c, mut d) = (1.0 / TINY, 1.0 / b);
    let mut fraction = d;
    for i in 1..TERMS {
        let i = f64::from(i);
        let an = -i * (i - a);
        b += 2.0;
        d = 1.0 / away_from_zero(an * d + b);
        c = away_from_zero(b + an / c);
        fraction *= d * c;
        if (d * c - 1.0).abs() < f64::EPSILON {
            break;
        }
    }
    fraction * gamma_weight(a, x)
}

/// I of x (a, b), the regularised incomplete beta function (DLMF 8.17.22); NaN outside `a, b > 0`, `0 <= x <= 1`.
pub fn beta(a: f64, b: f64, x: f64) -> f64 {
    if !(a > 0.0 && b > 0.0 && (a + b).is_finite() && (0.0..=1.0).contains(&x)) {
        return f64::NAN;
    }
    beta_of(a, b, x, 1.0 - x)
}

/// The same of `x` and `y = 1 - x`, for whoever knows both to the last digit.
fn beta_of(a: f64, b: f64, x: f64, y: f64) -> f64 {
    if x <= 0.0 || y <= 0.0 {
        return if x <= 0.0 { 0.0 } else { 1.0 };
    }
    let weight = beta_weight(a, b, x, y);
    if x < (a + 1.0) / (a + b + 2.0) {
        (weight * beta_fraction(a, b, x) / a).min(1.0)
    } else {
        1.0 - (weight * beta_fraction(b, a, y) / b).min(1.0)
    }
}

/// `x^a y^b / B(a, b)`. Where both are large by Stirling (DLMF 5.11.1), whose exponents are written so that nothing cancels.
fn beta_weight(a: f64, b: f64, x: f64, y: f64) -> f64 {
    if a.min(b) < LARGE {
        // The logarithm of what is near 1 is known to the last digit by what is missing from it.
        let ln = |share: f64, rest: f64| {
            if rest < 0.5 {
                maths::log1p(-rest)
            } else {
                maths::ln(share)
            }
        };
        return maths::exp(a * ln(x, y) + b * ln(y, x) - ln_beta(a, b));
    }
    let n = a + b;
    let (right, left) = ((x * n - a) / a, (y * n - b) / b);
    let exponent = a * (maths::log1p(right) - right) + b * (maths::log1p(left) - left);
    let corrections = beyond_stirling(n) - beyond_stirling(a) - beyond_stirling(b);
    maths::exp(exponent + corrections) * (a / n * b / std::f64::consts::TAU).sqrt()
}

fn beta_fraction(a: f64, b: f64, x: f64) -> f64 {
    let (mut c, mut d) = (1.0, 1.0 / away_from_zero(1.0 - (a + b) * x / (a + 1.0)));
    let mut fraction = d;
    for m in 1..TERMS {
        let m = f64::from(m);
        let at = a + 2.0 * m;
        let even = m * (b - m) * x / ((at - 1.0) * at);
        let odd = -(a + m) * (a + b + m) * x / (at * (at + 1.0));
        let mut last = 1.0;
        for step in [even, odd] {
            d = 1.0 / away_from_zero(1.0 + step * d);
            c = away_from_zero(1.0 + step / c);
            last = d * c;
            fraction *= last;
        }
        if (last - 1.0).abs() < f64::EPSILON {
            break;
        }
    }
    fraction
}

/// ln B(a, b). Where one of the two is large, its gamma functions are taken together by Stirling (DLMF 5.11.1).
fn ln_beta(a: f64, b: f64) -> f64 {
    let (small, large) = if a < b { (a, b) } else { (b, a) };
    if large < LARGE {
        return maths::ln_gamma(a) + maths::ln_gamma(b) - maths::ln_gamma(a + b);
    }
    let both = a + b;
    maths::ln_gamma(small) - (large - 0.5) * maths::log1p(small / large) - small * maths::ln(both)
        + small
        + beyond_stirling(large)
        - beyond_stirling(both)
}

/// What Stirling's formula leaves of ln Gamma(x), `x` at least [`LARGE`] (DLMF 5.11.1: the Bernoulli numbers).
fn beyond_stirling(x: f64) -> f64 {
    let y = 1.0 / (x * x);
    let terms = [
        1.0 / 12.0,
        -1.0 / 360.0,
        1.0 / 1260.0,
        -1.0 / 1680.0,
        1.0 / 1188.0,
        -691.0 / 360_360.0,
    ];
    terms.iter().rev().fold(0.0, |sum, term| sum * y + term) / x
}

/// The chance that Student's t of `dof` degrees of freedom lies above `t`, `t >= 0`.
pub fn student_above(t: f64, dof: f64) -> f64 {
    let all = dof + t * t;
    if all.is_infinite() {
        return 0.0;
    }
    0.5 * beta_of(dof / 2.0, 0.5, dof / all, t * t / all)
}

/// The density of Student's t.
pub fn student_density(t: f64, dof: f64) -> f64 {
    let tail = 0.5 * (dof + 1.0) * maths::log1p(t * t / dof);
    maths::exp(-tail - ln_beta(dof / 2.0, 0.5)) / dof.sqrt()
}

/// Where a falling function with the slope `-density` reaches `chance`, from a guess in `0 ..`: Newton's steps, and
/// halvings where they leave the bracket.
pub fn where_falls_to(
    chance: f64,
    guess: f64,
    above: impl Fn(f64) -> f64,
    density: impl Fn(f64) -> f64,
) -> f64 {
    let (mut low, mut high) = (0.0, f64::INFINITY);
    let mut x = guess.max(TINY);
    for _ in 0..200 {
        let off = above(x) - chance;
        if off > 0.0 {
            low = x;
        } else {
            high = x;
        }
        let next = x + off / density(x);
        let next = if next > low && next < high {
            next
        } else if high.is_infinite() {
            2.0 * x
        } else {
            f64::midpoint(low, high)
        };
        if (next - x).abs() <= 8.0 * f64::EPSILON * x {
            return next;
        }
        x = next;
    }
    x
}

fn away_from_zero(x: f64) -> f64 {
    if x.abs() < TINY { TINY } else { x }
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::distribution::{ChiSquared, Continuous, ContinuousCDF, StudentsT};

    fn near(got: f64, wanted: f64, what: &str) {
        assert!(
            (got - wanted).abs() <= 1e-13 * wanted.abs(),
            "{what}: {got} for {wanted}"
        );
    }

    /// Closed forms (DLMF 8.4.5, 8.4.8 and 8.17.5 with whole numbers).
    #[test]
    fn closed_forms() {
        for x in [1e-3_f64, 0.3, 1.0, 2.5, 9.0, 30.0] {
            near(gamma_upper(1.0, x), (-x).exp(), "Q(1, x)");
            near(
                gamma_upper(3.0, x),
                (-x).exp() * (1.0 + x + x * x / 2.0),
                "Q(3, x)",
            );
            near(gamma_lower(1.0, x), -(-x).exp_m1(), "P(1, x)");
        }
        for x in [0.01_f64, 0.2, 0.5, 0.9] {
            near(beta(1.0, 5.0, x), 1.0 - (1.0 - x).powi(5), "I(1, 5)");
            near(beta(2.0, 2.0, x), x * x * (3.0 - 2.0 * x), "I(2, 2)");
            near(
                beta(0.5, 0.5, x),
                2.0 * x.sqrt().asin() / std::f64::consts::PI,
                "I(1/2, 1/2)",
            );
        }
        near(beta(1e5, 1e5, 0.5), 0.5, "the middle");
        // Cauchy's distribution is Student's t of one degree.
        for t in [0.1_f64, 1.0, 12.7, 1e6] {
            near(
                student_above(t, 1.0),
                (1.0 / t).atan() / std::f64::consts::PI,
                "Cauchy",
            );
        }
    }

    /// A library that shares no code with this one, to what it keeps itself.
    #[test]
    fn another_library_agrees() {
        for dof in [0.7, 1.0, 3.0, 8.5, 31.0, 33.0, 120.0, 999.0, 50_000.0] {
            let (t, chi) = (
                StudentsT::new(0.0, 1.0, dof).unwrap(),
                ChiSquared::new(dof).unwrap(),
            );
            for x in [0.01, 0.5, 1.3, 2.0, 6.0] {
                let there = t.sf(x);
                assert!(
                    (student_above(x, dof) - there).abs() < 1e-9 * there,
                    "t {x} {dof}"
                );
                assert!(
                    (student_density(x, dof) / t.pdf(x) - 1.0).abs() < 1e-9,
                    "density {x} {dof}"
                );
                let y = dof * x.sqrt();
                let there = chi.sf(y);
                let here = gamma_upper(dof / 2.0, y / 2.0);
                assert!(
                    (here - there).abs() < 1e-9 * there + 1e-15,
                    "chi {y} {dof}: {here} {there}"
                );
            }
        }
    }

    #[test]
    fn nonsense_is_no_number_and_ends_are_ends() {
        assert!(gamma_upper(0.0, 1.0).is_nan() && gamma_upper(1.0, f64::NAN).is_nan());
        assert!(beta(1.0, -1.0, 0.5).is_nan() && beta(1.0, 1.0, 1.5).is_nan());
        assert!((beta(2.0, 3.0, 1.0) - 1.0).abs() < 1e-300 && beta(2.0, 3.0, 0.0) < 1e-300);
        assert!(gamma_upper(2.0, f64::INFINITY) < 1e-300 && gamma_lower(2.0, 0.0) < 1e-300);
    }
}
