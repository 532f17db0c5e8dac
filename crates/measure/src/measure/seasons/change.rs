//! Change between two measurements of one quantity: by how much, and whether the two uncertainties explain it.

use crate::figure::{COVERAGE, Figure};
use crate::measure::statistics::interval::{normal_cdf, normal_quantile};
use crate::measure::statistics::moments::real;
use crate::units::maths;

/// A value with its 95 % interval, both ends known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Lower end of its 95 % interval.
    pub low: f64,
    /// Upper end of its 95 % interval.
    pub high: f64,
}

impl Estimate {
    /// `None` when an end is open, or not on its side of the value.
    #[must_use]
    pub fn new(value: f64, low: Option<f64>, high: Option<f64>) -> Option<Self> {
        let (low, high) = (low?, high?);
        let sound = low.is_finite() && high.is_finite() && low <= value && value <= high;
        sound.then_some(Self { value, low, high })
    }

    /// A figure as an estimate; `None` for what is counted or open on a side.
    #[must_use]
    pub fn of(figure: &Figure) -> Option<Self> {
        figure.u?;
        Self::new(figure.value, figure.low, figure.high)
    }

    /// Standard uncertainty as the interval tells it: half its width over the normal factor.
    #[must_use]
    pub fn u(&self) -> f64 {
        (self.high - self.low) / 2.0 / normal_factor()
    }
}

/// What happened from one estimate to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// Later minus earlier.
    pub by: f64,
    /// Lower end of its 95 % interval.
    pub low: f64,
    /// Upper end of its 95 % interval.
    pub high: f64,
    /// Chance of a difference at least as large when nothing changed, 0 to 1.
    pub chance: f64,
}

fn normal_factor() -> f64 {
    normal_quantile(f64::midpoint(1.0, COVERAGE))
}

/// The difference of two independent estimates, with an interval made of theirs, which need not be symmetric.
///
/// Source: variances recovered from the limits (R. G. Newcombe, Statistics in Medicine 17 (1998) 873, method 10, for two
/// proportions; G. Y. Zou and A. Donner, Statistics in Medicine 27 (2008) 1693, in general): each side of the
/// difference's interval is the root of the sum of squares of the two distances that push it that way. The chance reads
/// the distance towards 0 as normal.
#[must_use]
pub fn change(earlier: Estimate, later: Estimate) -> Change {
    let by = later.value - earlier.value;
    let down = maths::hypot(later.value - later.low, earlier.high - earlier.value);
    let up = maths::hypot(later.high - later.value, earlier.value - earlier.low);
    let towards_zero = if by > 0.0 { down } else { up };
    let chance = if by == 0.0 {
        1.0
    } else {
        // 0 over 0 cannot be: `by` is not 0.
        2.0 * normal_cdf(-normal_factor() * by.abs() / towards_zero)
    };
    Change {
        by,
        low: by - down,
        high: by + up,
        chance,
    }
}

/// Which of several chances stand out when all are looked at together: Holm's step-down rule (S. Holm, Scandinavian
/// Journal of Statistics 6 (1979) 65). The chance of marking any that did not change is at most 5 %, whatever depends on
/// what.
#[must_use]
pub fn stand_out(chances: &[f64]) -> Vec<bool> {
    let mut order: Vec<usize> = (0..chances.len()).collect();
    order.sort_by(|&a, &b| chances[a].total_cmp(&chances[b]));
    let mut marked = vec![false; chances.len()];
    for (rank, &at) in order.iter().enumerate() {
        let left = real(chances.len() - rank);
        if chances[at] > (1.0 - COVERAGE) / left || chances[at].is_nan() {
            break;
        }
        marked[at] = true;
    }
    marked
}

#[cfg(test)]
mod tests {
    use super::*;

    fn estimate(value: f64, low: f64, high: f64) -> Estimate {
        Estimate::new(value, Some(low), Some(high)).unwrap()
    }

    #[test]
    fn two_proportions_as_published() {
        // Newcombe 1998, table II, first row, from memory and worked again by hand: 56 of 70 against 48 of 80, method 10:
        // 0.0524 to 0.3339. The ends of each proportion are Wilson's: 0.69183, 0.87695 and 0.49045, 0.70039.
        let found = change(
            estimate(0.6, 0.49045, 0.70039),
            estimate(0.8, 0.69183, 0.87695),
        );
        assert!((found.by - 0.2).abs() < 1e-12);
        assert!((found.low - 0.0524).abs() < 5e-5, "{found:?}");
        assert!((found.high - 0.3339).abs() < 5e-5, "{found:?}");
        assert!(found.chance > 0.005 && found.chance < 0.01, "{found:?}");
    }

    #[test]
    fn an_interval_that_just_touches_zero_has_a_chance_of_5_percent() {
        // By hand: 3-4-5.
        let found = change(estimate(0.0, -3.0, 3.0), estimate(5.0, 1.0, 9.0));
        assert!((found.low).abs() < 1e-12 && (found.high - 10.0).abs() < 1e-12);
        assert!((found.chance - 0.05).abs() < 1e-9);
        let back = change(estimate(5.0, 1.0, 9.0), estimate(0.0, -3.0, 3.0));
        assert!((back.high).abs() < 1e-12 && (back.chance - 0.05).abs() < 1e-9);
    }

    #[test]
    fn exact_values_and_none() {
        let (a, b) = (estimate(1.0, 1.0, 1.0), estimate(2.0, 2.0, 2.0));
        assert!(change(a, b).chance.abs() < f64::EPSILON);
        assert!((change(a, a).chance - 1.0).abs() < f64::EPSILON);
        assert_eq!(Estimate::new(1.0, None, Some(2.0)), None);
        assert_eq!(Estimate::new(f64::NAN, Some(0.0), Some(2.0)), None);
        assert_eq!(Estimate::of(&Figure::counted(2.0, 8, "")), None);
    }

    #[test]
    fn holm_by_hand() {
        // 0.05/4 = 0.0125, /3 = 0.0167, /2 = 0.025, /1 = 0.05: the third is above, so the fourth is not looked at.
        assert_eq!(
            stand_out(&[0.03, 0.012, 0.04, 0.016]),
            [false, true, false, true]
        );
        assert_eq!(stand_out(&[0.05]), [true]);
        assert_eq!(stand_out(&[f64::NAN, 0.001]), [false, true]);
        assert!(stand_out(&[]).is_empty());
    }
}
