//! Reversals: the level at which each stroke turned round, at both ends of travel, and each release began.

use crate::measure::holds::hold::passages_of;
use crate::units::{Code, Passage, Step};

/// Samples of the running median that keeps single spikes out.
const MEDIAN_OF: usize = 5;

/// Share of travel within which a movement counts as at an end.
const NEAR_END: f64 = 0.25;

/// Share of span within which samples count as the turn itself.
const AT_TURN: f64 = 0.01;

/// Levels at the reversals of strokes, in codes, in order of time.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Reversals {
    /// At the rest end.
    pub rest: Vec<f64>,
    /// At the full end.
    pub full: Vec<f64>,
}

/// The reversals of every `strokes` and `release` passage of one channel between two levels in codes, rest and full.
///
/// A turn is a visit of the outer quarter of travel that came from the other end and went back to it; in a release, which may
/// begin pressed, any visit of the full end that went to rest. Its level is the median of the samples within 1 % of span of
/// the farthest that a median of five reached. None without a span of one code at least.
#[must_use]
pub fn reversals(passages: &[Passage], codes: &[Code], rest: f64, full: f64) -> Reversals {
    let span = full - rest;
    let mut reversals = Reversals::default();
    if !(span.is_finite() && span.abs() >= 1.0) {
        return reversals;
    }
    let mut add = |range: &std::ops::Range<usize>, released: bool| {
        let Some(codes) = codes.get(range.clone()) else {
            return;
        };
        let travel: Vec<f64> = codes
            .iter()
            .map(|code| (code.as_f64() - rest) / span)
            .collect();
        let visits = visits(&medians(&travel));
        for (i, visit) in visits.iter().enumerate() {
            let left = i + 1 < visits.len();
            let wanted = if released { visit.at_full } else { i > 0 };
            if !(left && wanted) {
                continue;
            }
            let level = rest + span * level(&travel, visit);
            let levels = if visit.at_full {
                &mut reversals.full
            } else {
                &mut reversals.rest
            };
            levels.push(level);
        }
    };
    for range in passages_of(passages, Step::Strokes) {
        add(range, false);
    }
    for range in passages_of(passages, Step::Release) {
        add(range, true);
    }
    reversals
}

/// A stay near one end: from the first to the last sample there before the other end is reached.
struct Visit {
    at_full: bool,
    from: usize,
    to: usize,
    /// Travel farthest out.
    farthest: f64,
}

fn visits(travel: &[f64]) -> Vec<Visit> {
    let mut visits: Vec<Visit> = Vec::new();
    for (i, &t) in travel.iter().enumerate() {
        let at_full = t > 1.0 - NEAR_END;
        if !at_full && t >= NEAR_END {
            continue;
        }
        match visits.last_mut().filter(|visit| visit.at_full == at_full) {
            Some(visit) => {
                visit.to = i;
                visit.farthest = if at_full {
                    visit.farthest.max(t)
                } else {
                    visit.farthest.min(t)
                };
            }
            None => visits.push(Visit {
                at_full,
                from: i,
                to: i,
                farthest: t,
            }),
        }
    }
    visits
}

fn level(travel: &[f64], visit: &Visit) -> f64 {
    let mut there: Vec<f64> = travel[visit.from..=visit.to]
        .iter()
        .copied()
        .filter(|t| (t - visit.farthest).abs() <= AT_TURN)
        .collect();
    middle(&mut there).unwrap_or(visit.farthest)
}

fn medians(values: &[f64]) -> Vec<f64> {
    let half = MEDIAN_OF / 2;
    (0..values.len())
        .map(|i| {
            let around = i.saturating_sub(half)..(i + half + 1).min(values.len());
            middle(&mut values[around].to_vec()).unwrap_or(values[i])
        })
        .collect()
}

fn middle(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(levels: &[u32]) -> Reversals {
        of_step(Step::Strokes, levels)
    }

    fn of_step(step: Step, levels: &[u32]) -> Reversals {
        let codes: Vec<Code> = levels
            .iter()
            .flat_map(|&level| std::iter::repeat_n(Code(level), 8))
            .collect();
        let passages = [Passage {
            step,
            range: 0..codes.len(),
        }];
        reversals(&passages, &codes, 100.0, 900.0)
    }

    #[track_caller]
    fn assert_near(seen: &[f64], wanted: &[f64]) {
        let near = seen.iter().zip(wanted).all(|(a, b)| (a - b).abs() < 1e-9);
        assert!(
            seen.len() == wanted.len() && near,
            "{seen:?} for {wanted:?}"
        );
    }

    /// By hand: a passage from rest to rest with three full ends and two reversals at rest in between.
    #[test]
    fn the_ends_of_each_stroke_and_not_those_of_the_passage() {
        let seen = of(&[
            100, 500, 902, 500, 101, 500, 899, 500, 103, 500, 905, 500, 100,
        ]);
        assert_near(&seen.full, &[902.0, 899.0, 905.0]);
        assert_near(&seen.rest, &[101.0, 103.0]);
    }

    #[test]
    fn a_release_may_begin_pressed_and_gives_no_rest() {
        let seen = of_step(
            Step::Release,
            &[902, 500, 100, 500, 899, 500, 103, 500, 905],
        );
        assert_near(&seen.full, &[902.0, 899.0]);
        assert_near(&seen.rest, &[]);
    }

    #[test]
    fn a_spike_is_no_turn_and_nothing_gives_nothing() {
        let mut codes = vec![Code(100); 20];
        codes[10] = Code(900);
        let passages = [Passage {
            step: Step::Strokes,
            range: 0..20,
        }];
        let none = Reversals::default();
        assert_eq!(reversals(&passages, &codes, 100.0, 900.0), none);
        assert_eq!(reversals(&[], &[], 100.0, 900.0), none);
        assert_eq!(of(&[]), none);
        for rest in [100.0, f64::NAN] {
            assert_eq!(reversals(&passages, &codes, rest, 100.0), none);
        }
    }
}
