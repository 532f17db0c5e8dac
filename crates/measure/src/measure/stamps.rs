//! How far the stamps of samples are off an even pace.

use crate::measure::statistics::robust::{MAD_FACTOR, median};
use crate::units::seconds_from_us;

/// Most stamps that are looked at.
const ENOUGH: usize = 2002;

/// Unevenness of stamps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Jitter {
    /// Usual seconds between two samples, above 0.
    pub period: f64,
    /// Standard deviation of one stamp, seconds.
    pub sd: f64,
}

impl Jitter {
    /// Of the sample period.
    pub fn share(self) -> f64 {
        self.sd / self.period
    }
}

/// The unevenness of some stamps in microseconds: robust, for a gap is none. `None` with fewer than two.
pub(crate) fn jitter(t_us: &[u64]) -> Option<Jitter> {
    let steps = t_us.windows(2).take(ENOUGH - 1);
    let mut steps: Vec<f64> = steps
        .map(|pair| seconds_from_us(pair[1].saturating_sub(pair[0])))
        .collect();
    let period = median(&mut steps).filter(|period| *period > 0.0)?;
    for step in &mut steps {
        *step = (*step - period).abs();
    }
    // A step has the jitter of two samples.
    let sd = MAD_FACTOR * median(&mut steps)? / std::f64::consts::SQRT_2;
    Some(Jitter { period, sd })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_even_and_uneven_stamps() {
        // By hand: steps of 1000 and 1200 us in turn, median 1100 between them, each 100 away: 1.4826 x 100 / sqrt 2.
        let even: Vec<u64> = (0..100).map(|i| 1000 * i).collect();
        let uneven: Vec<u64> = (0..101).map(|i| 1100 * i + 100 * (i % 2)).collect();
        assert_eq!(jitter(&even).map(|j| j.sd), Some(0.0));
        let found = jitter(&uneven).unwrap();
        assert!((found.period - 1.1e-3).abs() < 1e-9, "{found:?}");
        assert!(
            (found.sd - 1.4826e-4 / 2.0_f64.sqrt()).abs() < 1e-8,
            "{found:?}"
        );
        assert_eq!(
            (jitter(&[]), jitter(&[5]), jitter(&[5, 5])),
            (None, None, None)
        );
    }
}
