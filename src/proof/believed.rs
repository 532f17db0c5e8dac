//! A fault that was made and that the block believes: its reading is one of a good control.
//!
//! A hand that turns the control to where the fault would take it makes no fault: only what came there at one stroke counts.

use super::envelope::Envelope;
use super::marks::Fault;
use super::plausibility::{Plausibility, at_rail, is_foretold, plausibility, rail_codes};
use super::setup::Foretold;
use super::trials::{ARRIVED, Asked, LATCH_US};
use crate::constants::BlockFields;

/// A wire that breaks or touches is there at once; a hand that turns a control takes longer, microseconds.
const JUMP_US: u64 = 5000;
/// So far a reading jumps then, in steps that count as moved: a tenth of the scale. No hand goes from end to end in 50 ms (common practice,
/// no source).
const JUMPS: f64 = 3.0;

/// Whether the marked input came to this sample at one stroke.
fn jumped(envelope: &Envelope<'_>, at: usize, i: usize) -> bool {
    let t = envelope.samples.t_us;
    let reading = |i: usize| {
        let reach = envelope.reach_of_one(i);
        reach.get(at).map(|is| u16::midpoint(is.0, is.1))
    };
    let first = (i.saturating_sub(ARRIVED)..i).find(|from| t[i] - t[*from] <= JUMP_US);
    let from = first.unwrap_or(i.saturating_sub(1));
    match (reading(from), reading(i)) {
        (Some(from), Some(to)) => {
            f64::from(from.abs_diff(to)) > JUMPS * rail_codes(envelope.numbers)
        }
        _ => false,
    }
}

/// Whether a reading is where this fault takes it, by the wiring where that is known, and where the wiring says that it is missed; else
/// only a short has one place to go.
fn goes_there(
    numbers: &BlockFields,
    fault: Fault,
    is: (u16, u16),
    foretold: Option<&Foretold>,
) -> bool {
    match foretold {
        Some(known) if known.missed.is_none() => false,
        Some(Foretold {
            reads: Some(reads), ..
        }) => is_foretold(u16::midpoint(is.0, is.1), *reads, numbers),
        _ => at_rail(fault, is, numbers),
    }
}

/// The reading that a fault took the input to at one stroke although by the block it is good; and the reading at which the board stopped
/// all the same, when it did.
pub(super) fn believed(
    envelope: &Envelope<'_>,
    asked: &Asked,
    foretold: Option<&Foretold>,
) -> Option<(u16, Option<u16>)> {
    let numbers = envelope.numbers;
    let samples = envelope.samples;
    let from = samples.t_us.partition_point(|t| *t < asked.from_us);
    let end = samples.t_us.partition_point(|t| *t < asked.end_us);
    let zero = |i: usize| envelope.scaling.may_be_zero(samples.output[i]);
    let arrived = |i: usize| {
        let reach = envelope.reach_of_one(i);
        let is = *reach.get(asked.input)?;
        let there = goes_there(numbers, asked.fault, is, foretold)
            && plausibility(numbers, &reach) == Plausibility::Good
            && jumped(envelope, asked.input, i);
        there.then(|| u16::midpoint(is.0, is.1))
    };
    let (broken, reading) = (from.max(1)..end).find_map(|i| Some((i, arrived(i)?)))?;
    // Pressed, all good, and nothing came out for longer than any ramp takes: it is stopped.
    let asks = |i: usize| {
        let (low, _) = envelope.ends(&envelope.reach_of_one(i));
        envelope.settled(&low) > f64::from(numbers.output.zero_dac)
    };
    let mut held_us = 0;
    let mut stopped = false;
    for i in broken + 1..end {
        let good = plausibility(numbers, &envelope.reach_of_one(i)) == Plausibility::Good;
        held_us = if good && zero(i) && asks(i) {
            held_us + (samples.t_us[i] - samples.t_us[i - 1])
        } else {
            0
        };
        stopped |= held_us >= LATCH_US;
    }
    Some((reading, stopped.then_some(reading)))
}
