//! The faults that were asked for: which, where and when.

use super::marks::{Fault, Mark, MarkKind};
use super::setup::ProofSetup;
use crate::constants::BlockFields;

/// How long inputs must be good again, and the control pressed again, for a stop to count as latched, microseconds.
pub(super) const LATCH_US: u64 = 300_000;

/// The longest that anything takes from the return of the supply to the first reading of the inputs, microseconds: common bootloaders
/// wait 1.3 to 1.4 s (`src/firmware/README.md`).
const LONGEST_BOOT_US: u64 = 1_500_000;

/// A longer gap between two samples than so many usual ones: what happened meanwhile is not known.
pub(super) const GAP_SAMPLES: u64 = 4;

/// How long the start condition takes, microseconds.
pub(super) fn start_us(numbers: &BlockFields) -> u64 {
    u64::from(numbers.start.samples) * 1_000_000 / u64::from(numbers.board.rate_hz)
}

/// How long the control must be held after a dip of the supply: a board that would start by itself has then done so, microseconds.
pub(super) fn dip_held_us(numbers: &BlockFields) -> u64 {
    LONGEST_BOOT_US + start_us(numbers) + LATCH_US
}

/// So long after the first bad sample the wire is where the fault takes it, samples.
pub(super) const ARRIVED: usize = 3;

/// Which fault was to be made where and when.
pub(super) struct Asked {
    pub fault: Fault,
    /// The input whose wire it is; of tracks that touch the check track.
    pub input: usize,
    pub from_us: u64,
    pub end_us: u64,
    pub skipped: bool,
}

/// Every fault that was asked for on an input that the block has.
pub(super) fn trials(asked: &ProofSetup<'_>) -> Vec<Asked> {
    let marks = &asked.marks.0;
    let numbers = asked.block.numbers();
    let check = numbers.inputs.iter().position(|it| it.factor().is_none());
    let mut trials = Vec::new();
    for (n, mark) in marks.iter().enumerate() {
        let Some(fault) = mark.fault.filter(|_| mark.what == MarkKind::Asked) else {
            continue;
        };
        let rest = &marks[n + 1..];
        let is_end = |mark: &&Mark| fault != Fault::PowerDip || mark.what != MarkKind::Power;
        let end_us = rest.iter().find(is_end).map_or(u64::MAX, |next| next.t_us);
        let start = usize::from(numbers.start.input);
        let input = match fault {
            Fault::TracksJoined => check.unwrap_or(start),
            _ => mark.input.map_or(start, usize::from),
        };
        let next = rest.first();
        if input < numbers.inputs.len() {
            trials.push(Asked {
                fault,
                input,
                from_us: mark.t_us,
                end_us,
                skipped: next.is_some_and(|next| {
                    next.what == MarkKind::Skipped && next.fault == Some(fault)
                }),
            });
        }
    }
    trials
}

/// When faults were made that the inputs do not show, until power was cycled.
pub(super) fn blind(asked: &ProofSetup<'_>) -> Vec<std::ops::Range<u64>> {
    let hidden =
        |trial: &Asked| !trial.skipped && matches!(trial.fault, Fault::DacWire | Fault::Reset);
    let trials = trials(asked).into_iter().filter(hidden);
    trials.map(|trial| trial.from_us..trial.end_us).collect()
}
