//! Controls that go with a block: each input travels from a little before its rest edge to a little beyond its full edge.

use super::hand::Hand;
use crate::constants::{Block, BlockFields, Check, Factor, Task, Window};
use crate::proof::{Fault, Trial};

/// How far a control goes beyond either edge, as a share of its span, if its window leaves room.
const BEYOND: f64 = 0.03;

#[derive(Debug, Clone)]
enum Track {
    /// Codes at both ends of travel; whether it is the one that must be at rest to start.
    Own {
        ends: [f64; 2],
        starts: bool,
    },
    Check(Check),
}

/// The controls on a board's pins.
#[derive(Debug, Clone)]
pub(super) struct Controls {
    tracks: Vec<(Window, Track)>,
    top: f64,
}

impl Controls {
    pub fn of(block: &Block) -> Self {
        let numbers = block.numbers();
        let top = (1_u16 << numbers.board.adc_bits) - 1;
        let inputs = numbers.inputs.iter().enumerate();
        let track = |(i, task): (usize, &Task), window: Window| match task {
            Task::Factor(factor) => Track::Own {
                ends: ends(factor, window),
                starts: i == usize::from(numbers.start.input),
            },
            Task::Check(check) => Track::Check(*check),
        };
        Self {
            tracks: inputs
                .map(|(i, input)| (input.window, track((i, &input.task), input.window)))
                .collect(),
            top: f64::from(top),
        }
    }

    /// Exact readings at the pins, blending board's codes.
    pub fn codes(&self, hand: Hand) -> Vec<f64> {
        if !hand.power {
            return vec![0.0; self.tracks.len()];
        }
        let own = |track: &Track| match track {
            Track::Own { ends, starts } => {
                let travel = if *starts { hand.pedal } else { hand.dial };
                Some(ends[0] + (ends[1] - ends[0]) * travel)
            }
            Track::Check(_) => None,
        };
        let first: Vec<Option<f64>> = self.tracks.iter().map(|(_, track)| own(track)).collect();
        let mut codes: Vec<f64> = self
            .tracks
            .iter()
            .zip(&first)
            .map(|((_, track), own)| match track {
                Track::Check(check) => {
                    let partner = first.get(usize::from(check.partner)).copied().flatten();
                    let gain = f64::from(check.gain_q12) / 4096.0;
                    gain * partner.unwrap_or(0.0) + f64::from(check.offset)
                }
                Track::Own { .. } => own.unwrap_or(0.0),
            })
            .collect();
        if let Some(trial) = hand.fault {
            self.spoil(&mut codes, trial);
        }
        codes
    }

    fn spoil(&self, codes: &mut [f64], trial: Trial) {
        if trial.fault == Fault::TracksJoined {
            let checks = self.tracks.iter().enumerate();
            for (at, check) in checks.filter_map(|(at, (_, track))| match track {
                Track::Check(check) => Some((at, check)),
                Track::Own { .. } => None,
            }) {
                let partner = usize::from(check.partner);
                let both = f64::midpoint(codes[at], codes[partner]);
                (codes[at], codes[partner]) = (both, both);
            }
            return;
        }
        let at = usize::from(trial.input.unwrap_or(0));
        let (Some(code), Some((window, _))) = (codes.get_mut(at), self.tracks.get(at)) else {
            return;
        };
        match trial.fault {
            Fault::Ground => *code = 0.0,
            Fault::Supply => *code = self.top,
            // The pull of a good design: where the window does not believe it.
            Fault::Open => *code = if window.low > 0 { 0.0 } else { self.top },
            _ => {}
        }
    }
}

/// Both ends of a control's travel.
fn ends(factor: &Factor, window: Window) -> [f64; 2] {
    let [rest, full] = [factor.rest_edge, factor.full_edge].map(f64::from);
    let away = BEYOND * (full - rest);
    let room = |edge: f64, limit: u16| (f64::from(limit) - edge).abs() / 2.0;
    let rising = full > rest;
    let (before, after) = if rising {
        (window.low, window.high)
    } else {
        (window.high, window.low)
    };
    let sign = away.signum();
    [
        rest - sign * away.abs().min(room(rest, before)),
        full + sign * away.abs().min(room(full, after)),
    ]
}

/// Names of the inputs' columns: the control that must be at rest is the pedal, its other tracks carry letters.
pub(super) fn names(numbers: &BlockFields) -> Vec<String> {
    let start = usize::from(numbers.start.input);
    let partner = |task: &Task| match task {
        Task::Check(check) => Some(usize::from(check.partner)),
        Task::Factor(_) => None,
    };
    let checks = |of: usize| {
        let tracks = numbers.inputs.iter().enumerate();
        let mine = tracks.filter(move |(_, input)| partner(&input.task) == Some(of));
        mine.map(|(at, _)| at).collect::<Vec<_>>()
    };
    let control = |at: usize| {
        if at == start {
            return "pedal".to_owned();
        }
        let factors = numbers.inputs.iter().take(at).enumerate();
        let before = factors
            .filter(|(other, input)| *other != start && input.factor().is_some())
            .count();
        match before {
            0 => "dial".to_owned(),
            n => format!("dial_{}", n + 1),
        }
    };
    let letter = |n: usize| char::from(b'a' + u8::try_from(n).unwrap_or(0).min(25));
    let name = |at: usize, task: &Task| match partner(task) {
        Some(of) => {
            let place = checks(of).iter().position(|check| *check == at);
            format!("{}_{}", control(of), letter(place.unwrap_or(0) + 1))
        }
        None if checks(at).is_empty() => control(at),
        None => format!("{}_a", control(at)),
    };
    let inputs = numbers.inputs.iter().enumerate();
    inputs.map(|(at, input)| name(at, &input.task)).collect()
}
