//! On the laptop's battery: noise that comes by its charger is gone.

use super::seen::TrialSeen;
use crate::diagnose::evidence::{Evidence, Signal};
use crate::diagnose::hypotheses::noise;
use crate::diagnose::types::CauseWord;
use crate::diagnose::weigh::Suspicion;
use measure::figure::numbers::four_digits;
use measure::statistics::{least_squares, real};
use measure::units::{Code, Step};

/// Of the power of the line, or of all noise where there is none, more than this is gone when it came by the charger, and less than that
/// when it did not. Common practice, no source.
const GONE: f64 = 0.5;
const STAYS: f64 = 0.25;
const WEIGHT: f64 = 4.0;
/// What is said of hum that stays.
pub(in crate::diagnose) const NOT_BY_CHARGER: &str = "not by the charger";
/// Samples that tell a noise.
const FEWEST: usize = 50;

pub(super) fn weigh(evidence: &Evidence<'_>, seen: &TrialSeen<'_>, all: &mut [Suspicion]) {
    // The noisiest signal tells most.
    let signals = evidence.signals.iter();
    let both = signals.filter_map(|signal| {
        let (before, now) = noises(signal, seen)?;
        let line = noise::hum(signal).map_or(before, |(_, rms, _)| rms);
        Some((before, now, line.min(before).max(1e-9)))
    });
    let Some((before, now, line)) = both.max_by(|a, b| a.0.total_cmp(&b.0)) else {
        return;
    };
    let gone = (before * before - now * now) / (line * line);
    let fact = format!(
        "trial: {} codes of noise before, {} on the battery",
        four_digits(before),
        four_digits(now)
    );
    for suspicion in all.iter_mut() {
        let hum = suspicion.word == CauseWord::MainsHum;
        let own = matches!(
            suspicion.word,
            CauseWord::BoardNoise | CauseWord::WornTrack | CauseWord::LooseWiper
        );
        let log_odds = match (hum, own) {
            (true, _) if gone > GONE => WEIGHT,
            // What stays may still be the mains', by lamps and cables.
            (true, _) if gone < STAYS => 0.0,
            (_, true) if gone < STAYS => 0.5,
            (_, true) if gone > GONE => -0.5,
            _ => continue,
        };
        suspicion.score += log_odds;
        if hum || log_odds > 0.0 {
            suspicion.facts.push(match (hum, gone > GONE) {
                (true, true) => format!("{fact}: it came by the charger"),
                (true, false) => format!("{fact}: {NOT_BY_CHARGER}"),
                (false, _) => fact.clone(),
            });
        }
    }
}

/// Noise at rest, codes: on the card, and in the trial.
fn noises(signal: &Signal<'_>, seen: &TrialSeen<'_>) -> Option<(f64, f64)> {
    let mut channels = seen.recording.channels.iter();
    let codes = channels.find(|channel| channel.name == signal.name)?.codes;
    let now = |(_, range): &(Step, std::ops::Range<usize>)| spread(codes.get(range.clone())?);
    let now = seen.stretches.iter().filter_map(now).reduce(f64::min)?;
    let first = seen.stretches.first()?.1.start;
    let rests = seen.recording.passages.iter();
    let rests = rests.filter(|passage| passage.step == Step::Rest && passage.range.end <= first);
    let before = rests.filter_map(|passage| spread(codes.get(passage.range.clone())?));
    Some((before.reduce(f64::max)?, now))
}

/// Standard deviation about their straight line, codes: a slow drift is none.
fn spread(codes: &[Code]) -> Option<f64> {
    if codes.len() < FEWEST {
        return None;
    }
    let x: Vec<f64> = (0..codes.len()).map(real).collect();
    let y: Vec<f64> = codes.iter().map(|code| code.as_f64()).collect();
    least_squares(&x, &y)?.residual_sd
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_drift_is_no_noise() {
        let drift: Vec<Code> = (0..1000).map(Code).collect();
        assert!(spread(&drift).unwrap() < 1e-9);
        // Half of them one code up: a standard deviation of half a code.
        let square: Vec<Code> = (0..1000).map(|i| Code(500 + i % 2)).collect();
        assert!((spread(&square).unwrap() - 0.5).abs() < 1e-3);
        assert_eq!(spread(&drift[..20]), None);
    }
}
