//! Samples that are missing between two times.

/// Samples missing in a gap of so many periods: none up to one and a half, else all between its ends; 0 of what is no number.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // positive, and saturates
#[must_use]
pub fn missing_in(periods: f64) -> u64 {
    if periods > 1.5 {
        periods.round() as u64 - 1
    } else {
        0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_late_sample_is_none_that_is_missing() {
        // By hand.
        for (periods, missing) in [
            (1.0, 0),
            (1.5, 0),
            (1.51, 1),
            (2.4, 1),
            (2.6, 2),
            (1000.0, 999),
        ] {
            assert_eq!(missing_in(periods), missing, "{periods}");
        }
        assert_eq!([f64::NAN, 0.0, -3.0].map(missing_in), [0, 0, 0]);
        assert_eq!(missing_in(f64::INFINITY), u64::MAX - 1);
    }
}
