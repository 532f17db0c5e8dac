//! Tolerance limits: how far out a limit must lie to hold a stated fraction of a unit's returns with a stated confidence.
//!
//! Belongs here: factors k of `mean + k s` for a normal sample, and sample sizes when nothing is known of the
//! distribution. Does not belong here: which edge is set from them (`constants`), confidence intervals of a mean (`interval`).
//!
//! Source: the quantities of ISO 16269-6 (its text was not seen); one side through the noncentral t distribution, two
//! sides by integration over the sample mean, both as in NIST/SEMATECH handbook 7.2.6.3. Three returns need k = 7.66 for
//! 95 % with 95 % confidence: a limit set from few returns is wide because it must be.

use crate::measure::statistics::interval::{normal_cdf, normal_pdf, normal_quantile, root};
use crate::measure::statistics::stats::real;
use statrs::function::gamma::checked_gamma_ur;

/// Standard normal values beyond this have no weight.
const FAR: f64 = 9.0;

/// Steps of the integration (Simpson); an even number. 400 keep 9 digits of k.
const STEPS: u32 = 400;

/// Factor k such that `mean + k s` of a normal sample of `n` lies above a fraction `p` of the population with
/// confidence `c`. The same factor below the mean for a lower limit.
///
/// `None` for `n < 2` or `p`, `c` outside 0.5 ..< 1.
#[must_use]
pub fn one_sided_factor(n: usize, p: f64, c: f64) -> Option<f64> {
    let sample = Sample::new(n, p, c)?;
    let root_n = real(n).sqrt();
    let delta = normal_quantile(p) * root_n;
    // P(Z + delta <= k sqrt(n) S): for Z < -delta always, else by how often S is large enough.
    sample.factor(|k| {
        let inside = |z: f64| normal_pdf(z) * sample.spread_above((z + delta) / (k * root_n));
        normal_cdf(-delta) + integral(-delta.min(FAR), FAR, inside)
    })
}

/// Factor k such that `mean - k s` to `mean + k s` of a normal sample of `n` holds a fraction `p` of the population with
/// confidence `c`.
///
/// `None` for `n < 2` or `p`, `c` outside 0.5 ..< 1.
#[must_use]
pub fn two_sided_factor(n: usize, p: f64, c: f64) -> Option<f64> {
    let sample = Sample::new(n, p, c)?;
    let root_n = real(n).sqrt();
    // Half the width that holds p when the mean is off by m standard deviations.
    let half_width = |m: f64| {
        let holds = |r: f64| normal_cdf(m + r) - normal_cdf(m - r);
        root(0.0, m + FAR, |r| holds(r) - p)
    };
    // The widths do not depend on k: once for all.
    let grid: Vec<(f64, f64)> = (0..=STEPS)
        .map(|i| FAR * f64::from(i) / f64::from(STEPS))
        .map(|z| (z, half_width(z / root_n)))
        .collect();
    sample.factor(|k| {
        let values = grid
            .iter()
            .map(|&(z, r)| 2.0 * normal_pdf(z) * sample.spread_above(r / k));
        simpson(values, FAR / f64::from(STEPS))
    })
}

/// Fewest values of which the largest lies above a fraction `p` of any population with confidence `c`: `1 - p^n >= c`.
///
/// `None` for `p` or `c` outside 0 < 1.
#[must_use]
pub fn least_count_one_sided(p: f64, c: f64) -> Option<usize> {
    least_count(p, c, |n| 1.0 - p.powi(n))
}

/// Fewest values of which the smallest and the largest hold a fraction `p` of any population between them with
/// confidence `c`: `1 - n p^(n-1) + (n-1) p^n >= c`.
///
/// `None` for `p` or `c` outside 0 < 1.
#[must_use]
pub fn least_count_two_sided(p: f64, c: f64) -> Option<usize> {
    least_count(p, c, |n| {
        1.0 - f64::from(n) * p.powi(n - 1) + f64::from(n - 1) * p.powi(n)
    })
}

fn least_count(p: f64, c: f64, confidence: impl Fn(i32) -> f64) -> Option<usize> {
    let proper = |v: f64| v > 0.0 && v < 1.0;
    if !(proper(p) && proper(c)) {
        return None;
    }
    let mut high = 2;
    while confidence(high) < c {
        high = high.checked_mul(2)?;
    }
    let mut low = 1;
    while high - low > 1 {
        let middle = i32::midpoint(low, high);
        if confidence(middle) < c {
            low = middle;
        } else {
            high = middle;
        }
    }
    let least = if confidence(low) >= c { low } else { high };
    usize::try_from(least).ok()
}

/// What is asked of a normal sample.
#[derive(Debug, Clone, Copy)]
struct Sample {
    dof: f64,
    confidence: f64,
}

impl Sample {
    fn new(n: usize, p: f64, c: f64) -> Option<Self> {
        let proper = |v: f64| (0.5..1.0).contains(&v);
        (n >= 2 && proper(p) && proper(c)).then(|| Self {
            dof: real(n) - 1.0,
            confidence: c,
        })
    }

    /// Probability that the sample's standard deviation is at least `ratio` of the population's.
    fn spread_above(&self, ratio: f64) -> f64 {
        let x = self.dof * ratio * ratio / 2.0;
        if x <= 0.0 {
            return 1.0;
        }
        checked_gamma_ur(self.dof / 2.0, x).unwrap_or(f64::NAN)
    }

    /// The factor at which a rising confidence reaches the one asked for.
    fn factor(&self, confidence: impl Fn(f64) -> f64) -> Option<f64> {
        let mut high = 1.0;
        while confidence(high) < self.confidence {
            high *= 2.0;
            if high > 1e6 {
                return None;
            }
        }
        let k = root(0.0, high, |k| confidence(k.max(1e-9)) - self.confidence);
        k.is_finite().then_some(k)
    }
}

fn integral(from: f64, to: f64, f: impl Fn(f64) -> f64) -> f64 {
    let step = (to - from) / f64::from(STEPS);
    simpson((0..=STEPS).map(|i| f(from + step * f64::from(i))), step)
}

/// Simpson's rule over an odd number of values.
fn simpson(values: impl Iterator<Item = f64>, step: f64) -> f64 {
    let weighted = values.enumerate().map(|(i, value)| {
        let i = u32::try_from(i).unwrap_or(0);
        let weight = match i {
            0 | STEPS => 1.0,
            _ if i % 2 == 1 => 4.0,
            _ => 2.0,
        };
        weight * value
    });
    weighted.sum::<f64>() * step / 3.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cannot_be_asked() {
        assert!(one_sided_factor(1, 0.95, 0.95).is_none());
        assert!(one_sided_factor(0, 0.95, 0.95).is_none());
        assert!(two_sided_factor(5, 1.0, 0.95).is_none());
        assert!(two_sided_factor(5, 0.95, f64::NAN).is_none());
        assert!(least_count_one_sided(0.0, 0.9).is_none());
        assert!(least_count_two_sided(0.9, 1.0).is_none());
    }

    #[test]
    fn many_values_need_the_quantile_alone() {
        // By hand: k tends to the normal quantile, from above.
        let k = one_sided_factor(100_000, 0.95, 0.5).unwrap();
        assert!((k - 1.644_853_627).abs() < 1e-4, "{k}");
    }
}
