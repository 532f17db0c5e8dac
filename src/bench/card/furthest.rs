//! How far a control was seen to go: whether an end that was held is the end.
//!
//! A place beyond a held end counts when the control was moved there and stood there, or went there twice. What jumps
//! there (a loose plug) does not count: nothing was seen on the way.

use std::collections::VecDeque;

/// How far beyond a held end, as a share of the travel, is another place: a stop gives by 3 %, and some play.
pub(super) const MARGIN: f64 = 0.04;
/// Blocks of 20 ms that are looked back on for the way there.
const WAY: usize = 12;
/// How many of them must have been on the way.
const ON_THE_WAY: usize = 2;
/// Blocks that a place must last.
const LASTS: usize = 3;

/// An end of the travel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum End {
    Rest,
    Full,
}

/// A place beyond an end, in travel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Beyond {
    pub end: End,
    /// 0 at rest, 1 at the held full end.
    pub travel: f64,
}

#[derive(Debug, Clone, Default)]
pub(super) struct Furthest {
    recent: VecDeque<f64>,
    /// Beyond an end now, this far at most.
    out: Option<Beyond>,
    /// Beyond an end once before.
    once: Option<Beyond>,
}

impl Furthest {
    /// Takes in where the control is, a block at a time, and whether it stands still there.
    pub fn push(&mut self, travel: f64, still: bool, margin: f64) -> Option<Beyond> {
        if self.recent.len() == WAY {
            self.recent.pop_front();
        }
        self.recent.push_back(travel);
        let last = || self.recent.iter().rev().take(LASTS).copied();
        let low = last().fold(f64::MAX, f64::min);
        let high = last().fold(f64::MIN, f64::max);
        let there = if self.recent.len() < LASTS {
            None
        } else if low > 1.0 + margin {
            Some(Beyond {
                end: End::Full,
                travel: low,
            })
        } else if high < -margin {
            Some(Beyond {
                end: End::Rest,
                travel: high,
            })
        } else {
            None
        };
        match (self.out, there) {
            (None, Some(there)) => {
                let way = self.recent.iter().filter(|at| (0.15..0.9).contains(*at));
                if way.count() >= ON_THE_WAY {
                    self.out = Some(there);
                }
                None
            }
            (Some(out), Some(there)) if out.end == there.end => {
                let further = |a: f64, b: f64| {
                    if out.end == End::Full {
                        a.max(b)
                    } else {
                        a.min(b)
                    }
                };
                let travel = further(out.travel, there.travel);
                self.out = Some(Beyond { travel, ..out });
                still.then(|| self.found(there))
            }
            (Some(out), _) if (0.2..0.8).contains(&travel) => {
                self.out = None;
                match self.once.replace(out) {
                    Some(before) if before.end == out.end => {
                        let nearer = (before.travel - 0.5).abs() < (out.travel - 0.5).abs();
                        Some(self.found(if nearer { before } else { out }))
                    }
                    _ => None,
                }
            }
            _ => None,
        }
    }

    fn found(&mut self, beyond: Beyond) -> Beyond {
        *self = Self::default();
        beyond
    }

    /// Nothing that was seen is continued: after a gap, or when the ends are others.
    pub fn forget(&mut self) {
        *self = Self::default();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pushed(travels: &[f64], still: bool) -> Option<Beyond> {
        let mut furthest = Furthest::default();
        travels
            .iter()
            .find_map(|travel| furthest.push(*travel, still, MARGIN))
    }

    const PRESS: [f64; 8] = [0.0, 0.3, 0.6, 0.9, 1.2, 1.5, 1.6, 1.6];

    #[test]
    fn twice_beyond_or_held_there_is_another_end() {
        let back = [1.2, 0.6, 0.2, 0.0];
        let once = [&PRESS[..], &back].concat();
        assert_eq!(pushed(&once, false), None);
        let twice = [&once[..], &once].concat();
        let full = |travel| {
            Some(Beyond {
                end: End::Full,
                travel,
            })
        };
        assert_eq!(pushed(&twice, false), full(1.5));
        assert_eq!(pushed(&[&PRESS[..], &[1.6; 4]].concat(), true), full(1.5));
    }

    #[test]
    fn what_jumps_there_or_goes_hardly_further_is_not() {
        let jump = [0.0, 0.0, 0.0, 1.5, 1.5, 1.5, 1.5, 0.0, 0.0];
        assert_eq!(pushed(&[jump; 4].concat(), true), None);
        let give = [0.0, 0.3, 0.6, 0.9, 1.03, 1.03, 1.03, 0.5, 0.1];
        assert_eq!(pushed(&[give; 4].concat(), true), None);
    }

    #[test]
    fn the_rest_end_has_a_beyond_too() {
        let below = [1.0, 0.7, 0.4, 0.1, -0.1, -0.1, -0.1, -0.1];
        let found = pushed(&[below; 2].concat(), true).unwrap();
        assert!(found.end == End::Rest && (found.travel + 0.1).abs() < 1e-9);
    }
}
