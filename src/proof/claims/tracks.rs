//! Gain, offset and band of a check track: what the board would have stopped for.

use super::evidence::{Evidence, contradicted, not_exercised, shown};
use crate::constants::{Block, BlockFields, Check, Factor, Task};
use crate::proof::result::Claim;

/// Off by so much of the track's span they must be noticed to count as shown.
const TRACK_SHARE: f64 = 0.02;

pub fn of_check(of: &Evidence<'_, '_>, i: usize, check: Check) -> [Claim; 3] {
    let numbers = of.numbers();
    let name = |part: &str| format!("inputs[{i}].check.{part}");
    let partner = numbers.inputs.get(usize::from(check.partner));
    let edges = partner
        .and_then(|input| input.factor())
        .map_or((0.0, 1.0), edges);
    let gain = f64::from(check.gain_q12) / 4096.0;
    let span = (gain * (edges.1 - edges.0)).abs();
    let codes = (TRACK_SHARE * span).max(1.0);
    // What changes the expected code by so much at the far edge.
    let by_gain = codes / edges.0.max(edges.1).max(1.0) * 4096.0;
    if of.ran_on(numbers) {
        let words = "the board ran on while its tracks were further apart than the constants allow";
        return ["gain", "offset", "band"].map(|part| contradicted(&name(part), words));
    }
    let judged = |part: &str, is_gain: bool, by: f64| {
        let name = name(part);
        let seen = [-by, by].iter().all(|by| {
            moved(numbers, i, is_gain, *by).is_none_or(|block| of.ran_on(block.numbers()))
        });
        if seen {
            shown(
                &name,
                format!(
                    "the board ran, and would have stopped if it were off by {}",
                    by.round()
                ),
            )
        } else {
            not_exercised(
                &name,
                format!(
                    "a band of {} codes is wider than the {} codes by which it would have to show: off by a little it would run the same",
                    check.band,
                    codes.round()
                ),
            )
        }
    };
    [
        judged("gain", true, by_gain),
        judged("offset", false, codes),
        not_exercised(
            &name("band"),
            "how far apart the tracks may be was not tried",
        ),
    ]
}

fn edges(factor: &Factor) -> (f64, f64) {
    (f64::from(factor.rest_edge), f64::from(factor.full_edge))
}

fn moved(numbers: &BlockFields, i: usize, is_gain: bool, by: f64) -> Option<Block> {
    let mut fields = numbers.clone();
    if let Some(Task::Check(check)) = fields.inputs.get_mut(i).map(|input| &mut input.task) {
        let number = if is_gain {
            &mut check.gain_q12
        } else {
            &mut check.offset
        };
        #[allow(clippy::cast_possible_truncation)] // a float cast saturates
        let moved = (f64::from(*number) + by).round() as i16;
        *number = moved;
    }
    Block::new(fields).ok()
}
