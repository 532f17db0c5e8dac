//! A hand at work: where the control stands in every sample, and which step that is.

use super::chance::Chance;
use measure::units::Step;

/// How a hand moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Hand {
    Even,
    /// Times scatter by a third, it stops on the way and does not always press as hard.
    Uneven,
}

/// How a part moves when it is let go, and how far it goes.
#[derive(Debug, Clone, Copy)]
pub struct Mechanics {
    /// Seconds from 90 to 10 %.
    pub release_s: f64,
    /// Standard deviation of where it comes to rest, and its mean, travel.
    pub rests: (f64, f64),
    /// Travel at which it stops when it is pressed.
    pub stops_at: f64,
    /// Whether it comes back by itself.
    pub springs: bool,
}

/// One sample of the plan.
#[derive(Debug, Clone, Copy)]
pub struct Moment {
    pub step: Step,
    pub travel: f64,
    /// Position on the scale, where one was stated.
    pub stated: Option<f64>,
}

pub struct Plan<'a> {
    pub moments: Vec<Moment>,
    rate_hz: f64,
    hand: Hand,
    mechanics: Mechanics,
    chance: &'a mut Chance,
    travel: f64,
}

impl<'a> Plan<'a> {
    pub fn new(rate_hz: f64, hand: Hand, mechanics: Mechanics, chance: &'a mut Chance) -> Self {
        let travel = (mechanics.rests.1 + mechanics.rests.0 * chance.normal()).max(0.0);
        Self {
            moments: Vec::new(),
            rate_hz,
            hand,
            mechanics,
            chance,
            travel,
        }
    }

    fn seconds(&mut self, s: f64) -> usize {
        let scatter = match self.hand {
            Hand::Even => 0.06,
            Hand::Uneven => 0.3,
        };
        let s = s * (1.0 + scatter * self.chance.normal()).clamp(0.5, 2.0);
        (s * self.rate_hz) as usize
    }

    fn put(&mut self, step: Step, travel: f64) {
        self.travel = travel;
        self.moments.push(Moment {
            step,
            travel,
            stated: None,
        });
    }

    /// Stands still where it is, with the tremor of a hand that holds it.
    pub fn hold(&mut self, step: Step, s: f64, held: bool) {
        let at = self.travel;
        let tremor = if held { 0.0003 } else { 0.0 };
        let mut sway = 0.0;
        for _ in 0..(s * self.rate_hz) as usize {
            sway = 0.98 * sway + 0.2 * tremor * self.chance.normal();
            self.put(step, at + sway);
        }
        self.travel = at;
    }

    /// Moves in a smooth stroke (least jerk: 10 u^3 - 15 u^4 + 6 u^5), an uneven hand with a stop on the way.
    pub fn go(&mut self, step: Step, to: f64, s: f64) {
        let from = self.travel;
        let n = self.seconds(s).max(2);
        let pause = (self.hand == Hand::Uneven && self.chance.happens(0.3))
            .then(|| self.chance.between(0.2, 0.8));
        for i in 0..n {
            let u = i as f64 / (n - 1) as f64;
            let u = match pause {
                Some(at) if u > at && u < at + 0.12 => at,
                Some(at) if u >= at + 0.12 => {
                    at + (u - at - 0.12) * (1.0 - at) / (0.88 - at).max(0.05)
                }
                _ => u,
            }
            .clamp(0.0, 1.0);
            let shape = u * u * u * (10.0 - 15.0 * u + 6.0 * u * u);
            self.put(step, from + (to - from) * shape);
        }
    }

    /// Where a press ends: at the stop, or a little before.
    pub fn full(&mut self) -> f64 {
        let short = match self.hand {
            Hand::Even => 0.001,
            Hand::Uneven => 0.004,
        };
        self.mechanics.stops_at - (short * self.chance.normal()).abs()
    }

    fn rests_at(&mut self) -> f64 {
        let (sd, mean) = self.mechanics.rests;
        (mean + sd * self.chance.normal()).max(0.0)
    }

    /// Held full, let go, at rest.
    pub fn release(&mut self, press_s: f64) {
        let full = self.full();
        self.go(Step::Idle, full, press_s);
        self.hold(Step::Release, 0.8, true);
        let (from, to) = (self.travel, self.rests_at());
        if self.mechanics.springs {
            // 90 to 10 % of an exponential take ln 9 of its time constant.
            let tau = self.mechanics.release_s / 9f64.ln();
            let rest_s = 1.3 + 2.0 * self.mechanics.release_s;
            for i in 0..(rest_s * self.rate_hz) as usize {
                let t = i as f64 / self.rate_hz;
                self.put(Step::Release, to + (from - to) * (-t / tau).exp());
            }
        } else {
            self.go(Step::Release, to, 0.4);
            self.hold(Step::Release, 1.3, false);
        }
        self.travel = to;
    }

    pub fn back(&mut self) {
        let to = self.rests_at();
        self.go(Step::Idle, to, 0.6);
    }

    /// Holds at stated positions, up and down.
    pub fn stations(&mut self, count: usize) {
        let up = (0..=count).map(|k| k as f64 / count as f64);
        let down = (0..count).rev().map(|k| k as f64 / count as f64);
        for at in up.chain(down).collect::<Vec<_>>() {
            let placed = at * self.mechanics.stops_at + 0.0005 * self.chance.normal();
            self.go(Step::Idle, placed, 0.4);
            let before = self.moments.len();
            self.hold(Step::Stations, 0.8, false);
            for moment in &mut self.moments[before..] {
                moment.stated = Some(at * 100.0);
            }
        }
    }
}
