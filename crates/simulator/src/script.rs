//! What the hand is to do: movements as data, and ready scripts.

use super::board::Tie;
use measure::units::Step;

/// How a control comes back in [`Movement::Returns`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ReturnBy {
    /// Let go: the spring brings it back.
    Spring,
    /// Brought back by hand in so many seconds.
    Hand(f64),
}

/// How the passages of repeated returns are labelled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Passages {
    /// Each return is a `release` passage of its own; moving to full again is `idle`.
    Apart,
    /// All of it is one `release` passage.
    Together,
}

/// One thing that the hand does. Times in seconds, positions as travel 0 ..= 1.
#[derive(Debug, Clone, PartialEq)]
pub enum Movement {
    /// Lets the control alone where it is; step `rest`.
    Rest(f64),
    /// Holds the control at its full end with a slight tremor; step `full`.
    Full(f64),
    /// Waits where it is; step `idle`.
    Wait(f64),
    /// Moves to a travel by the path of least jerk; step `idle`. Travel 0 is a return: it ends where the control rests.
    Go {
        /// Where to.
        to: f64,
        /// In how many seconds.
        s: f64,
    },
    /// Moves from end to end and back; step `strokes`.
    Strokes {
        /// How many times there and back.
        count: u32,
        /// Seconds one way.
        s: f64,
        /// Seconds at each end.
        dwell_s: f64,
        /// Scatter of both times, relative standard deviation.
        time_scatter: f64,
        /// How far a stroke stops short of its end, as travel: half-normal with this standard deviation.
        end_scatter: f64,
    },
    /// Holds full, comes back, rests, again and again; step `release`.
    Returns {
        /// How many times.
        count: u32,
        /// Seconds to move to full.
        press_s: f64,
        /// Seconds held there.
        hold_s: f64,
        /// What brings it back.
        by: ReturnBy,
        /// Seconds from letting go to the end of the rest.
        rest_s: f64,
        /// How it is labelled.
        passages: Passages,
    },
    /// Lets the control alone while the cable is moved; step `shake`.
    Shake(f64),
    /// Holds at stated positions, first up then down; step `stations`, `idle` between them.
    Stations {
        /// The positions, in order.
        positions: Vec<f64>,
        /// Seconds from one to the next.
        move_s: f64,
        /// Seconds held at each.
        hold_s: f64,
        /// Error of placing the control there, standard deviation as travel.
        place_sd: f64,
    },
    /// Varies the supply between two fractions of its nominal value and back to nominal, in straight lines; step `supply`.
    Supply {
        /// Lowest fraction.
        low: f64,
        /// Highest fraction.
        high: f64,
        /// Seconds for the whole.
        s: f64,
    },
    /// Ties the board's own inputs; step `ground` or `reference`.
    Tied(Tie, f64),
}

/// Whether a script begins again when it is done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Repeat {
    /// The stream ends.
    Once,
    /// It begins again, with fresh randomness, for ever.
    ForEver,
}

/// Where the reference column comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ReferenceKind {
    /// The user states the position of each station; nothing elsewhere.
    Stated,
    /// An encoder on the shaft, with this noise (standard deviation in the reference's unit), in every sample.
    Encoder(f64),
}

/// The reference travel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReferenceModel {
    /// Position of the rest end in the reference's unit.
    pub low: f64,
    /// Position of the full end in the reference's unit.
    pub high: f64,
    /// Where it comes from.
    pub kind: ReferenceKind,
}

/// A whole script.
#[derive(Debug, Clone, PartialEq)]
pub struct Script {
    /// What is done, in order.
    pub movements: Vec<Movement>,
    /// Whether it begins again.
    pub repeat: Repeat,
    /// The reference column, if there is one.
    pub reference: Option<ReferenceModel>,
    /// Tremor of a hand that holds the control full: rms as travel.
    pub tremor: f64,
}

impl Script {
    /// These movements once, without a reference or a tremor.
    #[must_use]
    pub fn once(movements: Vec<Movement>) -> Self {
        Self {
            movements,
            repeat: Repeat::Once,
            reference: None,
            tremor: 0.0,
        }
    }

    /// Eleven stations from rest to full and back, after one full stroke, with the angle stated at each.
    #[must_use]
    pub fn stations(low_deg: f64, high_deg: f64) -> Self {
        let up = (0..=10).map(|tenth| f64::from(tenth) / 10.0);
        let down = (0..10).rev().map(|tenth| f64::from(tenth) / 10.0);
        let movements = vec![
            Movement::Rest(2.0),
            Movement::Go { to: 1.0, s: 0.8 },
            Movement::Full(2.0),
            Movement::Go { to: 0.0, s: 0.8 },
            Movement::Rest(1.0),
            Movement::Stations {
                positions: up.chain(down).collect(),
                move_s: 0.5,
                hold_s: 1.5,
                place_sd: 0.0005,
            },
            Movement::Rest(1.0),
        ];
        Self {
            reference: Some(ReferenceModel {
                low: low_deg,
                high: high_deg,
                kind: ReferenceKind::Stated,
            }),
            ..Self::once(movements)
        }
    }

    /// Strokes with an encoder on the shaft that reads degrees: `strokes` there and back, `stroke_s` seconds one way.
    #[must_use]
    pub fn with_encoder(low_deg: f64, high_deg: f64, strokes: u32, stroke_s: f64) -> Self {
        let movements = vec![
            Movement::Rest(2.0),
            Movement::Go { to: 1.0, s: 0.8 },
            Movement::Full(2.0),
            Movement::Go { to: 0.0, s: 0.8 },
            Movement::Wait(0.3),
            Movement::Strokes {
                count: strokes,
                s: stroke_s,
                dwell_s: 0.2,
                time_scatter: 0.0,
                end_scatter: 0.0,
            },
            Movement::Wait(0.3),
            Movement::Rest(1.0),
        ];
        Self {
            reference: Some(ReferenceModel {
                low: low_deg,
                high: high_deg,
                kind: ReferenceKind::Encoder((high_deg - low_deg).abs() * 1e-4),
            }),
            ..Self::once(movements)
        }
    }

    /// Ends first, then the supply from 90 % to 110 % with the control held at half travel.
    #[must_use]
    pub fn supply_sweep() -> Self {
        Self::once(vec![
            Movement::Rest(2.0),
            Movement::Go { to: 1.0, s: 0.8 },
            Movement::Full(2.0),
            Movement::Go { to: 0.5, s: 0.6 },
            Movement::Supply {
                low: 0.9,
                high: 1.1,
                s: 12.0,
            },
            Movement::Go { to: 0.0, s: 0.6 },
            Movement::Rest(1.0),
        ])
    }

    /// The board's own inputs at ground, then at the reference.
    #[must_use]
    pub fn board_ends() -> Self {
        Self::once(vec![
            Movement::Tied(Tie::Ground, 3.0),
            Movement::Wait(0.5),
            Movement::Tied(Tie::Reference, 3.0),
        ])
    }
}

/// The times of a whole card: rest, full, strokes, release, shake. Its [`Card::script`] repeats for ever.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Card {
    /// Seconds at rest, at first.
    pub rest_s: f64,
    /// Seconds held full.
    pub full_s: f64,
    /// Strokes there and back.
    pub strokes: u32,
    /// Seconds of a stroke, one way.
    pub stroke_s: f64,
    /// Seconds at each end of a stroke.
    pub dwell_s: f64,
    /// Returns.
    pub returns: u32,
    /// Seconds from letting go to the next press.
    pub return_s: f64,
    /// What brings the control back.
    pub return_by: ReturnBy,
    /// Seconds of shaking.
    pub shake_s: f64,
    /// Tremor of the hand that holds the control full: rms as travel.
    pub tremor: f64,
}

impl Default for Card {
    fn default() -> Self {
        Self {
            rest_s: 4.5, // a listener that joins a second or two late still finds two seconds of it
            full_s: 3.0,
            strokes: 5,
            stroke_s: 1.1,
            dwell_s: 0.2,
            returns: 6,
            return_s: 1.5,
            return_by: ReturnBy::Spring,
            shake_s: 5.0,
            tremor: 0.0003,
        }
    }
}

impl Card {
    /// The script of this card.
    #[must_use]
    pub fn script(&self) -> Script {
        let movements = vec![
            Movement::Rest(self.rest_s),
            Movement::Go { to: 1.0, s: 0.6 },
            Movement::Full(self.full_s),
            Movement::Go { to: 0.0, s: 0.6 },
            Movement::Wait(0.4),
            Movement::Strokes {
                count: self.strokes,
                s: self.stroke_s,
                dwell_s: self.dwell_s,
                time_scatter: 0.08,
                end_scatter: 0.001,
            },
            Movement::Wait(0.4),
            Movement::Returns {
                count: self.returns,
                press_s: 0.45,
                hold_s: 1.0,
                by: self.return_by,
                rest_s: self.return_s,
                passages: Passages::Apart,
            },
            Movement::Wait(0.2),
            Movement::Shake(self.shake_s),
            Movement::Wait(0.3),
        ];
        Script {
            repeat: Repeat::ForEver,
            tremor: self.tremor,
            ..Script::once(movements)
        }
    }
}

impl Tie {
    /// The step in which the board's input is tied so.
    pub(super) fn step(self) -> Step {
        match self {
            Self::Ground => Step::Ground,
            Self::Reference => Step::Reference,
        }
    }
}
