//! Presses of a control whose wires are not where they were: seen by what repeats, not by where it stands.
//!
//! Rest, full, rest, full, rest: the same two sets of levels in turn. A wire that is pulled and put elsewhere does not do that.

use measure::units::seconds_from_us;

/// Seconds that every signal must stand still.
const LEAST_S: f64 = 0.5;
/// What a stretch ends before the movement that ends it, microseconds.
const LOOK_BACK_US: u64 = 100_000;

/// All signals stand still.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::bench::card) struct Still {
    pub from_us: u64,
    pub to_us: u64,
    levels: Vec<f64>,
}

impl Still {
    fn lasts_s(&self) -> f64 {
        seconds_from_us(self.to_us.saturating_sub(self.from_us))
    }

    /// The furthest that a signal is from where it is in another stretch, codes.
    fn apart(&self, other: &Self) -> f64 {
        let pairs = self.levels.iter().zip(&other.levels);
        pairs.map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
    }
}

#[derive(Debug, Clone, Default)]
pub(in crate::bench::card) struct Presses {
    stretches: Vec<Still>,
    moving: bool,
}

impl Presses {
    /// Takes in where every signal stands; `None` while one of them moves.
    pub fn push(&mut self, t_us: u64, levels: Option<Vec<f64>>, same: f64) {
        let Some(levels) = levels else {
            if !std::mem::replace(&mut self.moving, true)
                && let Some(last) = self.stretches.last_mut()
            {
                last.to_us = last.to_us.saturating_sub(LOOK_BACK_US).max(last.from_us);
                if last.lasts_s() < LEAST_S {
                    self.stretches.pop();
                }
            }
            return;
        };
        let now = Still {
            from_us: t_us,
            to_us: t_us,
            levels,
        };
        match self.stretches.last_mut() {
            Some(last) if !self.moving => last.to_us = t_us,
            // It shivered, and stands where it stood.
            Some(last) if last.apart(&now) <= same => last.to_us = t_us,
            _ => self.stretches.push(now),
        }
        self.moving = false;
    }

    /// The presses so far, at most two, and the stretches of two: at rest and fully pressed in turn.
    pub fn seen(&self, same: f64, moved: f64) -> (f64, Option<[Still; 5]>) {
        let alike = |a: &Still, b: &Still| a.apart(b) <= same;
        let last = |n: usize| -> &[Still] {
            let from = self.stretches.len().saturating_sub(n);
            &self.stretches[from..]
        };
        if let [a, b, c, d, e] = last(5)
            && alike(a, c)
            && alike(c, e)
            && alike(b, d)
            && a.apart(b) > moved
            && e.lasts_s() >= LEAST_S
        {
            let five = [a, b, c, d, e].map(Still::clone);
            return (2.0, Some(five));
        }
        let once =
            |three: &[Still]| matches!(three, [a, b, c] if alike(a, c) && a.apart(b) > moved);
        let two = last(4);
        let begun = once(last(3)) || two.len() == 4 && once(&two[..3]);
        (if begun { 1.0 } else { 0.0 }, None)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// So many seconds at these levels each, a tenth of a second of movement between.
    fn pushed(stretches: &[(f64, [f64; 2])]) -> Presses {
        let mut presses = Presses::default();
        let mut t_us = 0;
        for (seconds, levels) in stretches {
            for _ in 0..(seconds * 50.0) as u32 {
                presses.push(t_us, Some(levels.to_vec()), 16.0);
                t_us += 20_000;
            }
            presses.push(t_us, None, 16.0);
            t_us += 100_000;
        }
        presses
    }

    const REST: [f64; 2] = [82.0, 164.0];
    const FULL: [f64; 2] = [430.0, 860.0];

    #[test]
    fn two_presses_are_seen_whatever_came_before() {
        let wires = [(2.0, [164.0, 82.0]), (1.0, [0.0, 82.0]), (1.0, [0.0, 0.0])];
        let press = [(1.0, REST), (1.0, FULL), (1.0, REST), (1.0, FULL)];
        let most = [&wires[..], &press].concat();
        assert_eq!(pushed(&most).seen(16.0, 50.0).0, 1.0);
        let all = [&most[..], &[(1.0, REST)]].concat();
        let (n, five) = pushed(&all).seen(16.0, 50.0);
        assert_eq!(n, 2.0);
        assert_eq!(five.unwrap()[1].levels, FULL);
    }

    #[test]
    fn a_wire_put_elsewhere_is_no_press() {
        let wires = [
            (2.0, [164.0, 82.0]),
            (1.0, [0.0, 82.0]),
            (1.0, [0.0, 0.0]),
            (1.0, [82.0, 0.0]),
            (3.0, REST),
        ];
        assert_eq!(pushed(&wires).seen(16.0, 50.0), (0.0, None));
    }
}
