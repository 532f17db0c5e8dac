//! Strokes: one passage of hand movement split where it turns.
//!
//! Turning points are found with hysteresis: the signal must go back by a fair part of the span before its last extreme
//! counts as one, so noise and worn zones make none; dropouts are bridged before. The ends' dwell is cut off, because
//! stops and hands are not the track.

use crate::measure::statistics::moments::real;
use crate::measure::statistics::robust::quantile;
use crate::measure::strokes::path::Path;
use std::ops::Range;

/// A stroke's least height, as a share of the span: movement below it is not a stroke.
const TURN_SHARE: f64 = 0.15;
/// Travel cut off at each end of a stroke, as a share of the span.
const MARGIN_SHARE: f64 = 0.02;
/// A stroke that begins below and ends above this much travel (or the other way) is complete, %.
const COMPLETE_PCT: [f64; 2] = [10.0, 90.0];
/// Least range of a passage, in noise standard deviations and in codes, for anything to be movement.
const MOVES_SIGMA: f64 = 20.0;
const MOVES_CODES: f64 = 8.0;

/// Which way a stroke goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Direction {
    /// From rest towards full.
    Up,
    /// From full towards rest.
    Down,
}

/// Where the ends of the travel were taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EndsFrom {
    /// Measured in holds.
    Holds,
    /// The outermost turning points of the strokes; rest is then taken as the low end.
    Strokes,
}

/// The two ends of the travel in codes; never equal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ends {
    /// Code at 0 % of travel.
    rest: f64,
    /// Code at 100 % of travel.
    full: f64,
    from: EndsFrom,
}

impl Ends {
    /// Ends measured in holds. `None` unless both are known and at least one code apart.
    pub fn from_holds(rest: Option<f64>, full: Option<f64>) -> Option<Self> {
        let (rest, full) = (rest?, full?);
        ((full - rest).abs() >= 1.0).then_some(Self {
            rest,
            full,
            from: EndsFrom::Holds,
        })
    }

    fn from_strokes(low: f64, high: f64) -> Self {
        Self {
            rest: low,
            full: high,
            from: EndsFrom::Strokes,
        }
    }

    /// Full minus rest in codes; its sign is the direction. Never 0.
    pub fn span(self) -> f64 {
        self.full - self.rest
    }

    /// Travel in percent at a code; beyond the ends below 0 or above 100.
    pub fn travel_pct(self, code: f64) -> f64 {
        (code - self.rest) / self.span() * 100.0
    }

    /// Code at a travel in percent.
    pub fn code(self, travel_pct: f64) -> f64 {
        self.rest + travel_pct / 100.0 * self.span()
    }

    /// Where they were taken from.
    pub fn origin(self) -> EndsFrom {
        self.from
    }

    /// Half a sentence for `method`.
    pub fn describe(self) -> &'static str {
        match self.from {
            EndsFrom::Holds => "span from holds",
            EndsFrom::Strokes => {
                "span from the strokes' own turning points (no rest and full holds; rest taken as the low end)"
            }
        }
    }
}

/// One stroke without the dwell at its ends.
#[derive(Debug, Clone, PartialEq)]
pub struct Stroke {
    /// Samples of the recording.
    pub range: Range<usize>,
    /// The same with the dwell at both ends, from turn to turn.
    pub turns: Range<usize>,
    /// Which way it goes.
    pub direction: Direction,
    /// Travel at which it turned before, %.
    pub from_pct: f64,
    /// Travel at which it turned after, %.
    pub to_pct: f64,
    /// Whether it covers the travel from 10 to 90 %. Others are used for the travel that they cover.
    pub complete: bool,
}

/// The ends of the travel as the strokes themselves show them: the outermost turning points.
///
/// `None` when nothing moves.
pub(crate) fn ends_of(paths: &[Path<'_>], sigma: f64) -> Option<Ends> {
    let mut levels = Vec::new();
    for path in paths {
        let range = reach(path)?;
        if range < (MOVES_SIGMA * sigma).max(MOVES_CODES) {
            continue;
        }
        let turns = turning_points(path, (TURN_SHARE * range).max(6.0 * sigma));
        levels.extend(turns.iter().map(|&at| level(path, at)));
    }
    let low = levels.iter().copied().min_by(f64::total_cmp)?;
    let high = levels.iter().copied().max_by(f64::total_cmp)?;
    (high - low >= MOVES_CODES).then(|| Ends::from_strokes(low, high))
}

/// The strokes of a path, in order, as ranges of the recording's samples.
pub(crate) fn strokes_of(path: &Path<'_>, ends: Ends, sigma: f64) -> Vec<Stroke> {
    let span = ends.span().abs();
    let height = (TURN_SHARE * span).max(6.0 * sigma);
    let turns = turning_points(path, height);
    turns
        .windows(2)
        .filter_map(|pair| {
            let (from, to) = (level(path, pair[0]), level(path, pair[1]));
            let margin = MARGIN_SHARE * span + 4.0 * sigma;
            let values = path.piece(pair[0]..pair[1] + 1).value;
            let range = without_dwell(&values, from, to, margin)?;
            let (from_pct, to_pct) = (ends.travel_pct(from), ends.travel_pct(to));
            let [low, high] = COMPLETE_PCT;
            Some(Stroke {
                range: path.first + pair[0] + range.start..path.first + pair[0] + range.end,
                turns: path.first + pair[0]..path.first + pair[1] + 1,
                direction: if to_pct > from_pct {
                    Direction::Up
                } else {
                    Direction::Down
                },
                from_pct,
                to_pct,
                complete: from_pct.min(to_pct) <= low && from_pct.max(to_pct) >= high,
            })
        })
        .collect()
}

/// Range of the codes without the outermost 2 % of samples on each side.
fn reach(path: &Path<'_>) -> Option<f64> {
    let stride = (path.len() / 16_384).max(1);
    let places = (0..path.len()).step_by(stride);
    let mut some: Vec<f64> = places.map(|at| path.value(at)).collect();
    Some(quantile(&mut some, 0.98)? - quantile(&mut some, 0.02)?)
}

/// Mean of the five values around a place.
fn level(path: &Path<'_>, at: usize) -> f64 {
    let near = at.saturating_sub(2)..(at + 3).min(path.len());
    let count = real(near.len());
    near.map(|at| path.value(at)).sum::<f64>() / count
}

/// Places of the extremes between which the signal moves by more than `height`, in order.
///
/// An extreme is settled once the signal has gone back from it by more than `height`; the first and last are the
/// outermost places before the first and after the last settled one.
fn turning_points(path: &Path<'_>, height: f64) -> Vec<usize> {
    let mut turns = Vec::new();
    let (mut low, mut high) = ((0, f64::INFINITY), (0, f64::NEG_INFINITY));
    let mut rising: Option<bool> = None;
    path.for_each(|at, v| {
        if v < low.1 {
            low = (at, v);
        }
        if v > high.1 {
            high = (at, v);
        }
        if rising != Some(true) && v - low.1 > height {
            turns.push(low.0);
            (rising, high) = (Some(true), (at, v));
        } else if rising != Some(false) && high.1 - v > height {
            turns.push(high.0);
            (rising, low) = (Some(false), (at, v));
        }
    });
    match rising {
        Some(true) => turns.push(high.0),
        Some(false) => turns.push(low.0),
        None => {}
    }
    turns
}

/// What lies between the dwells: from the last sample near the one level to the first near the other, seen from the
/// middle of the stroke. `None` when fewer than five samples are left.
fn without_dwell(value: &[f64], from: f64, to: f64, margin: f64) -> Option<Range<usize>> {
    let half = f64::midpoint(from, to);
    let past = |v: &f64| (v - half) * (to - from) >= 0.0;
    let middle = value.iter().position(past)?;
    let (before, after) = value.split_at(middle);
    let near = |level: f64| move |v: &f64| (v - level).abs() <= margin;
    let start = before.iter().rposition(near(from)).map_or(0, |at| at + 1);
    let end = after.iter().position(near(to));
    let end = end.map_or(value.len(), |at| middle + at);
    (end >= start + 5).then_some(start..end)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Code;

    fn ramp(from: f64, to: f64, count: u32) -> impl Iterator<Item = f64> {
        (0..count).map(move |i| from + (to - from) * f64::from(i) / f64::from(count - 1))
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    fn path(value: &[f64]) -> Path<'static> {
        let codes = value.iter().map(|v| Code(v.round() as u32));
        Path::of_codes(1000, 0.001, codes.collect::<Vec<_>>().leak())
    }

    #[test]
    fn strokes_turn_where_the_signal_goes_back_far_enough() {
        // Up, a slip back by 10 of 100, on up, down: two strokes, not four.
        let value: Vec<f64> = ramp(0.0, 50.0, 51)
            .chain(ramp(49.0, 40.0, 10))
            .chain(ramp(41.0, 100.0, 60))
            .chain(ramp(99.0, 0.0, 100))
            .collect();
        assert_eq!(turning_points(&path(&value), 15.0), [0, 120, 220]);
        assert_eq!(turning_points(&path(&value), 9.0), [0, 50, 60, 120, 220]);
        let ends = Ends::from_holds(Some(0.0), Some(100.0)).unwrap();
        let strokes = strokes_of(&path(&value), ends, 0.0);
        assert_eq!(strokes.len(), 2);
        assert_eq!(strokes[0].direction, Direction::Up);
        assert_eq!(strokes[1].direction, Direction::Down);
        assert!(strokes.iter().all(|stroke| stroke.complete));
        // 2 % of 100 codes are cut off at both ends, less what averaging the turn takes off it.
        assert_eq!(strokes[0].range.start, 1003 + 1);
    }

    #[test]
    fn a_falling_control_goes_up_when_its_code_falls() {
        let value: Vec<f64> = ramp(900.0, 100.0, 200).collect();
        let ends = Ends::from_holds(Some(900.0), Some(100.0)).unwrap();
        let strokes = strokes_of(&path(&value), ends, 1.0);
        assert_eq!(strokes[0].direction, Direction::Up);
        assert!((ends.travel_pct(300.0) - 75.0).abs() < 1e-12);
        assert!((ends.code(75.0) - 300.0).abs() < 1e-12);
    }

    #[test]
    fn ends_that_are_none() {
        assert_eq!(Ends::from_holds(None, Some(5.0)), None);
        assert_eq!(Ends::from_holds(Some(5.0), Some(5.5)), None);
        assert_eq!(Ends::from_holds(Some(f64::NAN), Some(5.0)), None);
        assert_eq!(ends_of(&[], 1.0), None);
        assert_eq!(ends_of(&[path(&[5.0; 100])], 1.0), None);
        assert!(turning_points(&path(&[]), 1.0).is_empty());
        assert!(turning_points(&path(&[1.0, 1.0]), 1.0).is_empty());
    }
}
