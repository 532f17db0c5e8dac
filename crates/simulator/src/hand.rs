//! The hand: carries out a script, sample by sample, and says which step it is doing.

use super::board::Tie;
use super::chance::{Chance, Purpose};
use super::control::Spring;
use super::plan::{Motion, Piece, Planner};
use super::script::{Movement, ReferenceKind, ReferenceModel, Repeat, Script};
use super::truth::ReturnTruth;
use measure::units::Step;
use std::collections::VecDeque;
use std::f64::consts::TAU;

/// Way covered, 0 ..= 1, after a part 0 ..= 1 of the time, by the movement of least jerk between two rests.
///
/// 10 t^3 - 15 t^4 + 6 t^5. Source: T. Flash, N. Hogan, "The coordination of arm movements", Journal of Neuroscience 5(7),
/// 1985.
pub fn minimum_jerk(part: f64) -> f64 {
    let t = part.clamp(0.0, 1.0);
    t * t * t * (10.0 + t * (6.0 * t - 15.0))
}

/// Way left, 1 at first and towards 0, `t_s` seconds after a control was let go.
///
/// First order with the spring's time constant; from four time constants on it bounces off its stop at 12 Hz, each bounce
/// lower. Bounces are in the same unit as the way.
pub fn spring_return(spring: &Spring, t_s: f64) -> f64 {
    let falling = libm::exp(-t_s / spring.tau_s);
    let since = t_s - 4.0 * spring.tau_s;
    if spring.bounce > 0.0 && since > 0.0 {
        let swing = libm::fabs(libm::sin(TAU * 6.0 * since));
        falling + spring.bounce * swing * libm::exp(-since / 0.08)
    } else {
        falling
    }
}

/// What the hand does at one sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HandSample {
    /// The step that is being done.
    pub step: Step,
    /// Where the control stands: 0 at rest, 1 fully operated; a little beyond at a scattered end.
    pub travel: f64,
    /// The reference position, where there is one.
    pub reference: Option<f64>,
    /// Supply as a fraction of nominal.
    pub supply: f64,
    /// What the board's inputs are tied to, instead of the control.
    pub tie: Option<Tie>,
    /// Whether the cable is being moved.
    pub shaking: bool,
}

/// The piece that is being carried out.
#[derive(Debug, Clone, Copy)]
struct CurrentPiece {
    piece: Piece,
    samples: u64,
    done: u64,
    phases: (f64, f64),
}

/// What a hand that is told something else goes on with comes in pieces of so many seconds, so that it can be told again.
const PIECE_S: f64 = 0.5;
/// Pieces of half an hour.
const A_WHILE: usize = 3600;

/// Carries out a script.
#[derive(Debug, Clone)]
pub(super) struct Hand {
    script: Script,
    next_movement: usize,
    planned: VecDeque<Piece>,
    planner: Planner,
    doing: Option<CurrentPiece>,
    spring: Spring,
    rate_hz: f64,
    sample: u64,
    chance: Chance,
    pub returns: Vec<ReturnTruth>,
    pub strokes: u64,
}

impl Hand {
    pub(super) fn new(
        script: Script,
        spring: Spring,
        returning: (f64, f64),
        rate_hz: f64,
        seed: u64,
    ) -> Self {
        let mut chance = Chance::new(seed, Purpose::Hand);
        let planner = Planner::new(&mut chance, returning.0, returning.1);
        Self {
            script,
            next_movement: 0,
            planned: VecDeque::new(),
            planner,
            doing: None,
            spring,
            rate_hz,
            sample: 0,
            chance,
            returns: Vec::new(),
            strokes: 0,
        }
    }

    /// The next sample; none when the script is done and does not repeat.
    pub(super) fn next_sample(&mut self) -> Option<HandSample> {
        let mut doing = match self.doing {
            Some(doing) if doing.done < doing.samples => doing,
            _ => self.begin()?,
        };
        let sample = self.at(&doing);
        doing.done += 1;
        self.doing = Some(doing);
        self.sample += 1;
        Some(sample)
    }

    /// What is planned is ended; then the control is at rest for ever.
    pub(super) fn let_go(&mut self) {
        let mut movements = vec![Movement::Go { to: 0.0, s: 0.6 }];
        movements.resize(A_WHILE, Movement::Rest(PIECE_S));
        self.go_on_with(movements);
    }

    /// What is planned is ended; then the plug is moved for ever.
    pub(super) fn wiggle_plug(&mut self) {
        self.go_on_with(vec![Movement::Shake(PIECE_S)]);
    }

    fn go_on_with(&mut self, movements: Vec<Movement>) {
        self.script.movements = movements;
        self.script.repeat = Repeat::ForEver;
        self.next_movement = 0;
    }

    pub(super) fn has_reference(&self) -> bool {
        self.script.reference.is_some()
    }

    fn begin(&mut self) -> Option<CurrentPiece> {
        let mut empty_rounds = 0;
        loop {
            let Some(piece) = self.planned.pop_front() else {
                empty_rounds += u32::from(self.plan_next()?);
                if empty_rounds > 2 {
                    return None; // a script that takes no time would repeat for ever
                }
                continue;
            };
            let samples = whole(piece.s * self.rate_hz);
            self.note(&piece, samples);
            if samples > 0 {
                return Some(CurrentPiece {
                    piece,
                    samples,
                    done: 0,
                    phases: (self.chance.even(), self.chance.even()),
                });
            }
        }
    }

    /// Plans one movement; says whether the script began again.
    fn plan_next(&mut self) -> Option<bool> {
        let again = self.next_movement >= self.script.movements.len();
        if again {
            if self.script.repeat == Repeat::Once {
                return None;
            }
            self.next_movement = 0;
        }
        let movement = self.script.movements.get(self.next_movement)?;
        self.planner
            .plan(movement, &mut self.chance, &mut self.planned);
        self.next_movement += 1;
        Some(again)
    }

    fn note(&mut self, piece: &Piece, samples: u64) {
        self.strokes += u64::from(piece.stroke);
        if piece.returns
            && let Motion::Moved(_, to) | Motion::Sprung(_, to) = piece.motion
        {
            self.returns.push(ReturnTruth {
                t_s: real(self.sample + samples) / self.rate_hz,
                travel: to,
            });
        }
    }

    fn at(&mut self, doing: &CurrentPiece) -> HandSample {
        let piece = &doing.piece;
        let part = real(doing.done) / real(doing.samples);
        let t_s = real(doing.done) / self.rate_hz;
        let travel = match piece.motion {
            Motion::Still(at) => at,
            Motion::Held(at) => at + self.script.tremor * tremor(t_s, doing.phases),
            Motion::Moved(from, to) => from + (to - from) * minimum_jerk(part),
            Motion::Sprung(from, to) => to + (from - to) * spring_return(&self.spring, t_s),
        };
        HandSample {
            step: piece.step,
            travel,
            reference: self.reference(piece, travel),
            supply: piece.supply.0 + (piece.supply.1 - piece.supply.0) * part,
            tie: piece.tie,
            shaking: piece.shaking,
        }
    }

    fn reference(&mut self, piece: &Piece, travel: f64) -> Option<f64> {
        let ReferenceModel { low, high, kind } = self.script.reference?;
        match kind {
            ReferenceKind::Stated => piece.station.map(|at| low + (high - low) * at),
            ReferenceKind::Encoder(sd) => {
                let noise = if sd > 0.0 {
                    sd * self.chance.normal()
                } else {
                    0.0
                };
                Some(low + (high - low) * travel + noise)
            }
        }
    }
}

/// Tremor of rms 1: two lines inside the 8 to 12 Hz of a hand's tremor (common knowledge, no source).
fn tremor(t_s: f64, phases: (f64, f64)) -> f64 {
    libm::sin(TAU * (8.3 * t_s + phases.0)) + libm::sin(TAU * (11.1 * t_s + phases.1))
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped; a negative time takes none
fn whole(samples: f64) -> u64 {
    samples.round().clamp(0.0, 9e15) as u64
}

#[allow(clippy::cast_precision_loss)] // below 2^53
fn real(samples: u64) -> f64 {
    samples as f64
}
