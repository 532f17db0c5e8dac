//! Both limits of an input's window.

use super::evidence::{Evidence, contradicted, not_exercised, shown};
use crate::constants::Task;
use crate::proof::result::Claim;

/// A limit is shown when readings that stopped the board and readings that did not are no further apart, share of full scale.
const WINDOW_SHARE: f64 = 0.005;

pub fn of_input(of: &Evidence<'_, '_>, i: usize) -> [Claim; 2] {
    let numbers = of.numbers();
    let window = numbers.inputs[i].window;
    let top = (1_u32 << numbers.board.adc_bits) - 1;
    let samples = 0..of.envelope.samples.t_us.len();
    let running = samples.filter(|at| !of.zero(*at) && of.good(*at));
    let ran = running.filter_map(|at| of.envelope.reach_of_one(at).get(i).copied());
    let (least, most) = ran.fold(
        (None, None),
        |(least, most): (Option<u16>, Option<u16>), (low, high)| {
            (
                Some(least.map_or(low, |known| known.min(low))),
                Some(most.map_or(high, |known| known.max(high))),
            )
        },
    );
    let rounds = || {
        of.rounds
            .iter()
            .filter(|round| round.input.map(usize::from) == Some(i))
    };
    let stopped: Vec<u16> = rounds()
        .filter(|round| round.seen)
        .filter_map(|round| round.reading)
        .collect();
    let ran_on = ran_outside(of, i);
    let judged = |side: &str, limit: u16, inner: Option<u16>, outer: Option<u16>| {
        let name = format!("inputs[{i}].window.{side}");
        if ran_on {
            return contradicted(
                &name,
                "the board ran on while this input was outside its window",
            );
        }
        let inside = rounds().filter_map(|round| round.stopped_inside);
        let mut inside =
            inside.filter(|reading| (u32::from(*reading) < top / 2) == (side == "low"));
        if let Some(reading) = inside.next() {
            return contradicted(
                &name,
                format!(
                    "a reading of {reading} stopped the board, and the constants believe it: this limit is not {limit}"
                ),
            );
        }
        let (Some(inner), Some(outer)) = (inner, outer) else {
            return not_exercised(&name, "nothing took this input beyond this limit");
        };
        let words = format!(
            "a reading of {outer} stopped the board, {inner} did not: any limit between does the same"
        );
        if f64::from(inner.abs_diff(outer)) <= WINDOW_SHARE * f64::from(top + 1) {
            shown(&name, words)
        } else {
            not_exercised(&name, words)
        }
    };
    let below = stopped.iter().copied().filter(|code| *code < window.low);
    let above = stopped.iter().copied().filter(|code| *code > window.high);
    [
        judged("low", window.low, least, below.max()),
        judged("high", window.high, most, above.min()),
    ]
}

/// Whether it ran on with this input outside its window, whatever the others did.
fn ran_outside(of: &Evidence<'_, '_>, i: usize) -> bool {
    let mut numbers = of.numbers().clone();
    let top = (1_u16 << numbers.board.adc_bits) - 1;
    for (other, input) in numbers.inputs.iter_mut().enumerate() {
        if other != i {
            input.window.low = 0;
            input.window.high = top;
        }
        if let Task::Check(check) = &mut input.task {
            check.band = top;
        }
    }
    of.ran_on(&numbers)
}
