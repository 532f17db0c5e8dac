//! The two signal wires have changed places at the board: what is wrong with the part or a wire goes with the wire; what is wrong with an
//! input stays.

use super::seen::TrialSeen;
use crate::diagnose::evidence::Evidence;
use crate::diagnose::levels::Level;
use crate::diagnose::predicted::Ends;
use crate::diagnose::types::{ActsTowards, CauseWord, Field};
use crate::diagnose::weigh::{Place, Suspicion};
use measure::figure::FigureName;
use measure::units::Step;

/// One press may read so much elsewhere than another, as a fraction of the reference: 10 codes of 1024. Common practice, no source.
const SAME: f64 = 10.0 / 1024.0;
/// Most that it weighs.
const MOST: f64 = 5.0;

pub(super) fn weigh(evidence: &Evidence<'_>, seen: &TrialSeen<'_>, all: &mut Vec<Suspicion>) {
    let Some(odds) = odds(evidence, seen) else {
        return;
    };
    for suspicion in all.iter_mut() {
        let field = suspicion.word.field();
        let moves = matches!(
            field,
            Field::Part | Field::Wiring | Field::Travel | Field::Profile
        );
        let stays = suspicion.word == CauseWord::BoardNonlinear;
        if moves && odds > 0.0 {
            suspicion.facts.push(MOVED.to_owned());
        } else if moves {
            suspicion.score += odds;
        } else if stays {
            suspicion.score -= odds;
        }
    }
    let known = all.iter().any(|s| s.word == CauseWord::BoardNonlinear);
    if odds < 0.0
        && !known
        && let [pair] = &evidence.pairs[..]
    {
        all.push(input(evidence, pair.signals, odds));
    }
}

/// Whether something that failed would be at another input with the wires swapped.
pub(super) fn shows(evidence: &Evidence<'_>) -> bool {
    let mut findings = evidence.findings.iter();
    findings
        .any(|finding| finding.outcome == evidence.broken && OF_LEVELS.contains(&finding.figure))
}

pub(super) fn went_with_the_wire(evidence: &Evidence<'_>, seen: &TrialSeen<'_>) -> bool {
    odds(evidence, seen).is_some_and(|odds| odds > 0.0)
}

/// Log odds that what is odd went with the wire.
fn odds(evidence: &Evidence<'_>, seen: &TrialSeen<'_>) -> Option<f64> {
    let [pair] = &evidence.pairs[..] else {
        return None;
    };
    let read = pair
        .signals
        .map(|at| evidence.signals[at].ends(evidence.codes));
    let good = pair.signals.map(|at| {
        evidence.signals[at]
            .model
            .as_ref()
            .map_or([None, None], |m| m.good)
    });
    let now = after(evidence, seen, pair.signals)?;
    Some(with_the_wire(read, good, now)?.clamp(-MOST, MOST))
}

/// An input of the board that reads wrong, whatever is at it.
fn input(evidence: &Evidence<'_>, signals: [usize; 2], odds: f64) -> Suspicion {
    let failed = signals.map(|at| evidence.all_failed(evidence.signals[at].name));
    Suspicion::new(CauseWord::BoardNonlinear, 1.0, Place::default())
        .weighs(-odds, || {
            "trial: with the wires swapped, the same input is still the odd one; swap them back"
                .to_owned()
        })
        .explains(failed.into_iter().flatten())
        .acts(ActsTowards::Either)
}

/// Findings about where a track stands.
const OF_LEVELS: [FigureName; 8] = [
    FigureName::RestRatio,
    FigureName::FullRatio,
    FigureName::RestCode,
    FigureName::FullCode,
    FigureName::SpanCode,
    FigureName::TrackGain,
    FigureName::TrackOffset,
    FigureName::TrackDisagreement,
];
/// What is said when it moved.
pub(super) const MOVED: &str =
    "trial: with the wires swapped, the odd one is at the other input; swap them back";

type Read = [Option<f64>; 2];

/// What both channels read at rest and full in the trial, as fractions of the reference.
fn after(evidence: &Evidence<'_>, seen: &TrialSeen<'_>, signals: [usize; 2]) -> Option<[Read; 2]> {
    let of = |signal: usize, step: Step| {
        let name = evidence.signals[signal].name;
        let mut channels = seen.recording.channels.iter();
        let codes = channels.find(|channel| channel.name == name)?.codes;
        let ranges = seen.stretches.iter().filter(|(of, _)| *of == step);
        let samples = ranges.filter_map(|(_, range)| codes.get(range.clone()));
        let level = Level::of(samples.flatten().copied())?;
        Some(level.median / evidence.codes)
    };
    let both = signals.map(|signal| [of(signal, Step::Rest), of(signal, Step::Full)]);
    both.iter().flatten().any(Option::is_some).then_some(both)
}

/// Log odds that what is odd has gone with the wire, over that it has stayed at the input; `None` where both would read the same.
fn with_the_wire(read: [Read; 2], good: [Ends; 2], now: [Read; 2]) -> Option<f64> {
    let (mut gone, mut stayed, mut apart) = (0.0, 0.0, false);
    for at in 0..2 {
        let other = 1 - at;
        for end in 0..2 {
            let (Some(mine), Some(others), Some(now)) =
                (read[at][end], read[other][end], now[at][end])
            else {
                continue;
            };
            let (Some(mine_good), Some(others_good)) = (good[at][end], good[other][end]) else {
                continue;
            };
            let off = mine - mine_good.nominal;
            // An input that is stuck reads the same, one that is off is off by as much.
            let stuck = read[at][0]
                .zip(read[at][1])
                .is_some_and(|(a, b)| (a - b).abs() < SAME);
            let stays = if stuck {
                mine
            } else {
                others_good.nominal + off
            };
            apart |= (stays - others).abs() > 2.0 * SAME;
            gone += ((now - others) / SAME).powi(2).min(20.0);
            stayed += ((now - stays) / SAME).powi(2).min(20.0);
        }
    }
    apart.then_some((stayed - gone) / 2.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnose::predicted::Band;

    fn ends(rest: f64, full: f64) -> Ends {
        let band = |nominal| Some(Band { nominal, sd: 0.01 });
        [band(rest), band(full)]
    }

    /// Two tracks, the second at half slope; the second reads 0.05 too high at both ends.
    #[test]
    fn what_goes_with_the_wire_and_what_stays() {
        let good = [ends(0.16, 0.84), ends(0.08, 0.42)];
        let read = [[Some(0.16), Some(0.84)], [Some(0.13), Some(0.47)]];
        let wire = [[Some(0.13), Some(0.47)], [Some(0.16), Some(0.84)]];
        let board = [[Some(0.08), Some(0.42)], [Some(0.21), Some(0.89)]];
        assert!(with_the_wire(read, good, wire).unwrap() > 5.0);
        assert!(with_the_wire(read, good, board).unwrap() < -5.0);
        let fine = [[Some(0.16), Some(0.84)], [Some(0.08), Some(0.42)]];
        assert_eq!(with_the_wire(fine, good, board), None, "nothing is odd");
    }

    #[test]
    fn a_dead_input_stays_dead() {
        let good = [ends(0.16, 0.84), ends(0.08, 0.42)];
        let read = [[Some(0.0), Some(0.0)], [Some(0.08), Some(0.42)]];
        let board = [[Some(0.0), Some(0.0)], [Some(0.16), Some(0.84)]];
        let wire = [[Some(0.08), Some(0.42)], [Some(0.0), Some(0.0)]];
        assert!(with_the_wire(read, good, board).unwrap() < -5.0);
        assert!(with_the_wire(read, good, wire).unwrap() > 5.0);
    }
}
