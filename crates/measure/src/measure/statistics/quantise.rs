//! What rounding to whole codes does to a mean and to a standard deviation, and what it can hide.

use crate::measure::statistics::interval::{bisect, normal_cdf, sd_interval};
use crate::units::maths;

/// Standard deviation of the rounding error of an ideal ADC, in codes: 1/sqrt(12).
pub const ROUNDING_RMS: f64 = 0.288_675_134_594_812_9;

/// Measured standard deviations above this do not depend on where the mean lies (to 1e-8).
const DITHERED: f64 = 1.5;

/// Standard deviation of the codes when gaussian noise of `sigma` codes sits `offset` codes away from a code's centre.
///
/// Exact: probabilities of the codes within 9 sigma, summed. `sigma >= 0`.
pub fn code_sd(sigma: f64, offset: f64) -> f64 {
    if sigma <= 0.0 {
        return 0.0;
    }
    let reach = (9.0 * sigma + offset.abs() + 1.0).ceil();
    let (mut total, mut first, mut second) = (0.0, 0.0, 0.0);
    let mut code = -reach;
    while code <= reach {
        let (a, b) = ((code - 0.5 - offset) / sigma, (code + 0.5 - offset) / sigma);
        // Both ends on the same side of the mean: subtract the small tails, not numbers near one.
        let p = if a > 0.0 {
            normal_cdf(-a) - normal_cdf(-b)
        } else {
            normal_cdf(b) - normal_cdf(a)
        };
        total += p;
        first += p * code;
        second += p * code * code;
        code += 1.0;
    }
    let mean = first / total;
    (second / total - mean * mean).max(0.0).sqrt()
}

/// The least noise that could show a standard deviation of `measured` codes: the mean half way between two codes.
pub fn least_input_sd(measured: f64) -> f64 {
    if measured <= 0.5 {
        return 0.0;
    }
    if measured > DITHERED {
        return (measured * measured - ROUNDING_RMS * ROUNDING_RMS).sqrt();
    }
    bisect(0.0, measured + 1.0, |sigma| {
        if sigma < 0.05 {
            -1.0
        } else {
            code_sd(sigma, 0.5) - measured
        }
    })
}

/// The most noise that could show a standard deviation of `measured` codes: the mean at a code's centre.
pub fn most_input_sd(measured: f64) -> f64 {
    bisect(0.0, measured + 1.0, |sigma| code_sd(sigma, 0.0) - measured)
}

/// Half width of the rectangle that stands for the rounding left in the mean of many codes with noise of `sigma`.
///
/// The rounding error of a mean is a saw-tooth of where the mean lies; noise smooths it, harmonic k by
/// exp(-2 pi^2 k^2 sigma^2). Its rms over all places is `sqrt(sum_k exp(-4 pi^2 k^2 sigma^2) / (2 pi^2 k^2))`,
/// 1/sqrt(12) without noise and below 0.003 from half a code on; times sqrt(3) as a half width.
pub fn mean_error_bound(sigma: f64) -> f64 {
    if sigma <= 0.0 {
        return 0.5;
    }
    let square: f64 = (1..=400)
        .map(|k| std::f64::consts::PI * f64::from(k))
        .map(|w| maths::exp(-4.0 * w * w * sigma * sigma) / (2.0 * w * w))
        .take_while(|term| *term > 1e-40)
        .sum();
    (3.0 * square).sqrt().min(0.5)
}

/// 95 % interval of the noise as this ADC shows it, wherever between two codes the mean happens to lie.
///
/// `measured` is the standard deviation of codes with `dof` effective degrees of freedom. With noise enough to
/// dither the rounding this is the chi-square interval. Without, all that is sure is which noise the codes could
/// hide or magnify: constant codes give 0 up to 0.5 (the same tiny noise half way between two codes reads 0.5).
pub fn noise_interval(measured: f64, dof: f64) -> (f64, f64) {
    let (low, high) = sd_interval(measured, dof);
    if low > DITHERED || high.is_infinite() {
        return (low, high);
    }
    // A code that none of `dof` samples showed may still turn up with probability 3 / dof (the rule of three).
    let high = maths::hypot(high, (3.0 / dof).min(1.0).sqrt());
    let wide = code_sd(most_input_sd(high), 0.5).max(0.5);
    let narrow = code_sd(least_input_sd(low), 0.0);
    (low.min(narrow), high.max(wide))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::reference_file::reference;

    /// Quantised gaussian, exact by summing normal probabilities with scipy (file 11).
    #[test]
    fn quantised_noise_table() {
        let file = reference("11-adc.json");
        let tol = file["tolerance"]["closed_form_relative"].as_f64().unwrap();
        for row in file["expected"]["quantized_gaussian"].as_array().unwrap() {
            let sigma = row["true_sd_lsb"].as_f64().unwrap();
            for offset in [0.0, 0.25, 0.5] {
                let cell = &row[format!("mean_offset_{offset:?}")]["measured_sd"];
                let wanted = cell.as_f64().unwrap();
                let got = code_sd(sigma, offset);
                assert!(
                    (got / wanted - 1.0).abs() <= tol,
                    "{sigma} {offset}: {got} for {wanted}"
                );
            }
            // Largest bias of the mean in the table is at a quarter code; the rectangle must reach it.
            let bias = row["mean_offset_0.25"]["mean_bias"].as_f64().unwrap();
            // (Biases below 1e-15 in the table are the rounding of its own arithmetic.)
            assert!(mean_error_bound(sigma) >= bias.abs() - 1e-15, "{sigma}");
        }
        let rms = file["expected"]["ideal"]["10"]["q_rms_lsb"]
            .as_f64()
            .unwrap();
        assert!((ROUNDING_RMS - rms).abs() < 1e-15);
        assert!((mean_error_bound(1e-9) / 3.0_f64.sqrt() - rms).abs() < 1e-3);
    }

    #[test]
    fn inverses_invert() {
        for sigma in [0.2, 0.4, 0.7, 2.0] {
            assert!((most_input_sd(code_sd(sigma, 0.0)) - sigma).abs() < 1e-9);
        }
        for sigma in [0.4, 0.7, 2.0] {
            assert!((least_input_sd(code_sd(sigma, 0.5)) - sigma).abs() < 1e-6);
        }
    }

    #[test]
    fn constant_codes_hide_up_to_half_a_code() {
        let (low, high) = noise_interval(0.0, 2000.0);
        assert!(
            low.abs() < 1e-12 && (0.5..0.52).contains(&high),
            "{low} {high}"
        );
        // Loud noise: the chi-square interval and nothing else.
        assert_eq!(noise_interval(5.0, 100.0), sd_interval(5.0, 100.0));
        // In between: never narrower than chi-square.
        let (low, high) = noise_interval(0.55, 500.0);
        let (a, b) = sd_interval(0.55, 500.0);
        assert!(low <= a && high >= b);
        assert!(noise_interval(1.0, 0.0).1.is_infinite());
    }
}
