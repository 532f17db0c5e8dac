//! A stretch of a capture as means of equal stretches of time: few enough to look at their correlation.

use crate::measure::statistics::least_squares::LineFit;
use crate::measure::statistics::moments::{autocorrelation, real};
use crate::units::{Code, seconds_from_us};

/// Blocks last at least this: 5 cycles of 50 Hz, 6 of 60 Hz.
const SHORTEST_S: f64 = 0.1;

/// Most blocks; longer stretches get longer blocks.
const MOST: usize = 512;

/// Means of equal numbers of consecutive samples.
#[derive(Debug, Clone, PartialEq)]
pub struct Blocks {
    /// Mean time of each block, seconds after the stretch's first sample.
    pub time_s: Vec<f64>,
    /// Mean code of each block.
    pub mean: Vec<f64>,
    /// Samples in a block; a shorter rest at the end is left out.
    pub length: usize,
    /// How long a block lasts, seconds.
    pub block_s: f64,
}

/// Cuts a stretch into blocks of at least 0.1 s, at most 512 of them. Stretches that would give fewer than 16 blocks
/// are cut into shorter ones, down to single samples. `None` below two samples, or when time stands still.
pub fn block_means(t_us: &[u64], codes: &[Code]) -> Option<Blocks> {
    let n = t_us.len().min(codes.len());
    let (first, last) = (*t_us.first()?, *t_us.get(n.checked_sub(1)?)?);
    let lasted = seconds_from_us(last.saturating_sub(first));
    if n < 2 || lasted <= 0.0 {
        return None;
    }
    let period = lasted / real(n - 1);
    let length = samples_in(SHORTEST_S / period)
        .max(n.div_ceil(MOST))
        .min(n / 16)
        .max(1);
    let since = |t: u64| seconds_from_us(t.saturating_sub(first));
    let (time_s, mean) = t_us[..n]
        .chunks_exact(length)
        .zip(codes[..n].chunks_exact(length))
        .map(|(times, codes)| {
            let total: u64 = codes.iter().map(|code| u64::from(code.0)).sum();
            let time: f64 = times.iter().map(|t| since(*t)).sum();
            (time / real(length), whole(total) / real(length))
        })
        .unzip();
    Some(Blocks {
        time_s,
        mean,
        length,
        block_s: period * real(length),
    })
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // positive, saturates
fn samples_in(count: f64) -> usize {
    count.round().max(1.0) as usize
}

#[allow(clippy::cast_precision_loss)] // sums of codes stay below 2^53
fn whole(total: u64) -> f64 {
    total as f64
}

/// A least-squares line with the uncertainty of its slope under correlated residuals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SlopeFit {
    /// Slope, y per x.
    pub slope: f64,
    /// Standard deviation of the residuals, divisor `n - 2`.
    pub residual_sd: f64,
    /// Standard error of the slope as if the residuals were independent.
    pub naive_u: f64,
    /// Lag-1 autocorrelation of the residuals.
    pub lag1: f64,
    /// Standard error of the slope for residuals of a first-order autoregression.
    pub u: f64,
    /// Degrees of freedom of `u`.
    pub dof: f64,
}

/// Fits a line and its slope's uncertainty, correlation included. `None` below four points or without spread in x.
///
/// The naive standard error is multiplied by what residuals of a first-order autoregression do to a slope fitted to
/// this many equally spaced points ([`slope_inflation`]), with their lag-1 correlation freed of the bias that fitting
/// two parameters gives it, `(2 + 4 r)/n` (Kendall 1954 and Marriott and Pope 1954, for a line from memory); negative
/// correlation, which would shrink it, is not taken advantage of. Degrees of freedom: those of a variance of as many
/// correlated values, less the two fitted.
pub fn fit_slope(x: &[f64], y: &[f64]) -> Option<SlopeFit> {
    let n = x.len().min(y.len());
    if n < 4 {
        return None;
    }
    let fit = LineFit::through(x.iter().copied().zip(y.iter().copied()))?;
    let (residual_sd, naive_u) = (fit.residual_sd?, fit.u_slope()?);
    let residuals: Vec<f64> = x.iter().zip(y).map(|(&x, y)| y - fit.line.at(x)).collect();
    let lag1 = autocorrelation(&residuals, 1);
    let lag1 = if lag1.is_finite() { lag1 } else { 0.0 };
    let mended = (lag1 + (2.0 + 4.0 * lag1) / real(n)).clamp(0.0, 0.99);
    let square = mended * mended;
    Some(SlopeFit {
        slope: fit.line.slope,
        residual_sd,
        naive_u,
        lag1,
        u: naive_u * slope_inflation(mended, n),
        dof: (real(n) * (1.0 - square) / (1.0 + square) - 2.0).max(1.0),
    })
}

/// By how much residuals of a first-order autoregression, `0 <= phi < 1`, multiply the standard error of a slope fitted
/// to `n` equally spaced points, compared with independent ones of the same variance.
///
/// Exact: `sqrt(sum_ij w_i w_j phi^|i-j| / sum_i w_i^2)`, `w` the distances from the middle (file 25); tends to
/// `sqrt((1 + phi)/(1 - phi))` for long series.
pub fn slope_inflation(phi: f64, n: usize) -> f64 {
    let middle = (real(n) - 1.0) / 2.0;
    let (mut carried, mut own, mut all) = (0.0, 0.0, 0.0);
    for i in 0..n {
        let w = real(i) - middle;
        own += w * w;
        all += w * (w + 2.0 * carried);
        carried = phi * (carried + w);
    }
    if own > 0.0 { (all / own).sqrt() } else { 1.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::reference_file::numbers;

    /// Slope and its standard deviation under AR(1): exact covariance, statsmodels (file 25).
    #[test]
    fn slope_under_correlated_noise() {
        let file = crate::measure::reference_file::reference("25-drift-slope.json");
        let tol = |name: &str| file["tolerance"][name].as_f64().unwrap();
        for row in file["expected"]["ar1_table_unit_sd_unit_spacing"]
            .as_array()
            .unwrap()
        {
            let n = usize::try_from(row["n"].as_u64().unwrap()).unwrap();
            let got = slope_inflation(row["phi"].as_f64().unwrap(), n);
            let sd = |name: &str| row[name].as_f64().unwrap();
            let slope_sd = sd("white_noise_slope_sd") * got;
            assert!(
                (slope_sd / sd("least_squares_slope_sd") - 1.0).abs() <= tol("table_relative"),
                "{row}: {slope_sd}"
            );
            let wanted = row["inflation"].as_f64().unwrap();
            assert!(
                (got / wanted - 1.0).abs() <= tol("table_relative"),
                "{row}: {got}"
            );
        }
        let y = numbers(&file["inputs"]["y"]);
        let rate = file["inputs"]["rate_hz"].as_f64().unwrap();
        let x: Vec<f64> = (0..y.len()).map(|i| real(i) / rate).collect();
        let got = fit_slope(&x, &y).unwrap();
        let check = |got: f64, name: &str, tol: f64| {
            let wanted = file["expected"]["series"][name].as_f64().unwrap();
            assert!(
                (got / wanted - 1.0).abs() <= tol,
                "{name}: {got} for {wanted}"
            );
        };
        check(got.slope, "slope", tol("slope_relative"));
        check(
            got.residual_sd,
            "residual_sd_n_minus_2",
            tol("slope_relative"),
        );
        check(
            got.naive_u,
            "naive_standard_error",
            tol("standard_error_relative"),
        );
        check(got.lag1, "residual_lag1", tol("standard_error_relative"));
        // The file corrects with the raw lag-1 and the long-series factor.
        let long = got.naive_u * ((1.0 + got.lag1) / (1.0 - got.lag1)).sqrt();
        check(
            long,
            "ar1_corrected_standard_error",
            tol("standard_error_relative"),
        );
        // Ours mends the lag-1 and uses the finite factor: near it, on the safe side of naive by three.
        assert!(
            (got.u / long - 1.0).abs() < 0.1 && got.u > 3.0 * got.naive_u,
            "{got:?}"
        );
        // Against other estimators, computed with statsmodels. From one record each is off by tens of percent; ours lies
        // among them, not below the true one, and holds the slope that generalised least squares gives.
        let told = |name: &str| file["expected"]["series"][name].as_f64().unwrap();
        let newey_west = |lags: &str| {
            let by_lags = &file["expected"]["series"]["newey_west_standard_error_by_lags"];
            by_lags[lags].as_f64().unwrap()
        };
        assert!(
            newey_west("10") < got.u && got.u < newey_west("40"),
            "{got:?}"
        );
        assert!((got.u / told("generalised_standard_error") - 1.0).abs() < 0.1);
        assert!(got.u > told("true_sd_of_least_squares_slope"));
        assert!((got.slope - told("generalised_slope")).abs() < 2.0 * got.u);
        let mended = got.lag1 + (2.0 + 4.0 * got.lag1) / real(y.len());
        assert!((mended - told("generalised_rho")).abs() < 0.02, "{mended}");
    }

    #[test]
    fn none_constant_and_time_that_stands_still() {
        assert!(block_means(&[], &[]).is_none() && block_means(&[1], &[Code(1)]).is_none());
        assert!(block_means(&[5; 40], &[Code(1); 40]).is_none());
        assert!(fit_slope(&[1.0; 9], &[1.0; 9]).is_none());
        assert!(fit_slope(&[1.0, 2.0, 3.0], &[1.0, 2.0, 3.0]).is_none());
        let x: Vec<f64> = (0..9).map(real).collect();
        let flat = fit_slope(&x, &[4.0; 9]).unwrap();
        assert!(flat.slope.abs() < 1e-12 && flat.u.abs() < 1e-12);
    }

    #[test]
    fn blocks_are_whole_cycles_and_not_too_many() {
        let t_us: Vec<u64> = (0..60_000).map(|i| i * 1000).collect();
        let codes = vec![Code(100); t_us.len()];
        let blocks = block_means(&t_us, &codes).unwrap();
        assert_eq!((blocks.length, blocks.mean.len()), (118, 508));
        let blocks = block_means(&t_us[..4000], &codes[..4000]).unwrap();
        assert_eq!((blocks.length, blocks.mean.len()), (100, 40));
        let blocks = block_means(&t_us[..20], &codes[..20]).unwrap();
        assert_eq!((blocks.length, blocks.mean.len()), (1, 20));
    }
}
