//! Order statistics that a few wild values do not move: median, quantile, median absolute deviation (MAD).

use crate::measure::statistics::moments::real;
use std::cmp::Ordering;

/// `1 / quantile(0.75)` of the normal distribution: turns a MAD into a standard deviation.
pub const MAD_FACTOR: f64 = 1.482_602_218_505_602;

/// The median: the middle value, or the mean of the middle two. Reorders `values`.
///
/// `None` when empty or when any value is NaN.
pub fn median(values: &mut [f64]) -> Option<f64> {
    if values.is_empty() || values.iter().any(|v| v.is_nan()) {
        return None;
    }
    let half = values.len() / 2;
    let even = values.len().is_multiple_of(2);
    let (below, &mut upper, _) = values.select_nth_unstable_by(half, in_order);
    if even {
        let lower = below.iter().copied().max_by(in_order)?;
        Some(f64::midpoint(lower, upper))
    } else {
        Some(upper)
    }
}

/// The `p` quantile (0 ..= 1) by linear interpolation between order statistics. Reorders `values`.
///
/// `None` when empty or when any value is NaN.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 0 ..= len - 1
pub fn quantile(values: &mut [f64], p: f64) -> Option<f64> {
    if values.is_empty() || values.iter().any(|v| v.is_nan()) {
        return None;
    }
    let place = p.clamp(0.0, 1.0) * real(values.len() - 1);
    let low = place.floor() as usize;
    let (_, &mut lower, above) = values.select_nth_unstable_by(low, in_order);
    let upper = above.iter().copied().min_by(in_order);
    Some(upper.map_or(lower, |upper| {
        lower + (place - place.floor()) * (upper - lower)
    }))
}

/// The order of numbers that are none of them NaN, which `total_cmp` is twice as slow to tell.
#[allow(clippy::trivially_copy_pass_by_ref)] // as sorting asks
fn in_order(a: &f64, b: &f64) -> Ordering {
    a.partial_cmp(b).unwrap_or(Ordering::Equal)
}

/// Median absolute deviation from the median, not scaled. `None` as for [`median`].
pub fn mad(values: &[f64]) -> Option<f64> {
    let mut work = values.to_vec();
    let middle = median(&mut work)?;
    for value in &mut work {
        *value = (*value - middle).abs();
    }
    median(&mut work)
}

/// Standard deviation by the MAD about zero, for residuals whose centre is known to be 0. Reorders `values`.
pub fn mad_sd_about_zero(values: &mut [f64]) -> Option<f64> {
    for value in values.iter_mut() {
        *value = value.abs();
    }
    median(values).map(|mad| MAD_FACTOR * mad)
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
            close(MAD_FACTOR * mad(&values).unwrap(), "mad_times_1.4826");
            let quartiles = numbers(&expected["quartiles_linear_interpolation"]);
            for (p, want) in [0.25, 0.75].into_iter().zip(quartiles) {
                assert!((quantile(&mut values.clone(), p).unwrap() - want).abs() < 1e-9);
            }
        }
        let factor = file["expected"]["mad_factor"].as_f64().unwrap();
        assert!((MAD_FACTOR - factor).abs() < 1e-15);
    }

    #[test]
    fn nothing_one_two_and_not_a_number() {
        assert_eq!(median(&mut []), None);
        assert_eq!(mad(&[]), None);
        assert_eq!(quantile(&mut [], 0.5), None);
        assert_eq!(quantile(&mut [f64::NAN], 0.5), None);
        assert_eq!(median(&mut [4.0]), Some(4.0));
        assert_eq!(mad(&[4.0]), Some(0.0));
        assert_eq!(median(&mut [4.0, 7.0]), Some(5.5));
        assert_eq!(median(&mut [4.0, f64::NAN, 1.0]), None);
        assert_eq!(mad_sd_about_zero(&mut [-1.0, 1.0, 3.0]), Some(MAD_FACTOR));
    }
}
