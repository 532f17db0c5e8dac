//! Statistics that a few wild values do not move: median, median absolute deviation, Theil-Sen slope,
//! and the Hampel identifier.
//!
//! Belongs here: order statistics of plain slices. Does not belong here: anything that knows of strokes or codes.
//! The Hampel identifier is kept as a reference only: during a stroke it misses a spike of nine slopes and on a
//! quantised constant its scale is 0 (`tests/reference/28`), so `dropouts` does not use it.

use crate::measure::statistics::stats::real;

/// `1 / quantile(0.75)` of the normal distribution: turns a MAD into a standard deviation.
pub const MAD_FACTOR: f64 = 1.482_602_218_505_602;

/// The median: the middle value, or the mean of the middle two. Reorders `values`.
///
/// `None` when empty or when any value is NaN.
#[must_use]
pub fn median(values: &mut [f64]) -> Option<f64> {
    if values.is_empty() || values.iter().any(|v| v.is_nan()) {
        return None;
    }
    let half = values.len() / 2;
    let even = values.len().is_multiple_of(2);
    let (below, &mut upper, _) = values.select_nth_unstable_by(half, f64::total_cmp);
    if even {
        let lower = below.iter().copied().max_by(f64::total_cmp)?;
        Some(f64::midpoint(lower, upper))
    } else {
        Some(upper)
    }
}

/// The `p` quantile (0 ..= 1) by linear interpolation between order statistics. Reorders `values`.
///
/// `None` when empty or when any value is NaN.
#[must_use]
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 0 ..= len - 1
pub fn quantile(values: &mut [f64], p: f64) -> Option<f64> {
    if values.is_empty() || values.iter().any(|v| v.is_nan()) {
        return None;
    }
    let place = p.clamp(0.0, 1.0) * real(values.len() - 1);
    let low = place.floor() as usize;
    let (_, &mut lower, above) = values.select_nth_unstable_by(low, f64::total_cmp);
    let upper = above.iter().copied().min_by(f64::total_cmp);
    Some(upper.map_or(lower, |upper| {
        lower + (place - place.floor()) * (upper - lower)
    }))
}

/// Median absolute deviation from the median, not scaled. `None` as for [`median`].
#[must_use]
pub fn mad(values: &[f64]) -> Option<f64> {
    let mut work = values.to_vec();
    let middle = median(&mut work)?;
    for value in &mut work {
        *value = (*value - middle).abs();
    }
    median(&mut work)
}

/// Standard deviation estimated by [`MAD_FACTOR`] times the MAD: right for normal noise, unmoved by less than half
/// of wild values. 0 when more than half the values are equal: the caller puts a floor under it.
#[must_use]
pub fn mad_sd(values: &[f64]) -> Option<f64> {
    mad(values).map(|mad| MAD_FACTOR * mad)
}

/// Standard deviation by the MAD about zero, for residuals whose centre is known to be 0. Reorders `values`.
#[must_use]
pub fn mad_sd_about_zero(values: &mut [f64]) -> Option<f64> {
    for value in values.iter_mut() {
        *value = value.abs();
    }
    median(values).map(|mad| MAD_FACTOR * mad)
}

/// A straight line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RobustLine {
    /// Change of y per unit of x.
    pub slope: f64,
    /// Median of `y - slope x`.
    pub intercept: f64,
}

/// Theil-Sen line: median of the slopes between all pairs with different x; intercept the median of the residuals.
///
/// Quadratic in the number of points: for tens to hundreds of them. `None` when fewer than two different x.
/// Source: Theil 1950, Sen 1968.
#[must_use]
pub fn theil_sen(x: &[f64], y: &[f64]) -> Option<RobustLine> {
    let points = x.len().min(y.len());
    let mut slopes = Vec::with_capacity(points * points.saturating_sub(1) / 2);
    for i in 0..points {
        for j in i + 1..points {
            let run = x[j] - x[i];
            if run != 0.0 {
                slopes.push((y[j] - y[i]) / run);
            }
        }
    }
    let slope = median(&mut slopes)?;
    let mut rests: Vec<f64> = x.iter().zip(y).map(|(x, y)| y - slope * x).collect();
    median(&mut rests).map(|intercept| RobustLine { slope, intercept })
}

/// Hampel identifier: indices whose value is further than `t` scaled MADs from the median of the window
/// `i - half ..= i + half`, cut at the ends. A MAD of 0 flags every value that differs from the median.
///
/// Source: Hampel 1974. `O(n half)`: for short windows.
#[must_use]
pub fn hampel(values: &[f64], half: usize, t: f64) -> Vec<usize> {
    (0..values.len())
        .filter(|&i| {
            let from = i.saturating_sub(half);
            let to = (i + half + 1).min(values.len());
            let mut window = values[from..to].to_vec();
            let scale = mad_sd(&window);
            match (median(&mut window), scale) {
                (Some(middle), Some(scale)) => (values[i] - middle).abs() > t * scale,
                _ => false,
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::reference_file::{numbers, reference};

    #[test]
    fn median_and_mad_of_the_reference_sets() {
        // tests/reference/14: scipy 1.17.1 and plain Python.
        let file = reference("14-robust.json");
        let sets = file["inputs"]["sets"].as_object().unwrap();
        assert_eq!(sets.len(), 5);
        for (name, set) in sets {
            let values = numbers(set);
            let expected = &file["expected"]["sets"][name];
            let close = |got: f64, key: &str| {
                let want = expected[key].as_f64().unwrap();
                assert!((got - want).abs() < 1e-9, "{name} {key}: {got} {want}");
            };
            close(median(&mut values.clone()).unwrap(), "median");
            close(mad(&values).unwrap(), "mad");
            close(mad_sd(&values).unwrap(), "mad_times_1.4826");
            let quartiles = numbers(&expected["quartiles_linear_interpolation"]);
            for (p, want) in [0.25, 0.75].into_iter().zip(quartiles) {
                assert!((quantile(&mut values.clone(), p).unwrap() - want).abs() < 1e-9);
            }
        }
        let factor = file["expected"]["mad_factor"].as_f64().unwrap();
        assert!((MAD_FACTOR - factor).abs() < 1e-15);
    }

    #[test]
    fn theil_sen_of_the_reference_lines() {
        // tests/reference/14: scipy theilslopes.
        let file = reference("14-robust.json");
        for (name, set) in file["inputs"]["lines"].as_object().unwrap() {
            let line = theil_sen(&numbers(&set["x"]), &numbers(&set["y"])).unwrap();
            let expected = &file["expected"]["lines"][name];
            let slope = expected["slope"].as_f64().unwrap();
            let intercept = expected["intercept_median_of_residuals"].as_f64().unwrap();
            assert!((line.slope - slope).abs() < 1e-9, "{name}");
            assert!((line.intercept - intercept).abs() < 1e-9, "{name}");
        }
    }

    #[test]
    fn hampel_flags_of_the_reference_series() {
        // tests/reference/28: plain Python; scipy, pandas and statsmodels agree.
        let file = reference("28-hampel.json");
        let mut checked = 0;
        for (name, set) in file["inputs"]["series"].as_object().unwrap() {
            let values = numbers(set);
            for (key, half) in [("half width 2, t 3", 2), ("half width 3, t 3", 3)] {
                let flagged = &file["expected"]["series"][name][key]["flagged"];
                let want: Vec<usize> = serde_json::from_value(flagged.clone()).unwrap();
                assert_eq!(hampel(&values, half, 3.0), want, "{name}, {key}");
                checked += 1;
            }
        }
        assert_eq!(checked, 12);
    }

    #[test]
    fn nothing_one_two_and_not_a_number() {
        assert_eq!(median(&mut []), None);
        assert_eq!(mad(&[]), None);
        assert_eq!(quantile(&mut [], 0.5), None);
        assert_eq!(median(&mut [4.0]), Some(4.0));
        assert_eq!(mad(&[4.0]), Some(0.0));
        assert_eq!(median(&mut [4.0, 7.0]), Some(5.5));
        assert_eq!(median(&mut [4.0, f64::NAN, 1.0]), None);
        assert_eq!(quantile(&mut [f64::NAN], 0.5), None);
        assert_eq!(theil_sen(&[1.0], &[2.0]), None);
        assert_eq!(theil_sen(&[1.0, 1.0], &[2.0, 3.0]), None);
        assert!(hampel(&[], 2, 3.0).is_empty());
        assert_eq!(mad_sd_about_zero(&mut [-1.0, 1.0, 3.0]), Some(MAD_FACTOR));
    }
}
