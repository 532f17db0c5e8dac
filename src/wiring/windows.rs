//! Fault windows: thresholds between the widest valid reading and the nearest reading of a single fault.

use super::faults::{Class, FaultRow};
use super::hookup::Hookup;
use super::valid::{GAP, Thresholds, ValidRange};
use schemars::JsonSchema;
use serde::Serialize;

#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct WindowEdge {
    /// Where it lies, fraction of the reference.
    pub ratio: f64,
    pub code: u32,
    /// Beyond which reading the board, which compares codes, sees a fault: half a code further out.
    #[serde(skip)]
    pub seen_beyond: f64,
    /// Distance to the nearest valid reading, percent of the reference.
    pub to_valid_pct: f64,
    pub to_valid_code: f64,
    /// Distance to the nearest reading of a caught fault, percent of the reference.
    pub to_fault_pct: f64,
    pub to_fault_code: f64,
    /// That fault; `None` when no fault reads on this side and the end of the ADC stands in for one.
    pub nearest_fault: Option<String>,
}

/// The valid range and the thresholds around it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Windows {
    /// What a good control may read.
    pub valid: ValidRange,
    /// Lowest and highest good reading in codes.
    pub valid_code: [u32; 2],
    /// Below it a reading is a fault; `None` when there is no room.
    pub low: Option<WindowEdge>,
    /// Above it a reading is a fault; `None` when there is no room.
    pub high: Option<WindowEdge>,
}

impl Windows {
    /// The thresholds as the board applies them.
    pub fn thresholds(&self) -> Thresholds {
        Thresholds {
            below: self
                .low
                .as_ref()
                .map_or(f64::NEG_INFINITY, |edge| edge.seen_beyond),
            above: self
                .high
                .as_ref()
                .map_or(f64::INFINITY, |edge| edge.seen_beyond),
        }
    }
}

/// The windows of a hookup from its faults. Each threshold lies half-way between the valid range and the nearest reading of
/// a fault that is caught at every travel; a fault caught only in part sweeps through the edge and settles nothing, so that
/// it counts only where there is no other.
pub fn windows(hookup: &Hookup, valid: ValidRange, rows: &[FaultRow]) -> Windows {
    let nearest = |class: Class, side: usize| {
        rows.iter()
            .filter(|row| row.class == class && row.fault.places_thresholds())
            .filter_map(|row| Some((row.nearest[side]?, row)))
            .min_by(|a, b| (a.0 - valid.low).abs().total_cmp(&(b.0 - valid.low).abs()))
            .map(|(ratio, row)| (ratio, row.fault.to_string()))
    };
    let side =
        |side: usize| nearest(Class::Caught, side).or_else(|| nearest(Class::CaughtInPart, side));
    let (below, above) = (side(0), side(1));
    Windows {
        valid,
        valid_code: [hookup.code(valid.low), hookup.code(valid.high)],
        low: (valid.low > GAP).then(|| edge(hookup, valid.low, below, 0.0)),
        high: (valid.high < 1.0 - GAP).then(|| edge(hookup, valid.high, above, 1.0)),
    }
}

fn edge(hookup: &Hookup, valid: f64, fault: Option<(f64, String)>, rail: f64) -> WindowEdge {
    let (nearest, name) = match fault {
        Some((ratio, name)) => (ratio, Some(name)),
        None => (rail, None),
    };
    let ratio = f64::midpoint(valid, nearest);
    let codes = f64::from(hookup.scale().codes());
    let (to_valid, to_fault) = ((ratio - valid).abs(), (ratio - nearest).abs());
    let code = hookup.code(ratio);
    let half = if rail < valid { -0.5 } else { 0.5 };
    WindowEdge {
        ratio,
        code,
        seen_beyond: (f64::from(code) + half) / codes,
        to_valid_pct: to_valid * 100.0,
        to_valid_code: to_valid * codes,
        to_fault_pct: to_fault * 100.0,
        to_fault_code: to_fault * codes,
        nearest_fault: name,
    }
}

#[cfg(test)]
mod tests {
    use super::super::analysis::FaultAnalysis;
    use super::super::faults::ZeroEnd;
    use super::super::valid::EndLimits;
    use super::*;

    fn windows_of(text: &str) -> Windows {
        let hookup = Hookup::new(serde_json::from_str(text).unwrap(), 5000.0, 10).unwrap();
        let none = EndLimits::default();
        let analysis = FaultAnalysis::new(&hookup, ZeroEnd::Rest, none, none).unwrap();
        windows(&hookup, analysis.valid(), &analysis.judge_all())
    }

    #[test]
    fn a_hall_pedal_has_room_on_both_sides() {
        // 0.1 and 0.9 of the supply unloaded, faults at 0 and 1: thresholds at 0.05 and 0.95, margins of 5 %, 51.2 codes.
        let w = windows_of(
            r#"{"supply_is_reference":true,"network":"buffered","output_ohm":100,"low_ratio":0.1,"high_ratio":0.9,"load_ohm":1e12}"#,
        );
        let (low, high) = (w.low.unwrap(), w.high.unwrap());
        assert!((low.ratio - 0.05).abs() < 1e-6, "{low:?}");
        assert!((high.ratio - 0.95).abs() < 1e-6, "{high:?}");
        assert!((low.to_valid_code - 51.2).abs() < 1e-3 && (low.to_fault_pct - 5.0).abs() < 1e-4);
        assert!(low.nearest_fault.is_some());
    }

    #[test]
    fn a_track_used_whole_leaves_no_room() {
        let w = windows_of(
            r#"{"supply_is_reference":true,"network":"three-wire","track_ohm":20000,"pull_down_ohm":100000}"#,
        );
        assert_eq!(w.low, None);
        assert_eq!(w.high, None);
        assert_eq!(w.valid_code, [0, 1023]);
    }

    #[test]
    fn a_rheostat_has_room_above_only() {
        let w = windows_of(
            r#"{"supply_is_reference":true,"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700}"#,
        );
        assert_eq!(w.low, None);
        // 10/14.7 = 0.68027 and an open loop at 1: half-way 0.84014. By hand.
        assert!((w.high.unwrap().ratio - 0.840_136).abs() < 1e-5);
    }
}
