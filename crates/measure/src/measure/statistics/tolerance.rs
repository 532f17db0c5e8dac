//! Tolerance limits: how far out a limit must lie to hold a stated fraction of a unit's returns with a stated confidence.
//!
//! Factors k of `mean + k s` for a normal sample.
//!
//! Source: the quantities of ISO 16269-6 (its text was not seen); one side through the noncentral t distribution, two
//! sides by integration over the sample mean, both as in NIST/SEMATECH handbook 7.2.6.3. Three returns need k = 7.66 for
//! 95 % with 95 % confidence: a limit set from few returns is wide because it must be.

use crate::measure::statistics::chances::gamma_upper;
use crate::measure::statistics::interval::{bisect, normal_cdf, normal_pdf, normal_quantile};
use crate::measure::statistics::moments::real;

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
        bisect(0.0, m + FAR, |r| holds(r) - p)
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
        gamma_upper(self.dof / 2.0, x)
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
        let k = bisect(0.0, high, |k| confidence(k.max(1e-9)) - self.confidence);
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
    }

    #[test]
    fn many_values_need_the_quantile_alone() {
        // By hand: k tends to the normal quantile, from above.
        let k = one_sided_factor(100_000, 0.95, 0.5).unwrap();
        assert!((k - 1.644_853_627).abs() < 1e-4, "{k}");
    }
}
