//! What a good control may read: the range that no fault window may cut into.

use super::hookup::Hookup;
use super::reading;
use serde::Serialize;

/// Least distance from the valid range at which a reading counts as caught, as a fraction of the reference.
///
/// 1 %, about ten codes of ten bits: room for a threshold with noise and ADC offset on both sides. Common practice, no
/// source; smaller calls faults caught that noise would hide, larger wastes span.
pub const GAP: f64 = 0.01;

/// The limits that a profile sets on one end of travel, as fractions of the reference.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct EndLimits {
    pub min: Option<f64>,
    pub max: Option<f64>,
}

/// Where the two ends of a valid range come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Origin {
    /// The profile's limits on both ends: a unit outside them is never fitted.
    Limits,
    /// The tolerances of the parts.
    Tolerance,
    /// One side from the one, the other side from the other.
    Both,
}

/// What a good control may read, as fractions of the reference.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ValidRange {
    pub low: f64,
    pub high: f64,
    /// Where they come from.
    pub origin: Origin,
}

/// Beyond which readings a board takes the input for broken, as fractions of the reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thresholds {
    /// Below it; minus infinity where there is no room.
    pub below: f64,
    /// Above it; infinity where there is no room.
    pub above: f64,
}

impl Thresholds {
    /// Whether a reading is taken for a fault.
    pub fn catch(&self, ratio: f64) -> bool {
        ratio < self.below || ratio > self.above
    }
}

impl ValidRange {
    /// The valid range of a hookup: at each end of travel the profile's limit where it sets one, the tolerance corners
    /// where it does not. `None` when a good control has no reading.
    pub fn of(
        hookup: &Hookup,
        corners: &[Hookup],
        rest: EndLimits,
        full: EndLimits,
    ) -> Option<Self> {
        let mut low = f64::INFINITY;
        let mut high = f64::NEG_INFINITY;
        let (mut limits, mut tolerances) = (0, 0);
        let mut sides = Vec::new();
        for (travel, end) in [(0.0, rest), (1.0, full)] {
            let (least, most) = reading::band(hookup, corners, travel)?;
            sides.push((end.min, least, end.max, most));
        }
        for (min, least, max, most) in sides {
            let (from, to) = (min.unwrap_or(least), max.unwrap_or(most));
            if from < low {
                low = from;
            }
            if to > high {
                high = to;
            }
            limits += usize::from(min.is_some()) + usize::from(max.is_some());
            tolerances += usize::from(min.is_none()) + usize::from(max.is_none());
        }
        if let Some(back) = hookup.wiring().back_at {
            for corner in corners.iter().chain([hookup]) {
                let ratio = corner.pin_at(back, None).ratio()?;
                low = low.min(ratio);
                high = high.max(ratio);
            }
        }
        Some(Self {
            low: low.max(0.0),
            high: high.min(1.0),
            origin: match (limits, tolerances) {
                (_, 0) => Origin::Limits,
                (0, _) => Origin::Tolerance,
                _ => Origin::Both,
            },
        })
    }

    /// Thresholds at a fixed distance outside the range: what could be caught if a threshold stood there.
    pub fn at_distance(&self, gap: f64) -> Thresholds {
        Thresholds {
            below: self.low - gap,
            above: self.high + gap,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pedal(falling: bool) -> Hookup {
        let (rest, full) = if falling { (1, 0) } else { (0, 1) };
        let text = format!(
            r#"{{"network":"buffered","output_ohm":100,"low_ratio":0.16,"high_ratio":0.84,"ratio_tolerance_pct":2,
                "rest_at":{rest},"full_at":{full}}}"#
        );
        Hookup::new(serde_json::from_str(&text).unwrap(), 5000.0, 10).unwrap()
    }

    #[test]
    fn limits_go_before_tolerances_side_by_side() {
        let hookup = pedal(false);
        let corners = hookup.corners();
        let none = EndLimits::default();
        let free = ValidRange::of(&hookup, &corners, none, none).unwrap();
        assert!((free.low - 0.14).abs() < 1e-12 && (free.high - 0.86).abs() < 1e-12);
        assert_eq!(free.origin, Origin::Tolerance);
        let rest = EndLimits {
            min: Some(0.12),
            max: Some(0.2),
        };
        let half = ValidRange::of(&hookup, &corners, rest, none).unwrap();
        assert!((half.low - 0.12).abs() < 1e-12 && (half.high - 0.86).abs() < 1e-12);
        assert_eq!(half.origin, Origin::Both);
        let falling = pedal(true);
        let turned = ValidRange::of(&falling, &falling.corners(), none, none).unwrap();
        assert!((turned.low - 0.14).abs() < 1e-12 && (turned.high - 0.86).abs() < 1e-12);
    }

    #[test]
    fn a_reading_must_stand_clear_to_be_caught() {
        let valid = ValidRange {
            low: 0.1,
            high: 0.9,
            origin: Origin::Limits,
        }
        .at_distance(GAP);
        assert!(valid.catch(0.08) && valid.catch(0.92));
        assert!(!valid.catch(0.095) && !valid.catch(0.5) && !valid.catch(0.905));
    }
}
