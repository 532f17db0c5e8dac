//! From a movement to the pieces that the hand carries out, one motion and one step each.

use super::board::Tie;
use super::chance::Chance;
use super::script::{Movement, Passages, ReturnBy};
use measure::units::Step;
use std::collections::VecDeque;

/// How the control moves within a piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Motion {
    /// Let alone, or placed there.
    Still(f64),
    /// Held by hand at the full end: trembles.
    Held(f64),
    /// Moved by hand by the path of least jerk.
    Moved(f64, f64),
    /// Let go: the spring brings it back.
    Sprung(f64, f64),
}

/// One piece of a script.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Piece {
    pub step: Step,
    pub motion: Motion,
    pub s: f64,
    /// Supply as a fraction of nominal, at the beginning and at the end.
    pub supply: (f64, f64),
    pub tie: Option<Tie>,
    pub shaking: bool,
    /// The position that the user states.
    pub station: Option<f64>,
    /// Whether the control comes back to rest in this piece.
    pub returns: bool,
    /// Whether this piece is a stroke, one way.
    pub stroke: bool,
}

impl Piece {
    fn new(step: Step, motion: Motion, s: f64) -> Self {
        Self {
            step,
            motion,
            s,
            supply: (1.0, 1.0),
            tie: None,
            shaking: false,
            station: None,
            returns: false,
            stroke: false,
        }
    }
}

/// Turns movements into pieces; knows where the control stands at the end of what is planned.
#[derive(Debug, Clone)]
pub(super) struct Planner {
    at: f64,
    return_mean: f64,
    return_sd: f64,
}

impl Planner {
    /// A control at rest whose returns are normal with this mean and standard deviation, as travel.
    pub(super) fn new(chance: &mut Chance, return_mean: f64, return_sd: f64) -> Self {
        let mut planner = Self {
            at: 0.0,
            return_mean,
            return_sd,
        };
        planner.at = planner.rest_position(chance);
        planner
    }

    fn rest_position(&self, chance: &mut Chance) -> f64 {
        self.return_mean + self.return_sd * chance.normal()
    }

    /// Appends the pieces of one movement.
    pub(super) fn plan(
        &mut self,
        movement: &Movement,
        chance: &mut Chance,
        out: &mut VecDeque<Piece>,
    ) {
        let still = Motion::Still(self.at);
        match movement {
            Movement::Rest(s) => out.push_back(Piece::new(Step::Rest, still, *s)),
            Movement::Full(s) => out.push_back(Piece::new(Step::Full, Motion::Held(self.at), *s)),
            Movement::Wait(s) => out.push_back(Piece::new(Step::Idle, still, *s)),
            Movement::Shake(s) => out.push_back(Piece {
                shaking: true,
                ..Piece::new(Step::Shake, still, *s)
            }),
            Movement::Tied(tie, s) => out.push_back(Piece {
                tie: Some(*tie),
                ..Piece::new(tie.step(), still, *s)
            }),
            Movement::Go { to, s } => self.go(*to, *s, chance, out),
            Movement::Strokes { .. } => self.strokes(movement, chance, out),
            Movement::Returns { .. } => self.returns(movement, chance, out),
            Movement::Stations { .. } => self.stations(movement, chance, out),
            Movement::Supply { low, high, s } => {
                let path = [(1.0, *low), (*low, *high), (*high, 1.0)];
                let way: f64 = path.iter().map(|(from, to)| (to - from).abs()).sum();
                for (from, to) in path {
                    let share = if way > 0.0 {
                        (to - from).abs() / way
                    } else {
                        1.0 / 3.0
                    };
                    out.push_back(Piece {
                        supply: (from, to),
                        ..Piece::new(Step::Supply, still, s * share)
                    });
                }
            }
        }
    }

    fn moved(&mut self, to: f64) -> Motion {
        let motion = Motion::Moved(self.at, to);
        self.at = to;
        motion
    }

    fn go(&mut self, to: f64, s: f64, chance: &mut Chance, out: &mut VecDeque<Piece>) {
        let returns = to <= 0.0;
        let to = if returns {
            self.rest_position(chance)
        } else {
            to
        };
        out.push_back(Piece {
            returns,
            ..Piece::new(Step::Idle, self.moved(to), s)
        });
    }

    fn strokes(&mut self, movement: &Movement, chance: &mut Chance, out: &mut VecDeque<Piece>) {
        let Movement::Strokes {
            count,
            s,
            dwell_s,
            time_scatter,
            end_scatter,
        } = movement
        else {
            return;
        };
        for stroke in 0..*count {
            let last = stroke + 1 == *count;
            let short_full = end_scatter * chance.normal().abs();
            let short_rest = if last {
                0.0
            } else {
                end_scatter * chance.normal().abs()
            };
            let rest = self.rest_position(chance);
            for (to, returns) in [(1.0 - short_full, false), (rest + short_rest, last)] {
                let mut about =
                    |mean: f64| mean * (1.0 + time_scatter * chance.normal()).clamp(0.5, 2.0);
                let (moving_s, staying_s) = (about(*s), about(*dwell_s));
                out.push_back(Piece {
                    returns,
                    stroke: true,
                    ..Piece::new(Step::Strokes, self.moved(to), moving_s)
                });
                out.push_back(Piece::new(Step::Strokes, Motion::Still(self.at), staying_s));
            }
        }
    }

    fn returns(&mut self, movement: &Movement, chance: &mut Chance, out: &mut VecDeque<Piece>) {
        let Movement::Returns {
            count,
            press_s,
            hold_s,
            by,
            rest_s,
            passages,
        } = movement
        else {
            return;
        };
        let pressing = match passages {
            Passages::Apart => Step::Idle,
            Passages::Together => Step::Release,
        };
        for _ in 0..*count {
            out.push_back(Piece::new(pressing, self.moved(1.0), *press_s));
            out.push_back(Piece::new(Step::Release, Motion::Held(1.0), *hold_s));
            let rest = self.rest_position(chance);
            match by {
                ReturnBy::Spring => {
                    out.push_back(Piece {
                        returns: true,
                        ..Piece::new(Step::Release, Motion::Sprung(1.0, rest), *rest_s)
                    });
                    self.at = rest;
                }
                ReturnBy::Hand(s) => {
                    out.push_back(Piece {
                        returns: true,
                        ..Piece::new(Step::Release, self.moved(rest), *s)
                    });
                    let left = (rest_s - s).max(0.0);
                    out.push_back(Piece::new(Step::Release, Motion::Still(rest), left));
                }
            }
        }
    }

    fn stations(&mut self, movement: &Movement, chance: &mut Chance, out: &mut VecDeque<Piece>) {
        let Movement::Stations {
            positions,
            move_s,
            hold_s,
            place_sd,
        } = movement
        else {
            return;
        };
        for position in positions {
            let placed = position + place_sd * chance.normal();
            out.push_back(Piece::new(Step::Idle, self.moved(placed), *move_s));
            out.push_back(Piece {
                station: Some(*position),
                ..Piece::new(Step::Stations, Motion::Still(placed), *hold_s)
            });
        }
    }
}
