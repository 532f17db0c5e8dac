//! Moments, autocorrelation and what correlation costs: numbers about one series of numbers.

/// A count as a real number. Counts of samples stay far below 2^53, where this is exact.
#[allow(clippy::cast_precision_loss)] // 2^53 samples are 285 000 years at 1 kHz
#[must_use]
pub fn real(count: usize) -> f64 {
    count as f64
}

/// Mean by compensated summation (Neumaier 1974). NaN when empty.
#[must_use]
pub fn mean(xs: &[f64]) -> f64 {
    let (mut sum, mut lost) = (0.0_f64, 0.0_f64);
    for &x in xs {
        let next = sum + x;
        lost += if sum.abs() >= x.abs() {
            (sum - next) + x
        } else {
            (x - next) + sum
        };
        sum = next;
    }
    (sum + lost) / real(xs.len())
}

/// Sum of squares about the mean, two passes with the correction term of Chan, Golub and `LeVeque` 1983.
fn sum_of_squares(xs: &[f64], mean: f64) -> f64 {
    let (mut squares, mut rest) = (0.0, 0.0);
    for &x in xs {
        let d = x - mean;
        squares += d * d;
        rest += d;
    }
    let corrected = squares - rest * rest / real(xs.len());
    // Not `max`: it would turn NaN into 0.
    if corrected < 0.0 { 0.0 } else { corrected }
}

/// Sample variance, divisor `n - 1`. NaN below two values.
pub fn variance(xs: &[f64]) -> f64 {
    if xs.len() < 2 {
        return f64::NAN;
    }
    sum_of_squares(xs, mean(xs)) / (real(xs.len()) - 1.0)
}

/// Sample standard deviation, divisor `n - 1`. NaN below two values.
#[must_use]
pub fn sd(xs: &[f64]) -> f64 {
    variance(xs).sqrt()
}

/// Autocorrelation at `lag`: both sums about the grand mean, `n - lag` products over `n` squares (the NIST form).
///
/// NaN for a constant series or when `lag >= n`.
pub fn autocorrelation(xs: &[f64], lag: usize) -> f64 {
    if lag >= xs.len() {
        return f64::NAN;
    }
    let centre = mean(xs);
    let products: f64 = xs
        .iter()
        .zip(&xs[lag..])
        .map(|(a, b)| (a - centre) * (b - centre))
        .sum();
    let squares = sum_of_squares(xs, centre);
    if squares > 0.0 {
        products / squares
    } else {
        f64::NAN
    }
}

/// The mean of a correlated series and what its batches say about it. See [`batch_uncertainty`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BatchUncertainty {
    /// Standard uncertainty of the series' mean.
    pub u: f64,
    /// Its degrees of freedom.
    pub dof: f64,
}

/// Standard uncertainty of a mean from the scatter of batch means (method of batch means; textbooks of
/// simulation output analysis).
///
/// `batches` are means of consecutive stretches of equal length of a series from which `fitted` parameters were
/// taken out (1: a mean, 2: a straight line). Batches longer than the correlation are independent whatever the
/// correlation inside them is, and mains hum averages out of them. While neighbours still correlate (lag-1 above
/// 0.3) and at least 8 would be left, they are merged in pairs. `None` when there are too few.
pub fn batch_uncertainty(batches: &[f64], fitted: usize) -> Option<BatchUncertainty> {
    let mut means = batches.to_vec();
    while means.len() >= 16 && autocorrelation(&means, 1) > 0.3 {
        means = means
            .chunks_exact(2)
            .map(|pair| f64::midpoint(pair[0], pair[1]))
            .collect();
    }
    if means.len() <= fitted {
        return None;
    }
    let dof = real(means.len() - fitted);
    let squares = sum_of_squares(&means, mean(&means));
    Some(BatchUncertainty {
        u: (squares / dof / real(means.len())).sqrt(),
        dof,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::reference_file::{numbers, reference};

    fn texts(value: &serde_json::Value) -> Vec<f64> {
        let parse = |v: &serde_json::Value| {
            v.as_f64()
                .unwrap_or_else(|| v.as_str().unwrap().parse().unwrap())
        };
        value.as_array().unwrap().iter().map(parse).collect()
    }

    /// NIST `StRD`, univariate, `NumAcc1` to 4 (file 02).
    #[test]
    fn nist_numacc_keeps_its_digits() {
        let file = reference("02-nist-strd-numacc.json");
        for set in ["NumAcc1", "NumAcc2", "NumAcc3", "NumAcc4"] {
            let expected = &file["expected"][set];
            let xs = if expected["all"].is_array() {
                texts(&expected["all"])
            } else {
                let pair = texts(&expected["then_alternating"]);
                let first: f64 = expected["first"].as_str().unwrap().parse().unwrap();
                std::iter::once(first)
                    .chain(pair.iter().copied().cycle().take(1000))
                    .collect()
            };
            let tolerance = &file["tolerance"];
            let close = |value: f64, wanted: &serde_json::Value, tol: f64| {
                let wanted = wanted.as_f64().unwrap();
                assert!((value - wanted).abs() <= tol, "{set}: {value} for {wanted}");
            };
            let centre = expected["mean"].as_f64().unwrap();
            let tol = tolerance["mean_relative"].as_f64().unwrap() * centre;
            close(mean(&xs), &expected["mean"], tol);
            let tol =
                tolerance["sd_relative"][set].as_f64().unwrap() * expected["sd"].as_f64().unwrap();
            close(sd(&xs), &expected["sd"], tol);
            let tol = tolerance["lag1_absolute"][set].as_f64().unwrap();
            close(
                autocorrelation(&xs, 1),
                &expected["lag1_autocorrelation"],
                tol,
            );
        }
    }

    /// NIST `StRD`, univariate, Mavro, Michelso, Lew: real, correlated measurements (file 20).
    #[test]
    fn nist_observed_series() {
        let file = reference("20-nist-strd-observed.json");
        let tol = |name: &str| file["tolerance"][name].as_f64().unwrap();
        for set in ["Mavro", "Michelso", "Lew"] {
            let xs = numbers(&file["inputs"][set]);
            let expected = |name: &str| file["expected"][set][name].as_f64().unwrap();
            let wanted = expected("mean");
            assert!((mean(&xs) - wanted).abs() <= tol("mean_relative") * wanted.abs());
            let wanted = expected("sd");
            assert!((sd(&xs) - wanted).abs() <= tol("sd_relative") * wanted);
            let wanted = expected("lag1_autocorrelation");
            assert!((autocorrelation(&xs, 1) - wanted).abs() <= tol("lag1_absolute"));
        }
    }

    /// Seeded series by statsmodels (file 12).
    #[test]
    fn autocorrelation_of_the_reference() {
        let file = reference("12-autocorrelation.json");
        for (name, series) in file["inputs"]["series"].as_object().unwrap() {
            let xs = numbers(series);
            let told = |what: &str| file["expected"]["series"][name][what].as_f64().unwrap();
            assert!((mean(&xs) - told("mean")).abs() <= 1e-10 * mean(&xs).abs());
            assert!((sd(&xs) / told("sd_n_minus_1") - 1.0).abs() <= 1e-10);
            let expected = numbers(&file["expected"]["series"][name]["acf_lags_0_25_sum_over_n"]);
            for (lag, wanted) in expected.iter().enumerate() {
                assert!((autocorrelation(&xs, lag) - wanted).abs() <= 1e-10);
            }
        }
    }

    #[test]
    fn none_one_two_constant_nan() {
        assert!(mean(&[]).is_nan());
        assert!((mean(&[3.0]) - 3.0).abs() < f64::EPSILON);
        assert!(variance(&[3.0]).is_nan());
        assert!((variance(&[1.0, 3.0]) - 2.0).abs() < 1e-15); // by hand: 1 + 1 over 1
        assert!(variance(&[7.0; 9]).abs() < f64::EPSILON);
        assert!(autocorrelation(&[7.0; 9], 1).is_nan());
        assert!(autocorrelation(&[1.0], 1).is_nan());
        assert!(variance(&[1.0, f64::NAN]).is_nan());
        assert!(batch_uncertainty(&[1.0, 2.0], 2).is_none());
    }

    #[test]
    fn batch_uncertainty_by_hand() {
        // Means 1 2 3 4, one fitted: variance 5/3, over 4 batches.
        let got = batch_uncertainty(&[1.0, 2.0, 3.0, 4.0], 1).unwrap();
        assert!((got.u - (5.0_f64 / 12.0).sqrt()).abs() < 1e-15);
        assert!((got.dof - 3.0).abs() < f64::EPSILON);
        // A slow wave: 32 neighbours that correlate are merged to 8.
        let wave: Vec<f64> = (0..32).map(|i| (f64::from(i) * 0.2).sin()).collect();
        assert!(batch_uncertainty(&wave, 2).unwrap().dof <= 6.0);
    }
}
