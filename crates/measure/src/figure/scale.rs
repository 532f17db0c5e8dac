//! The scale of a limit's picture: which values stand at its left and right end.

/// Values at the left and right end of a picture, in the figure's unit; `left < right`, both finite.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    left: f64,
    right: f64,
}

impl Scale {
    /// The scale of a limit. A limit of two sides takes the middle half; one of one side has its edge inside the picture, and
    /// zero at the left where the edge is above zero. Nothing without a limit, or with one that is no finite number.
    #[must_use]
    pub fn of(min: Option<f64>, max: Option<f64>) -> Option<Self> {
        let room = |edge: f64| edge.abs().max(1.0);
        let (left, right) = match (min, max) {
            (Some(min), Some(max)) if max > min => {
                let half = (max - min) / 2.0;
                (min - half, max + half)
            }
            (Some(one), Some(_)) => (one - room(one), one + room(one)),
            (None, Some(max)) if max > 0.0 => (0.0, max * 1.5),
            (None, Some(max)) => (max - room(max), max + 2.0 * room(max)),
            (Some(min), None) if min > 0.0 => (0.0, min * 2.5),
            (Some(min), None) => (min - 2.0 * room(min), min + room(min)),
            (None, None) => return None,
        };
        (left < right && left.is_finite() && right.is_finite()).then_some(Self { left, right })
    }

    /// Where a value stands: 0 at the left end, 1 at the right end, beyond them off the picture; NaN for NaN.
    #[must_use]
    pub fn share(self, value: f64) -> f64 {
        (value - self.left) / (self.right - self.left)
    }

    /// The value that stands at a share of the picture.
    #[must_use]
    pub fn value(self, share: f64) -> f64 {
        self.left + share * (self.right - self.left)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_edge_lies_inside_the_picture() {
        for (min, max) in [
            (None, Some(2.0)),
            (Some(2.0), None),
            (None, Some(0.0)),
            (Some(-3.0), None),
            (Some(0.0), None),
            (None, Some(-3.0)),
            (Some(1.0), Some(1.0)),
            (Some(0.0), Some(0.0)),
            (Some(10.0), Some(20.0)),
        ] {
            let scale = Scale::of(min, max).unwrap();
            for edge in [min, max].into_iter().flatten() {
                let share = scale.share(edge);
                assert!((0.05..=0.95).contains(&share), "{min:?} {max:?}: {share}");
            }
        }
    }

    #[test]
    fn a_limit_of_two_sides_takes_the_middle_half() {
        // 10 .. 20 on 5 .. 25; by hand.
        let scale = Scale::of(Some(10.0), Some(20.0)).unwrap();
        for (value, share) in [
            (5.0, 0.0),
            (10.0, 0.25),
            (15.0, 0.5),
            (25.0, 1.0),
            (45.0, 2.0),
        ] {
            assert_eq!(scale.share(value).to_bits(), f64::to_bits(share), "{value}");
        }
        assert_eq!(scale.value(0.25).to_bits(), 10f64.to_bits());
    }

    #[test]
    fn no_picture_without_a_limit_that_is_a_number() {
        assert_eq!(Scale::of(None, None), None);
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, f64::MAX] {
            assert_eq!(Scale::of(None, Some(bad)), None);
            assert_eq!(Scale::of(Some(bad), None), None);
        }
        assert_eq!(Scale::of(Some(f64::NAN), Some(1.0)), None);
        assert!(Scale::of(None, Some(1.0)).unwrap().share(f64::NAN).is_nan());
    }
}
