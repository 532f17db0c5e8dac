//! Lasting changes of level under the shake.
//!
//! Under the shake nobody moves the control, so a level that changes from one sample to the next and stays is a contact lost for
//! long: too long for an excursion, and not always to an end of the scale.

use crate::measure::statistics::moments::real;
use crate::measure::strokes::path::Path;
use std::ops::Range;

/// Least depth, % of span: a hand that knocks the control takes longer for so much.
const DEPTH_PCT: f64 = 10.0;
/// Seconds within which the level changes; a board that samples more slowly cannot tell it from a hand.
const ABRUPT_S: f64 = 0.005;
/// Samples that stand on each side of the change, to either side of their mean by so many standard deviations of the noise.
const STANDS: usize = 8;
const STANDS_SIGMA: f64 = 6.0;

/// Where the level changed for long: the samples off the level before, to the end of the passage if it never came back; the depth in
/// codes, signed; and the level that was left. `span` and `sigma` are in codes.
pub(crate) fn shifts(path: &Path<'_>, span: f64, sigma: f64) -> Vec<(Range<usize>, f64, f64)> {
    let edge = path.samples(0.002).max(1);
    if real(edge) * path.period > ABRUPT_S {
        return Vec::new();
    }
    let least = (DEPTH_PCT / 100.0 * span.abs()).max(8.0 * sigma);
    let wobble = (STANDS_SIGMA * sigma).max(2.0);
    let value: Vec<f64> = (0..path.len()).map(|at| path.value(at)).collect();
    let level = |range: Range<usize>| {
        let codes = value.get(range)?;
        let mean = codes.iter().sum::<f64>() / real(codes.len());
        codes
            .iter()
            .all(|code| (code - mean).abs() <= wobble)
            .then_some(mean)
    };
    let mut found = Vec::new();
    let mut at = STANDS;
    while at + edge + STANDS <= value.len() + 1 {
        let leaves = (value[at + edge - 1] - value[at - 1]).abs() >= least;
        let sides = || level(at - STANDS..at).zip(level(at + edge - 1..at + edge - 1 + STANDS));
        let Some((before, _)) = leaves
            .then(sides)
            .flatten()
            .filter(|(before, after)| (after - before).abs() >= least)
        else {
            at += 1;
            continue;
        };
        // Within the time of an edge: the first sample that is off.
        let off = (at..at + edge).find(|i| (value[*i] - before).abs() >= least / 2.0);
        let from = off.unwrap_or(at);
        let back = value[from..]
            .windows(STANDS)
            .position(|codes| codes.iter().all(|c| (c - before).abs() < least / 2.0));
        let end = back.map_or(value.len(), |back| from + back);
        let lost = &value[from..end];
        let depth = lost.iter().sum::<f64>() / real(lost.len()) - before;
        found.push((from..end, depth, before));
        at = end + STANDS;
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Code;

    fn of(codes: &[Code], period: f64) -> Vec<(Range<usize>, f64, f64)> {
        shifts(&Path::of_codes(0, period, codes), 700.0, 1.0)
    }

    #[test]
    fn a_level_left_in_a_sample_and_for_long_is_lost_contact() {
        // By hand, 1 kHz, five seconds: at 164, from 0.5 s on at 300, and back at the end of the third.
        let mut codes = vec![Code(164); 5000];
        codes[500..].fill(Code(300));
        assert_eq!(of(&codes, 0.001), [(500..5000, 136.0, 164.0)]);
        codes[3000..].fill(Code(165));
        assert_eq!(of(&codes, 0.001), [(500..3000, 136.0, 164.0)]);
        // One sample of an edge on the way.
        codes[500] = Code(230);
        let [(range, depth, level)] = &of(&codes, 0.001)[..] else {
            panic!()
        };
        assert_eq!((range.clone(), *level), (500..3000, 164.0));
        assert!((depth - (2499.0 * 136.0 + 66.0) / 2500.0).abs() < 1e-9);
        // A twentieth of the span; a board of 50 Hz, on which a knock looks like this.
        codes[500..3000].fill(Code(199));
        assert_eq!(of(&codes, 0.001), []);
        codes[500..3000].fill(Code(300));
        assert_eq!(of(&codes, 0.02), []);
    }

    #[test]
    fn a_hand_does_not_change_the_level_at_once() {
        // 0.2 s for all of the travel, at 250 Hz: 14 codes a sample; and nothing to look at.
        let moved: Vec<Code> = (0..1000_u32)
            .map(|i| Code(164 + 14 * i.saturating_sub(500).min(50)))
            .collect();
        assert_eq!(of(&moved, 0.004), []);
        assert_eq!(of(&moved[..4], 0.004), []);
        assert_eq!(of(&[Code(5)], 0.001), []);
    }
}
