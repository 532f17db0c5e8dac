//! Whether an excursion went to an end of the board's scale and stood there.
//!
//! A contact that is lost leaves the pin to a pull-up, a pull-down or a broken wire: the reading stands at an end of the scale
//! until contact is back, wherever the control is. What the room adds has any size and both signs: it meets an end of the scale
//! by being cut off there, for a sample, and from afar as often at the one end as at the other.

use crate::measure::statistics::moments::real;
use crate::measure::strokes::defects::Towards;
use crate::units::Code;
use std::ops::Range;

/// What counts as an end of the scale, as a share of the scale.
const NEAR: f64 = 0.01;
/// Least depth that tells, as a share of the scale: a spike cut off at an end that is nearer says little (own choice).
const DEEP: f64 = 0.04;
/// Fewest samples at the end, and the least share of the excursion's: what dies away leaves a tail.
const FEWEST: usize = 2;
const MOST_OF_IT: f64 = 0.65;
/// Samples within which it is gone to and come back from.
const EDGE: usize = 2;
/// Depth from which it came from afar, as a share of the scale.
const FAR: f64 = 0.3;

/// What an excursion reached.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Reached {
    /// An end of the scale, at which it stood for most of its time.
    pub held: bool,
    /// An end of the scale that was far away.
    pub far: bool,
}

impl Reached {
    /// It stood at an end of the scale.
    pub const HELD: Self = Self {
        held: true,
        far: false,
    };
}

/// What an excursion of some codes and a signed depth reached on a board whose largest code is `top`.
pub(crate) fn reached(codes: &[Code], depth: f64, top: Code) -> Reached {
    let scale = top.as_f64() + 1.0;
    let towards = if depth < 0.0 {
        Towards::Ground
    } else {
        Towards::Supply
    };
    let there = codes.iter().filter(|code| is_at(**code, towards, top));
    let there = there.count();
    let deep = |share: f64| depth.abs() >= share * scale;
    Reached {
        held: there >= FEWEST && real(there) >= MOST_OF_IT * real(codes.len()) && deep(DEEP),
        far: there > 0 && deep(FAR),
    }
}

/// Codes from an end of the scale.
fn away(code: f64, end: Towards, top: Code) -> f64 {
    match end {
        Towards::Ground => code,
        Towards::Supply => top.as_f64() - code,
    }
}

/// Whether a code is at an end of the scale.
fn is_at(code: Code, end: Towards, top: Code) -> bool {
    away(code.as_f64(), end, top) <= (NEAR * (top.as_f64() + 1.0)).max(1.0)
}

/// Stands at an end of the scale that lies beyond the travel, of so many samples or more, gone to and come back from at once, or
/// never: their depth in codes, signed, and the level halfway between before and after. `travel` are the codes of both ends, `least`
/// is the least depth.
pub(crate) fn stands(
    codes: &[Code],
    top: Code,
    fewest: usize,
    travel: [f64; 2],
    least: f64,
) -> Vec<(Range<usize>, f64, f64)> {
    let least = least.max(DEEP * (top.as_f64() + 1.0));
    let beyond = |end: &Towards| travel.iter().all(|code| away(*code, *end, top) >= least);
    let ends = [Towards::Ground, Towards::Supply]
        .into_iter()
        .filter(beyond);
    let mut found = Vec::new();
    for end in ends {
        let there = |code: &Code| is_at(*code, end, top);
        let mut back = 0;
        while let Some(before) = codes[back..].iter().position(there) {
            let start = back + before;
            let stays = codes[start..].iter().position(|code| !there(code));
            back = stays.map_or(codes.len(), |stays| start + stays);
            let run = &codes[start..back];
            if run.len() < fewest {
                continue;
            }
            let beside = |at: usize| {
                let code = codes.get(at)?.as_f64();
                (away(code, end, top) >= least).then_some(code)
            };
            let before = start.checked_sub(EDGE).and_then(beside);
            let after = match back + EDGE - 1 {
                at if at < codes.len() => beside(at),
                _ => before,
            };
            if let Some((before, after)) = before.zip(after) {
                let stood = run.iter().map(|code| code.as_f64()).sum::<f64>() / real(run.len());
                let level = f64::midpoint(before, after);
                found.push((start..back, stood - level, level));
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stand_is_beyond_the_travel_and_abrupt_on_both_sides() {
        let of = |codes: &[Code]| stands(codes, Code(1023), 2, [100.0, 900.0], 20.0);
        let mut codes = vec![Code(200); 2000];
        codes[500..1200].fill(Code(1023));
        assert_eq!(of(&codes), [(500..1200, 823.0, 200.0)]);
        // By hand: whoever moves on meanwhile is met elsewhere; one sample of an edge between is no matter.
        codes[1200] = Code(700);
        codes[1201..].fill(Code(300));
        assert_eq!(of(&codes), [(500..1200, 773.0, 250.0)]);
        // Never back: the depth is from the level before.
        assert_eq!(of(&codes[..1200]), [(500..1200, 823.0, 200.0)]);
        // There from the start, one sample alone, and an end that the travel itself reaches.
        assert_eq!((of(&codes[500..]), of(&codes[1199..])), (vec![], vec![]));
        assert_eq!(stands(&codes, Code(1023), 2, [100.0, 1000.0], 20.0), []);
        // Gone to and come back from as a hand does: seven codes a sample.
        let hand: Vec<Code> = (0..400_u32)
            .map(|i| Code((7 * i.abs_diff(200)).min(300)))
            .collect();
        assert_eq!(of(&hand), []);
    }

    #[test]
    fn a_lost_contact_stands_at_the_end_and_a_spike_does_not() {
        let of = |codes: &[u32], depth: f64| {
            let codes: Vec<Code> = codes.iter().copied().map(Code).collect();
            reached(&codes, depth, Code(1023))
        };
        // By hand, ten bits: an end is 10 codes wide, deep is 41 codes, far 307.
        let held = Reached {
            held: true,
            far: false,
        };
        assert_eq!(of(&[0, 3, 1], -100.0), held);
        assert_eq!(of(&[1023, 1014], 300.0), held);
        assert!(of(&[1023, 1023], 400.0).held && of(&[1023, 1023], 400.0).far);
        // One sample; the other end; short of it; dying away; cut off at once.
        let none = Reached::default();
        assert_eq!(of(&[0], -100.0), none);
        assert_eq!(of(&[0, 0], 100.0), none);
        assert_eq!(of(&[30, 30, 30], -100.0), none);
        assert_eq!(of(&[0, 0, 20, 50, 70], -100.0), none);
        assert_eq!(of(&[0, 0], -20.0), none);
        assert!(of(&[2], -500.0).far && !of(&[2], -500.0).held);
        assert_eq!(of(&[], -500.0), none);
    }
}
