//! Strokes once more, slower: what is in the track comes back at its place; what comes from outside does not.

use super::seen::TrialSeen;
use crate::diagnose::evidence::Evidence;
use crate::diagnose::types::CauseWord;
use crate::diagnose::weigh::Suspicion;
use measure::MeasuredChannel;
use measure::figure::FigureName;
use measure::units::Step;

/// What it adds that a place shows again, and takes that it does not: six strokes show it in 19 of 20 cases, and chance puts
/// something there in one of 20 (ln 19). Common practice, no source.
const AGAIN: f64 = 3.0;
/// How near to the place, % of travel.
const NEAR_PCT: f64 = 4.0;
/// What it takes besides when contact is lost elsewhere, as it came before at that place.
const ELSEWHERE: f64 = 4.0;
/// Losses of contact at a place in six strokes that are no accident.
const LOST: usize = 2;
/// How far intervals may be from whole multiples of the shortest, as a share.
const EVEN: f64 = 0.02;
/// A bump is as high again as this share of what it was.
const AS_HIGH: f64 = 0.6;

pub(super) fn weigh(evidence: &Evidence<'_>, seen: &TrialSeen<'_>, all: &mut [Suspicion]) {
    if seen
        .stretches
        .iter()
        .all(|(step, _)| *step != Step::Strokes)
    {
        return;
    }
    for suspicion in all.iter_mut() {
        let [at] = suspicion.place.channels[..] else {
            continue;
        };
        let Some(signal) = evidence.signals.get(at) else {
            continue;
        };
        let mut channels = seen.measured.channels.iter();
        let Some(part) = channels.find(|part| part.name == signal.name) else {
            continue;
        };
        let again = match (suspicion.word, suspicion.place.travel) {
            // Uneven codes of a board come back at their place, as wear does.
            (CauseWord::WornTrack | CauseWord::BoardNonlinear, Some(place)) => {
                Some(worn_again(part, place))
            }
            (CauseWord::WornTrack, None) => bump_again(signal.measured, part),
            (CauseWord::LooseWiper, Some(place)) => lost_again(seen, part, place),
            _ => None,
        };
        match again {
            Some(true) => {
                suspicion.score += AGAIN;
                let fact = "trial: it is at the same place again in slower strokes";
                suspicion.facts.push(fact.to_owned());
            }
            Some(false) => {
                suspicion.score -= AGAIN;
                if suspicion.word == CauseWord::LooseWiper && lost_in(seen, part) >= LOST {
                    suspicion.score -= ELSEWHERE;
                }
                let fact = "trial: slower strokes show nothing at that place";
                suspicion.facts.push(fact.to_owned());
            }
            None => {}
        }
    }
}

fn overlaps((from, to): (f64, f64), (low, high): (f64, f64)) -> bool {
    from <= high + NEAR_PCT && low <= to + NEAR_PCT
}

fn worn_again(part: &MeasuredChannel, place: (f64, f64)) -> bool {
    let mut zones = part.worn_zones.iter();
    zones.any(|zone| overlaps((zone.from_pct, zone.to_pct), place))
}

/// A bump without a zone of noise: as high as before.
fn bump_again(before: &MeasuredChannel, now: &MeasuredChannel) -> Option<bool> {
    let before = before.figures.value(FigureName::Smoothness)?;
    let now = now.figures.value(FigureName::Smoothness)?;
    Some(now > AS_HIGH * before)
}

/// Losses of contact in the trial, anywhere.
fn lost_in(seen: &TrialSeen<'_>, part: &MeasuredChannel) -> usize {
    let lost = part.dropouts.iter().filter(|lost| seen.has(lost.t_s));
    lost.count()
}

/// Whether losses come as evenly in time as at a place: then either may be why. So even is no hand.
pub(super) fn even_in_time(lost: &[f64]) -> bool {
    let mut steps: Vec<f64> = lost.windows(2).map(|pair| pair[1] - pair[0]).collect();
    steps.sort_by(f64::total_cmp);
    let Some(base) = steps.first().filter(|base| steps.len() > 1 && **base > 0.0) else {
        return false;
    };
    // Some may have been missed: whole multiples.
    let off = |step: &f64| (step / base - (step / base).round()).abs() * base / step;
    steps.iter().all(|step| off(step) < EVEN)
}

/// One alone may be an accident.
fn lost_again(seen: &TrialSeen<'_>, part: &MeasuredChannel, place: (f64, f64)) -> Option<bool> {
    let there = part.dropouts.iter().filter(|lost| {
        let at = lost.travel_pct.map(|pct| overlaps((pct, pct), place));
        at == Some(true) && seen.has(lost.t_s)
    });
    match there.count() {
        0 => Some(false),
        n if n >= LOST => Some(true),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::even_in_time;

    #[test]
    fn a_clock_is_even_and_a_hand_is_not() {
        assert!(even_in_time(&[1.0, 3.0, 5.001, 9.0]));
        assert!(!even_in_time(&[1.0, 2.9, 5.1, 6.9]));
        assert!(!even_in_time(&[1.0, 3.0]), "two tell nothing");
    }
}
