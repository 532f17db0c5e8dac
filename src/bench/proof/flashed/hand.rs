//! What the hand does to a simulated flashed board: positions, faults, power.

use crate::constants::Block;
use crate::proof::{Fault, Trial};

/// How long a movement from one position to the next takes, seconds.
const MOVE_S: f64 = 0.25;
/// A quick press, and a foot that comes off, seconds.
const STAB_S: f64 = 0.1;
const SNAP_S: f64 = 0.03;

/// One thing that the hand does: moves the controls, then holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hand {
    /// Seconds, the movement included.
    pub s: f64,
    /// Travel of the control that must be at rest to start, 0 to 1.
    pub pedal: f64,
    /// Travel of all others, 0 to 1.
    pub dial: f64,
    /// How long the movement takes, seconds.
    pub move_s: f64,
    /// What is wrong.
    pub fault: Option<Trial>,
    /// Whether the blending board has power.
    pub power: bool,
}

impl Hand {
    pub(super) const fn at(s: f64, pedal: f64, dial: f64) -> Self {
        Self {
            s,
            pedal,
            dial,
            move_s: MOVE_S,
            fault: None,
            power: true,
        }
    }

    /// Stands still at twenty-one places of pedal x dial, then presses quickly and lets go, with the dial up: about 28 seconds.
    pub fn comparing() -> Vec<Self> {
        let mut script = vec![Self::at(1.5, 0.0, 0.15)];
        for dial in [0.15, 0.4, 0.65, 1.0] {
            for pedal in [0.0, 0.2, 0.45, 0.7, 1.0] {
                script.push(Self::at(1.05, pedal, dial));
            }
        }
        script.push(Self::at(1.05, 0.07, 1.0));
        for (pedal, dial) in [
            (0.0, 1.0),
            (0.8, 1.0),
            (0.0, 1.0),
            (1.0, 1.0),
            (1.0, 0.3),
            (1.0, 1.0),
        ] {
            script.push(Self {
                move_s: if pedal > 0.0 { STAB_S } else { SNAP_S },
                ..Self::at(0.6, pedal, dial)
            });
        }
        script.push(Self {
            move_s: SNAP_S,
            ..Self::at(0.8, 0.0, 1.0)
        });
        script
    }

    /// Does what a round of faults asks for, in its order.
    pub fn faults(round: &[Trial]) -> Vec<Self> {
        round.iter().flat_map(|trial| Self::one(*trial)).collect()
    }

    /// The whole round of this block.
    pub fn round(block: &Block) -> Vec<Self> {
        Self::faults(&Trial::round(block, &Fault::ALL))
    }

    fn one(trial: Trial) -> Vec<Self> {
        let at = |s: f64, pedal: f64| Self::at(s, pedal, 0.8);
        let off = |s: f64, pedal: f64| Self {
            power: false,
            ..at(s, pedal)
        };
        let broken = Self {
            fault: Some(trial),
            ..at(1.2, 0.6)
        };
        let mut script = vec![at(1.8, 0.0), at(1.8, 0.6)];
        match trial.fault {
            Fault::PowerDip => {
                script.extend([off(0.4, 0.6), at(3.5, 0.6), at(1.8, 0.0)]);
                return script;
            }
            Fault::Reset => script.push(broken),
            _ => script.extend([broken, at(1.2, 0.6)]),
        }
        script.extend([at(1.8, 0.0), at(1.5, 0.6), at(0.8, 0.0), off(0.6, 0.0)]);
        script
    }
}
