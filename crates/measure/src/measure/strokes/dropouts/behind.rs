//! What no hand does under the shake: the signal leaves the rest end away from the travel, however slowly.
//!
//! A control stands against its stop there. Behind a filter, or on a supply that sags, a lost contact has no abrupt edge.

use crate::measure::statistics::robust::median;
use crate::measure::strokes::path::Path;
use crate::measure::strokes::segment::Ends;
use std::ops::Range;

/// Fewest samples: what leaves more quickly has an abrupt edge, and is found by it.
const FEWEST: usize = 4;
/// A burst of noise goes both ways within so many seconds and samples: the lesser by a quarter of the larger at least.
const BURST_S: f64 = 0.05;
const BURST: usize = 16;
const BOTH_WAYS: f64 = 0.25;

/// Where a shaken path goes behind the rest end, and behind where it stands, by `least` codes: the samples more than half so far off;
/// the depth in codes, signed; and the level that was left.
pub(crate) fn behind(path: &Path<'_>, ends: Ends, least: f64) -> Vec<(Range<usize>, f64, f64)> {
    let way = ends.span().signum();
    // Towards full counts as up, whichever way the codes go.
    let value: Vec<f64> = (0..path.len()).map(|at| way * path.value(at)).collect();
    let Some(stands) = median(&mut value.clone()) else {
        return Vec::new();
    };
    let level = stands.min(way * ends.code(0.0));
    let near = path.samples(BURST_S).max(BURST);
    let off = |code: &f64| level - code > least / 2.0;
    let mut found = Vec::new();
    let mut from = 0;
    while let Some(left) = value[from..].iter().position(off) {
        let start = from + left;
        let back = value[start..].iter().position(|code| !off(code));
        let end = back.map_or(value.len(), |back| start + back);
        let depth = level - value[start..end].iter().copied().fold(level, f64::min);
        let around = start.saturating_sub(near)..(end + near).min(value.len());
        let above = value[around].iter().copied().fold(level, f64::max) - level;
        if end - start >= FEWEST && depth >= least && above < BOTH_WAYS * depth {
            found.push((start..end, -way * depth, way * level));
        }
        from = end;
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Code;

    /// At 164, and down to 23 and back within 25 samples each second, as a cosine goes: 250 samples/s.
    fn sagging(rest: f64, to: f64) -> Vec<Code> {
        let code = |i: u32| match i % 250 {
            k @ 100..125 => {
                let phase = f64::from(k - 100) / 25.0 * std::f64::consts::TAU;
                rest + (to - rest) * (1.0 - phase.cos()) / 2.0
            }
            _ => rest,
        };
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // codes
        (0..1500).map(|i| Code(code(i).round() as u32)).collect()
    }

    fn of(codes: &[Code], (rest, full): (f64, f64)) -> Vec<(Range<usize>, f64, f64)> {
        let ends = Ends::from_holds(Some(rest), Some(full)).unwrap();
        behind(&Path::of_codes(0, 0.004, codes), ends, 0.02 * 696.0)
    }

    #[test]
    fn a_sag_behind_the_stop_is_lost_contact_however_slow() {
        let found = of(&sagging(164.0, 23.0), (164.0, 860.0));
        assert_eq!(found.len(), 6, "{found:?}");
        for (n, (range, depth, level)) in (0_usize..).zip(&found) {
            assert!(range.start > 100 + 250 * n && range.end < 125 + 250 * n);
            assert!((depth + 140.0).abs() < 2.0 && (level - 164.0).abs() < 1e-9);
        }
        // A control whose codes fall with travel: away from it is up.
        let found = of(&sagging(860.0, 1000.0), (860.0, 164.0));
        assert_eq!(found.len(), 6);
        assert!(
            found
                .iter()
                .all(|(_, depth, _)| (depth - 139.0).abs() < 2.0)
        );
    }

    #[test]
    fn a_burst_that_goes_both_ways_is_the_rooms() {
        let mut codes = sagging(164.0, 164.0);
        for (at, code) in codes.iter_mut().enumerate().skip(500).take(60) {
            *code = if at / 6 % 2 == 0 {
                Code(144)
            } else {
                Code(184)
            };
        }
        assert_eq!(of(&codes, (164.0, 860.0)), []);
    }

    #[test]
    fn a_knock_towards_full_a_slow_drift_and_less_than_two_percent_are_not() {
        assert_eq!(of(&sagging(164.0, 300.0), (164.0, 860.0)), []);
        assert_eq!(of(&sagging(164.0, 152.0), (164.0, 860.0)), []); // 12 of 13.9 codes
        assert_eq!(of(&[Code(140); 500], (164.0, 860.0)), []);
        assert_eq!(of(&[], (164.0, 860.0)), []);
    }
}
