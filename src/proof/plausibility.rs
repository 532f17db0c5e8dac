//! Whether a sample is good or bad to the core, and at its start condition, when its codes are known to a range.

use super::marks::Fault;
use crate::constants::{BlockFields, Check, Task};

/// Whether a sample is bad for the core.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Plausibility {
    /// Good beyond doubt.
    Good,
    /// Good or bad.
    Open,
    /// Bad beyond doubt.
    Bad,
}

/// Whether readings within these ranges are good to a core with this block.
pub(super) fn plausibility(numbers: &BlockFields, reach: &[(u16, u16)]) -> Plausibility {
    let mut all = Plausibility::Good;
    for (input, (low, high)) in numbers.inputs.iter().zip(reach) {
        let window = input.window;
        let mut this = if *high < window.low || *low > window.high {
            Plausibility::Bad
        } else if window.holds(*low) && window.holds(*high) {
            Plausibility::Good
        } else {
            Plausibility::Open
        };
        if let (Task::Check(check), Plausibility::Good) = (&input.task, this)
            && let Some(partner) = reach.get(usize::from(check.partner))
        {
            this = agreement(*check, (*low, *high), *partner);
        }
        all = match (all, this) {
            (Plausibility::Bad, _) | (_, Plausibility::Bad) => Plausibility::Bad,
            (Plausibility::Open, _) | (_, Plausibility::Open) => Plausibility::Open,
            _ => Plausibility::Good,
        };
    }
    all
}

/// Whether a check track agrees with its partner, each within its range.
fn agreement(check: Check, own: (u16, u16), partner: (u16, u16)) -> Plausibility {
    let gain = f64::from(check.gain_q12) / 4096.0;
    let ends = [gain * f64::from(partner.0), gain * f64::from(partner.1)];
    let off = |code: u16, expected: f64| f64::from(code) - f64::from(check.offset) - expected;
    let lowest = off(own.0, ends[0].max(ends[1]));
    let highest = off(own.1, ends[0].min(ends[1]));
    // The core rounds what it expects to the nearest code.
    let [inner, outer] = [-0.5, 0.5].map(|rounding| f64::from(check.band) + rounding);
    if lowest > outer || highest < -outer {
        Plausibility::Bad
    } else if lowest >= -inner && highest <= inner {
        Plausibility::Good
    } else {
        Plausibility::Open
    }
}

/// So near to an end of the scale a reading counts as ground or supply, as a share of it.
const RAIL_SHARE: f64 = 0.03;

/// So many codes of the blending board are a reading that has moved.
pub(super) fn rail_codes(numbers: &BlockFields) -> f64 {
    RAIL_SHARE * f64::from((1_u32 << numbers.board.adc_bits) - 1)
}

/// Whether a reading is where a short to ground or to the supply takes it.
pub(super) fn at_rail(fault: Fault, reading: (u16, u16), numbers: &BlockFields) -> bool {
    let top = f64::from((1_u32 << numbers.board.adc_bits) - 1);
    match fault {
        Fault::Ground => f64::from(reading.0) <= rail_codes(numbers),
        Fault::Supply => f64::from(reading.1) >= top - rail_codes(numbers),
        _ => false,
    }
}

/// How far a reading may be from what the wiring says, as a share of full scale.
const FORETOLD_SHARE: f64 = 0.03;

/// Whether a reading is where the wiring says that a fault takes it, lowest and highest as fractions of the reference.
pub(super) fn is_foretold(reading: u16, [low, high]: [f64; 2], numbers: &BlockFields) -> bool {
    let share = f64::from(reading) / f64::from(1_u32 << numbers.board.adc_bits);
    share >= low - FORETOLD_SHARE && share <= high + FORETOLD_SHARE
}

/// Whether the start input is at or before its rest edge beyond doubt.
pub(super) fn at_rest(numbers: &BlockFields, reach: &[(u16, u16)]) -> bool {
    start_travel(numbers, reach).is_some_and(|travel| travel.iter().all(|codes| *codes <= 0))
}

/// Codes from its rest edge at which the start input may be.
pub(super) fn start_travel(numbers: &BlockFields, reach: &[(u16, u16)]) -> Option<[i32; 2]> {
    let at = usize::from(numbers.start.input);
    let factor = numbers.inputs.get(at)?.factor()?;
    let (low, high) = reach.get(at)?;
    Some([*low, *high].map(|code| factor.travel(code)))
}

#[cfg(test)]
mod tests {
    use super::super::testing::guarded;
    use super::*;

    /// Windows of `guarded`: 82 to 942 and 10 to 720.
    #[test]
    fn a_reading_on_the_edge_of_a_window_is_open() {
        let numbers = guarded().numbers().clone();
        assert_eq!(
            plausibility(&numbers, &[(82, 84), (300, 302)]),
            Plausibility::Good
        );
        assert_eq!(
            plausibility(&numbers, &[(81, 83), (300, 302)]),
            Plausibility::Open
        );
        assert_eq!(
            plausibility(&numbers, &[(79, 81), (300, 302)]),
            Plausibility::Bad
        );
        assert_eq!(
            plausibility(&numbers, &[(81, 83), (721, 723)]),
            Plausibility::Bad
        );
    }

    /// Expected code = 0.5 x 400 + 3 = 203, band 12: 215 agrees, 216 does not. A partner of 401 asks for 203.5, to the
    /// nearest 204: with it 216 agrees and 217 does not.
    #[test]
    fn a_check_track_is_held_against_its_partner() {
        let check = Check {
            partner: 0,
            gain_q12: 2048,
            offset: 3,
            band: 12,
        };
        assert_eq!(agreement(check, (213, 214), (399, 401)), Plausibility::Good);
        assert_eq!(agreement(check, (214, 216), (399, 401)), Plausibility::Open);
        assert_eq!(agreement(check, (216, 218), (399, 401)), Plausibility::Open);
        assert_eq!(agreement(check, (217, 218), (399, 401)), Plausibility::Bad);
        assert_eq!(agreement(check, (188, 190), (400, 400)), Plausibility::Bad);
    }
}
