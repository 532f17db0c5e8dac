//! Bounces: a control that runs into its stop faster than any hand brings it there, and leaves it again a few times.
//!
//! A bounce is at an end, after a fall, over within a fraction of a second: neither wear nor contact loss. While it lasts nothing is
//! told of the contact, except by what leaves that end.
//!
//! Belongs here: when a path bounces, and what falls into that. Does not belong here: what strokes and excursions are.

use crate::measure::strokes::path::Path;
use crate::measure::strokes::segment::{Ends, Stroke};
use std::ops::Range;

/// Between these distances from an end, % of travel, a fall is timed.
const FALLS_PCT: [f64; 2] = [30.0, 5.0];
/// Most seconds for that of a fall that is none of a hand's: a hand that takes half a second for the whole travel takes twice as
/// long (minimum jerk, Flash and Hogan 1985).
const FALLS_S: f64 = 0.05;
/// Most seconds that it bounces.
const LASTS_S: f64 = 0.4;
/// It is over once it has stood still for so many seconds, within so many % of travel and standard deviations of the noise.
const CALM_S: f64 = 0.04;
const CALM_PCT: f64 = 0.5;
const CALM_SIGMA: f64 = 4.0;
/// Seconds in which it swings as far beyond its end as it ever does.
const SWINGS_S: f64 = 0.1;
/// Seconds before it reaches the end, in which what left its path may be the fall itself.
const BEFORE_S: f64 = 0.03;
/// Furthest that a bounce goes from its end, % of travel. Own choice: above the 12 % of issue 13, well below a contact lost.
const HIGHEST_PCT: f64 = 20.0;

/// The bounces of one path.
#[derive(Debug, Clone, Default)]
pub(crate) struct Bounces {
    /// Samples of the path from the fall's last part to the end of each, and the travel of that end.
    windows: Vec<(Range<usize>, f64)>,
    /// First sample at the end, of each.
    arrived: Vec<usize>,
}

impl Bounces {
    /// Finds them on a path that excursions have been taken out of. Linear in the samples.
    pub fn of(path: &Path<'_>, ends: Ends) -> Self {
        let mut bounces = Self::default();
        let before = path.samples(BEFORE_S);
        let mut far: [Option<usize>; 2] = [None; 2];
        path.for_each(|at, code| {
            let travel = ends.travel_pct(code);
            // How far it is from either end; below 0 it is beyond.
            for (way, distance) in [travel, 100.0 - travel].into_iter().enumerate() {
                if distance >= FALLS_PCT[0] {
                    far[way] = Some(at);
                } else if distance <= FALLS_PCT[1]
                    && let Some(left) = far[way].take()
                    && path.time(at) - path.time(left) <= FALLS_S
                {
                    let window = at.saturating_sub(before)..at;
                    bounces.windows.push((window, [0.0, 100.0][way]));
                    bounces.arrived.push(at);
                }
            }
        });
        let arrived = bounces.arrived.iter();
        for ((window, end), at) in bounces.windows.iter_mut().zip(arrived) {
            window.end = over(path, ends, *end, *at);
        }
        bounces
    }

    /// Whether samples that left the path are a bounce: while it lasts, and all of them near that end.
    pub fn holds(&self, path: &Path<'_>, ends: Ends, off: &Range<usize>) -> bool {
        let near = |end: f64| {
            let codes = path.codes().get(off.clone()).unwrap_or_default();
            let far = |code: f64| (ends.travel_pct(code) - end).abs() > HIGHEST_PCT;
            !codes.iter().any(|code| far(code.as_f64()))
        };
        let begun = self
            .windows
            .partition_point(|(window, _)| window.start <= off.start);
        let longest = path.samples(BEFORE_S) + path.samples(LASTS_S);
        let windows = self.windows[..begun].iter().rev();
        windows
            .take_while(|(window, _)| off.start <= window.start + longest)
            .any(|(window, end)| {
                window.contains(&off.start) && off.end <= window.end + 1 && near(*end)
            })
    }

    /// The same of samples of the recording; of another path's never.
    pub fn hold(&self, path: &Path<'_>, ends: Ends, samples: &Range<usize>) -> bool {
        let inside = path.first <= samples.start && samples.end <= path.first + path.len();
        inside && {
            let off = samples.start - path.first..samples.end - path.first;
            self.holds(path, ends, &off)
        }
    }

    /// The stroke without what bounces at its ends; `None` where nothing is left of it.
    pub fn without(&self, path: &Path<'_>, mut stroke: Stroke) -> Option<Stroke> {
        let (longest, last) = (path.samples(LASTS_S), stroke.turns.end);
        let before = |arrived: &usize| path.first + arrived + longest < stroke.turns.start;
        let first = self.arrived.partition_point(before);
        for ((window, _), arrived) in self.windows.iter().zip(&self.arrived).skip(first) {
            let (from, to) = (path.first + arrived, path.first + window.end);
            if from > last {
                break;
            }
            if (from..to).contains(&stroke.range.start) {
                stroke.range.start = to;
            }
            if (from..to).contains(&stroke.turns.start) {
                stroke.turns.start = to.min(stroke.range.start);
            }
            // The dwell behind a fall is the bounce.
            if (from..to).contains(&stroke.turns.end) || stroke.turns.contains(&from) {
                let close = stroke.range.end <= from + path.samples(SWINGS_S);
                if close && stroke.range.start < from {
                    stroke.range.end = stroke.range.end.min(from);
                    stroke.turns.end = stroke.range.end;
                }
            }
        }
        (stroke.range.start + 5 <= stroke.range.end).then_some(stroke)
    }

    /// The highest of them above its stop, % of travel; `None` without any.
    pub fn highest_pct(&self, path: &Path<'_>, ends: Ends) -> Option<f64> {
        let each = self.windows.iter().zip(&self.arrived);
        let heights = each.filter_map(|((window, end), arrived)| {
            let codes = path.codes().get(*arrived..window.end)?;
            let travel = codes
                .iter()
                .map(|code| (ends.travel_pct(code.as_f64()) - end).abs());
            // The next stroke may begin before the bounce would be over.
            let mut before = 0.0;
            let mut highest = 0.0_f64;
            for travel in travel {
                if travel > HIGHEST_PCT {
                    break;
                }
                if travel < before {
                    highest = highest.max(before);
                }
                before = travel;
            }
            Some(highest)
        });
        heights.reduce(f64::max)
    }
}

/// The sample from which a bounce is over: it stands still, or is taken away from that end again.
fn over(path: &Path<'_>, ends: Ends, end: f64, arrived: usize) -> usize {
    let last = (arrived + path.samples(LASTS_S)).min(path.len());
    let calm = CALM_PCT + 100.0 * CALM_SIGMA * path.noise_sd() / ends.span().abs();
    let long = path.samples(CALM_S).max(2);
    let travel = |at: usize| ends.travel_pct(path.value(at));
    let mut still = arrived;
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for at in arrived..last {
        let now = travel(at);
        if (now - end).abs() > HIGHEST_PCT {
            return at;
        }
        (low, high) = (low.min(now), high.max(now));
        if high - low > 2.0 * calm {
            // Backwards to where it has been as it is now.
            still = at;
            (low, high) = (now, now);
        }
        if at - still >= long {
            return still;
        }
    }
    last
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::strokes::segment::{Direction, strokes_of};
    use crate::units::Code;

    /// 700 codes of travel at 1 kHz, rest at 100: up in 0.8 s, held, down in so many milliseconds, a throw of 8 % and 30 ms, rest,
    /// and up again.
    fn path(fall_ms: u32) -> Path<'static> {
        let travel = |from: f64, to: f64, n: u32| {
            (0..n).map(move |i| from + (to - from) * f64::from(i) / f64::from(n))
        };
        let throw = (0..30).map(|i| {
            let s = f64::from(i) / 30.0;
            0.08 * 4.0 * s * (1.0 - s)
        });
        let all = travel(0.0, 1.0, 800)
            .chain(travel(1.0, 1.0, 300))
            .chain(travel(1.0, 0.0, fall_ms))
            .chain(throw)
            .chain(travel(0.0, 0.0, 600))
            .chain(travel(0.0, 1.0, 800));
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let codes = all.map(|x| Code((100.0 + 700.0 * x).round() as u32));
        Path::of_codes(0, 0.001, codes.collect::<Vec<_>>().leak())
    }

    fn ends() -> Ends {
        Ends::from_holds(Some(100.0), Some(800.0)).unwrap()
    }

    #[test]
    fn a_fall_bounces_and_a_hand_does_not() {
        let snap = path(80);
        let bounces = Bounces::of(&snap, ends());
        assert_eq!(bounces.windows.len(), 1);
        let highest = bounces.highest_pct(&snap, ends()).unwrap();
        assert!((highest - 8.0).abs() < 0.2, "{highest}");
        // The throw is a bounce, and over with it; as much of the same height later is none, nor is what goes to the rail.
        let end = bounces.windows[0].0.end;
        assert!((1205..1215).contains(&end), "{end}");
        assert!(bounces.holds(&snap, ends(), &(1180..1206)));
        assert!(!bounces.holds(&snap, ends(), &(1650..1670)));
        assert!(!bounces.holds(&snap, ends(), &(1150..1210)), "from 37 % on");
        let hand = path(600);
        assert_eq!(Bounces::of(&hand, ends()).windows.len(), 0);
    }

    #[test]
    fn strokes_begin_and_end_without_it() {
        let snap = path(80);
        let bounces = Bounces::of(&snap, ends());
        let strokes = strokes_of(&snap, ends(), 0.5);
        assert_eq!(strokes.len(), 3);
        let without: Vec<Stroke> = strokes
            .iter()
            .filter_map(|stroke| bounces.without(&snap, stroke.clone()))
            .collect();
        assert_eq!(without.len(), 3);
        assert_eq!(without[1].direction, Direction::Down);
        assert!(without[1].turns.end <= 1180, "{:?}", without[1]);
        assert!(without[2].turns.start >= 1205, "{:?}", without[2]);
        assert_eq!(without[2].range, strokes[2].range);
    }
}
