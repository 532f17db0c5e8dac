//! Only the plug was moved: contact that is lost then is lost at the plug.

use super::seen::TrialSeen;
use crate::diagnose::evidence::Evidence;
use crate::diagnose::types::CauseWord;
use crate::diagnose::weigh::Suspicion;
use measure::figure::numbers::fixed;
use measure::statistics::real;
use measure::units::Step;
use measure::units::maths;

/// Losses a second that a loose plug has while it is wiggled. Common practice, no source.
const LOOSE_HZ: f64 = 0.5;
/// Rarest that losses come by themselves, as far as a card of a minute can tell.
const RAREST_HZ: f64 = 1.0 / 60.0;
const MOST: f64 = 6.0;

pub(super) fn weigh(evidence: &Evidence<'_>, seen: &TrialSeen<'_>, all: &mut [Suspicion]) {
    let count = |channel: &str| {
        let mut channels = seen.measured.channels.iter();
        let part = channels.find(|part| part.name == channel);
        let lost = part.into_iter().flat_map(|part| &part.dropouts);
        lost.filter(|lost| seen.has(lost.t_s)).count()
    };
    for suspicion in all.iter_mut() {
        if suspicion.word != CauseWord::LooseConnection {
            continue;
        }
        let signals = evidence.signals.iter().enumerate();
        let mine = signals.filter(|(at, _)| {
            suspicion.place.channels.is_empty() || suspicion.place.channels.contains(at)
        });
        let (lost, before) = mine.fold((0, 0), |(lost, before), (_, signal)| {
            let alone = signal.lost.iter().filter(|lost| lost.step != Step::Shake);
            (lost + count(signal.name), before + alone.count())
        });
        let seconds = seen.lasted_s();
        let log_odds = odds(
            real(lost),
            seconds,
            real(before) / evidence.seconds.max(1.0),
        );
        // What was lost while the whole cable was moved is a connection: the plug, or not.
        let signals = evidence.signals.iter();
        let shaken = signals
            .flat_map(|s| &s.lost)
            .any(|lost| lost.step == Step::Shake);
        suspicion.score += if shaken { log_odds.max(0.0) } else { log_odds };
        let within = format!("in {} s of wiggling only the plug", fixed(seconds, 0));
        suspicion.facts.push(match lost {
            0 => format!("trial: contact was not lost {within}: look at the cable first"),
            1 => format!("trial: contact was lost once {within}"),
            lost => format!("trial: contact was lost {lost} times {within}"),
        });
    }
}

/// The log-likelihood ratio of so many losses at the rate of a loose plug, over the rate at which they come anyway (Poisson).
fn odds(lost: f64, seconds: f64, anyway_hz: f64) -> f64 {
    let anyway_hz = anyway_hz.max(RAREST_HZ);
    let loose_hz = LOOSE_HZ + anyway_hz;
    let ratio = lost * maths::ln(loose_hz / anyway_hz) - LOOSE_HZ * seconds;
    ratio.clamp(-MOST, MOST)
}

#[cfg(test)]
mod tests {
    use super::odds;

    /// By hand: none in 6 s at 0.5 a second is e^-3; two at (0.5 + 1/60) over 1/60: 2 ln 31 - 3 = 3.87.
    #[test]
    fn losses_while_only_the_plug_moves() {
        assert!((odds(0.0, 6.0, 0.0) + 3.0).abs() < 1e-12);
        assert!((odds(2.0, 6.0, 0.0) - 3.868).abs() < 1e-3);
        assert!(odds(9.0, 6.0, 0.0) <= 6.0 && odds(1.0, 6.0, 0.5) < 0.0);
    }
}
