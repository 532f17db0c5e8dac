//! What a good control may read: the range that no fault window may cut into.

use super::hookup::Hookup;
use super::reading;
use schemars::JsonSchema;
use serde::Serialize;

/// Least distance from the valid range at which a reading counts as caught, as a fraction of the reference.
///
/// 1 %, about ten codes of ten bits: room for a threshold with noise and ADC offset on both sides. Common practice, no
/// source; smaller calls faults caught that noise would hide, larger wastes span.
pub const GAP: f64 = 0.01;

/// The limits that a profile sets on one end of travel, as fractions of the reference.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, JsonSchema)]
pub struct EndLimits {
    pub min: Option<f64>,
    pub max: Option<f64>,
}

/// Where the two ends of a valid range come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
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
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
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

    /// The same, `by` nearer to each other.
    pub(super) fn narrower(&self, by: f64) -> Self {
        Self {
            below: self.below + by,
            above: self.above - by,
        }
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
        let off = match hookup.wiring().reference {
            None => hookup.wiring().supply_tolerance_pct().unwrap_or(0.0) / 100.0,
            Some(_) => 0.0,
        };
        for (travel, end) in [(0.0, rest), (1.0, full)] {
            let (least, most) = reading::band(hookup, corners, travel)?;
            sides.push((end.min, least, end.max, most));
        }
        for (min, least, max, most) in sides {
            // A limit was measured on one supply; the machine's may be another.
            let (from, to) = (
                min.map_or(least, |min| min * (1.0 - off)),
                max.map_or(most, |max| max * (1.0 + off)),
            );
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
mod unstated {
    use super::*;

    /// By hand: 0.12 of a supply of 4.75 V against 5 V is 0.114, 0.88 of 5.25 V is 0.924.
    #[test]
    fn a_supply_that_nobody_states_widens_what_is_valid() {
        let text = r#"{"network":"buffered","output_ohm":100,"low_ratio":0.16,"high_ratio":0.84"#;
        let limit = |min, max| EndLimits {
            min: Some(min),
            max: Some(max),
        };
        let of = |more: &str| {
            let wiring = serde_json::from_str(&format!("{text}{more}}}")).unwrap();
            let hookup = Hookup::new(wiring, 5000.0, 10).unwrap();
            ValidRange::of(&hookup, &[], limit(0.12, 0.2), limit(0.8, 0.88)).unwrap()
        };
        let unstated = of("");
        assert!((unstated.low - 0.114).abs() < 1e-12 && (unstated.high - 0.924).abs() < 1e-12);
        let one = of(r#","supply_is_reference":true"#);
        assert!((one.low - 0.12).abs() < 1e-12 && (one.high - 0.88).abs() < 1e-12);
    }
}

#[cfg(test)]
mod tests {
    use super::super::analysis::corners::corners;
    use super::*;

    fn pedal(falling: bool) -> Hookup {
        let (rest, full) = if falling { (1, 0) } else { (0, 1) };
        let text = format!(
            r#"{{"supply_is_reference":true,"network":"buffered","output_ohm":100,"low_ratio":0.16,"high_ratio":0.84,"ratio_tolerance_pct":2,
                "rest_at":{rest},"full_at":{full}}}"#
        );
        Hookup::new(serde_json::from_str(&text).unwrap(), 5000.0, 10).unwrap()
    }

    #[test]
    fn limits_go_before_tolerances_side_by_side() {
        let hookup = pedal(false);
        let units = corners(&hookup);
        let none = EndLimits::default();
        let free = ValidRange::of(&hookup, &units, none, none).unwrap();
        assert!((free.low - 0.14).abs() < 1e-12 && (free.high - 0.86).abs() < 1e-12);
        assert_eq!(free.origin, Origin::Tolerance);
        let rest = EndLimits {
            min: Some(0.12),
            max: Some(0.2),
        };
        let half = ValidRange::of(&hookup, &units, rest, none).unwrap();
        assert!((half.low - 0.12).abs() < 1e-12 && (half.high - 0.86).abs() < 1e-12);
        assert_eq!(half.origin, Origin::Both);
        let falling = pedal(true);
        let turned = ValidRange::of(&falling, &corners(&falling), none, none).unwrap();
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
