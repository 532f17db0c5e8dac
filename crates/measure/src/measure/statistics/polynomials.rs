//! Least-squares polynomials of growing order over points, by polynomials orthonormal on those very points.
//!
//! Source: Forsythe 1957 (orthogonal polynomials on a point set, no ill-conditioned normal equations); order by the
//! Bayesian information criterion with known noise (Schwarz 1978).

use crate::measure::statistics::moments::real;
use crate::units::maths;

/// Fitted values at the points for one order.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PolynomialFit {
    /// Number of coefficients: order + 1.
    pub coefficients: usize,
    /// Value at each point.
    pub fitted: Vec<f64>,
    /// Sum of squared residuals, each divided by its variance.
    pub chi_square: f64,
}

/// Fits of 1, 2, ... `most` coefficients to `y` at `x`, each point with standard deviation `sd` (> 0). Fewer fits when
/// the points carry fewer.
pub(crate) fn fits(x: &[f64], y: &[f64], sd: &[f64], most: usize) -> Vec<PolynomialFit> {
    let dot = |a: &[f64], b: &[f64]| -> f64 {
        a.iter()
            .zip(b)
            .zip(sd)
            .map(|((a, b), sd)| a * b / (sd * sd))
            .sum()
    };
    let mut basis: Vec<Vec<f64>> = Vec::new();
    let mut fitted = vec![0.0; x.len()];
    let mut out = Vec::new();
    for coefficients in 1..=most.min(x.len()) {
        let mut next: Vec<f64> = match basis.last() {
            None => vec![1.0; x.len()],
            Some(last) => last.iter().zip(x).map(|(p, x)| p * x).collect(),
        };
        let before = dot(&next, &next);
        // Twice: once leaves rounding, twice is enough (Kahan, Parlett).
        for _ in 0..2 {
            for known in &basis {
                let share = dot(&next, known);
                for (p, k) in next.iter_mut().zip(known) {
                    *p -= share * k;
                }
            }
        }
        let norm = dot(&next, &next).sqrt();
        if norm.is_nan() || norm * norm <= 1e-20 * before {
            break;
        }
        for p in &mut next {
            *p /= norm;
        }
        let share = dot(y, &next);
        for (f, p) in fitted.iter_mut().zip(&next) {
            *f += share * p;
        }
        let rest: Vec<f64> = y.iter().zip(&fitted).map(|(y, f)| y - f).collect();
        out.push(PolynomialFit {
            coefficients,
            fitted: fitted.clone(),
            chi_square: dot(&rest, &rest),
        });
        basis.push(next);
    }
    out
}

/// The polynomial that the noise justifies: smallest `chi_square + coefficients ln n`; `None` when taking every point
/// as it is costs less, as it does for a curve with a kink that stands far out of the noise.
pub(crate) fn justified(x: &[f64], y: &[f64], sd: &[f64], most: usize) -> Option<PolynomialFit> {
    let price = maths::ln(real(x.len()));
    let cost = |fit: &PolynomialFit| fit.chi_square + price * real(fit.coefficients);
    let best = fits(x, y, sd, most)
        .into_iter()
        .min_by(|a, b| cost(a).total_cmp(&cost(b)))?;
    (cost(&best) < price * real(x.len())).then_some(best)
}

/// Weights of the points in the value at `at` of their least-squares polynomial: what each point's y counts there.
pub(crate) fn weights(x: &[f64], sd: &[f64], coefficients: usize, at: f64) -> Vec<f64> {
    let with = |values: &[f64], more: f64| [values, &[more]].concat();
    // One point more, of no weight: the fit's value there is the one asked for.
    let (x, sd) = (with(x, at), with(sd, f64::INFINITY));
    (0..x.len() - 1)
        .map(|i| {
            let mut y = vec![0.0; x.len()];
            y[i] = 1.0;
            fits(&x, &y, &sd, coefficients)
                .pop()
                .and_then(|fit| fit.fitted.last().copied())
                .unwrap_or(0.0)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_parabola_is_found_again() {
        // By hand: y = 2 - 3x + x^2, exact from three coefficients on, not before.
        let x: Vec<f64> = (0..8).map(f64::from).collect();
        let y: Vec<f64> = x.iter().map(|x| 2.0 - 3.0 * x + x * x).collect();
        let fits = fits(&x, &y, &[0.5; 8], 8);
        assert_eq!(fits.len(), 8);
        assert!(fits[1].chi_square > 1.0);
        assert!(fits[2].chi_square < 1e-18);
        let best = justified(&x, &y, &[0.5; 8], 8).unwrap();
        assert_eq!(best.coefficients, 3);
    }

    /// The certified quadratic of NIST `StRD`, Pontius: a load cell's real calibration (file 22).
    #[test]
    fn the_load_cell_of_nist() {
        use crate::measure::reference_file::{numbers, reference};
        let file = reference("22-nist-strd-pontius.json");
        let (x, y) = (numbers(&file["inputs"]["x"]), numbers(&file["inputs"]["y"]));
        let tol = file["tolerance"]["quadratic_relative"].as_f64().unwrap();
        let certified = |name: &str| {
            let value = &file["expected"]["certified_quadratic"][name]["value"];
            value.as_f64().unwrap()
        };
        let [b0, b1, b2] = ["b0", "b1", "b2"].map(certified);
        // Largest load 1: the fit's own advice for doubles.
        let top = x.iter().copied().fold(0.0, f64::max);
        let scaled: Vec<f64> = x.iter().map(|x| x / top).collect();
        let fit = fits(&scaled, &y, &vec![1.0; x.len()], 3).pop().unwrap();
        assert_eq!(fit.coefficients, 3);
        for (x, fitted) in x.iter().zip(&fit.fitted) {
            let wanted = b0 + b1 * x + b2 * x * x;
            assert!(
                (fitted - wanted).abs() <= tol * wanted,
                "{x}: {fitted} for {wanted}"
            );
        }
        let residual_sd = (fit.chi_square / (real(x.len()) - 3.0)).sqrt();
        let wanted = file["expected"]["certified_residual_sd"].as_f64().unwrap();
        assert!((residual_sd / wanted - 1.0).abs() <= tol, "{residual_sd}");
        let middle = y.iter().sum::<f64>() / real(y.len());
        let all: f64 = y.iter().map(|y| (y - middle).powi(2)).sum();
        let r_squared = 1.0 - fit.chi_square / all;
        let wanted = file["expected"]["certified_r_squared"].as_f64().unwrap();
        assert!((r_squared - wanted).abs() <= 1e-14, "{r_squared}");
        // Curvature: the second difference of three equally spaced fitted values.
        let step = x[1] - x[0];
        let curvature = (fit.fitted[2] - 2.0 * fit.fitted[1] + fit.fitted[0]) / (2.0 * step * step);
        assert!(
            (curvature / b2 - 1.0).abs() <= 1e-7,
            "{curvature:e} for {b2:e}"
        );
    }

    #[test]
    fn a_spike_is_left_as_it_is() {
        let x: Vec<f64> = (0..21).map(f64::from).collect();
        let mut y = vec![0.0; 21];
        y[10] = 50.0;
        assert!(justified(&x, &y, &[1.0; 21], 10).is_none());
    }

    #[test]
    fn weights_carry_a_parabola_on() {
        // By hand: a constant is the mean, and a parabola through three points is carried on exactly.
        let mean = weights(&[0.0, 1.0, 2.0], &[1.0; 3], 1, 9.0);
        assert!(mean.iter().all(|w| (w - 1.0 / 3.0).abs() < 1e-14));
        let carried = weights(&[0.0, 1.0, 2.0], &[1.0; 3], 3, 3.0);
        for (weight, by_hand) in carried.iter().zip([1.0, -3.0, 3.0]) {
            assert!((weight - by_hand).abs() < 1e-12, "{weight} {by_hand}");
        }
    }

    /// tests/reference/13: Savitzky and Golay 1964, corrected 1972; exact fractions and scipy agree.
    #[test]
    fn every_row_of_the_published_weights() {
        use crate::measure::reference_file::{numbers, reference};
        let file = reference("13-savitzky-golay.json");
        let rows = file["expected"]["tables"].as_array().unwrap();
        assert_eq!(rows.len(), 16);
        for row in rows {
            let number = |key: &str| usize::try_from(row[key].as_u64().unwrap()).unwrap();
            let (width, degree) = (number("width"), number("degree"));
            let x: Vec<f64> = (0..width).map(|i| real(i) - real(width / 2)).collect();
            // Differences that are exact up to the fourth degree make the derivatives at the centre.
            let stencil: &[(f64, f64)] = match number("derivative") {
                0 => &[(0.0, 12.0)],
                1 => &[(-2.0, 1.0), (-1.0, -8.0), (1.0, 8.0), (2.0, -1.0)],
                _ => &[
                    (-2.0, -1.0),
                    (-1.0, 16.0),
                    (0.0, -30.0),
                    (1.0, 16.0),
                    (2.0, -1.0),
                ],
            };
            let mut got = vec![0.0; width];
            for (at, share) in stencil {
                let weights = weights(&x, &vec![1.0; width], degree + 1, *at);
                for (sum, weight) in got.iter_mut().zip(weights) {
                    *sum += share / 12.0 * weight;
                }
            }
            let norm = row["norm"].as_f64().unwrap();
            let want: Vec<f64> = numbers(&row["integers"]).iter().map(|w| w / norm).collect();
            assert_eq!(got.len(), want.len());
            for (got, want) in got.iter().zip(&want) {
                assert!((got - want).abs() < 1e-14, "{row}: {got} for {want}");
            }
            let gain = got.iter().map(|w| w * w).sum::<f64>().sqrt();
            assert!((gain - row["white_noise_gain"].as_f64().unwrap()).abs() < 1e-12);
        }
    }

    #[test]
    fn none_one_and_equal_points() {
        assert!(fits(&[], &[], &[], 3).is_empty());
        assert_eq!(fits(&[1.0], &[2.0], &[1.0], 3).len(), 1);
        assert_eq!(fits(&[1.0; 4], &[2.0; 4], &[1.0; 4], 3).len(), 1);
    }
}
