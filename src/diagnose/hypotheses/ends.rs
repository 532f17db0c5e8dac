//! Readings at both ends of travel against what a cause predicts: one scale for all causes that move them.
//!
//! Each end is taken as normal about its prediction, so half of the squared distance in standard deviations is the
//! log-likelihood that the prediction loses; the log odds of two causes are the difference (Bayes; JCGM 101:2008 for the
//! normal distribution of what tolerances allow).

use crate::diagnose::evidence::Evidence;
use crate::diagnose::predicted::{Band, Ends};
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion, Symptom};
use measure::figure::FigureName;
use measure::figure::numbers::fixed;

/// Most that being unlike a good part adds: beyond it every cause is as free to explain it.
const MOST: f64 = 12.0;
/// Most that one end takes away: an end may be off for another cause.
const MOST_MISFIT: f64 = 60.0;
/// What an end costs of which a cause says nothing: about the width of all readings over that of a good one.
const UNTOLD: f64 = 6.0;

const OF_REST: [FigureName; 2] = [FigureName::RestRatio, FigureName::RestCode];
const OF_FULL: [FigureName; 2] = [FigureName::FullRatio, FigureName::FullCode];
const OF_BOTH: [FigureName; 2] = [FigureName::SpanCode, FigureName::NoiseFreeBits];
const OF_PAIR: [FigureName; 3] = [
    FigureName::TrackGain,
    FigureName::TrackOffset,
    FigureName::TrackDisagreement,
];

/// Both ends of every signal, as read and as a good part would have them.
pub(super) struct Readings {
    pub seen: Vec<[Option<f64>; 2]>,
    pub good: Vec<Ends>,
}

/// What a cause predicts of one signal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Prediction {
    Ends(Ends),
    /// Anything at all.
    Anything,
}

impl Readings {
    pub fn of(evidence: &Evidence<'_>) -> Self {
        let signals = evidence.signals.iter();
        let good = |model: &Option<crate::diagnose::predicted::TrackModel>| {
            model.as_ref().map_or([None, None], |model| model.good)
        };
        Self {
            seen: signals.clone().map(|s| s.ends(evidence.codes)).collect(),
            good: signals.map(|s| good(&s.model)).collect(),
        }
    }

    /// What a good part predicts of every signal.
    pub fn good(&self) -> Vec<Prediction> {
        self.good
            .iter()
            .map(|ends| Prediction::Ends(*ends))
            .collect()
    }

    /// How badly a prediction fits, in squared standard deviations over all ends that were read.
    pub fn misfit(&self, expected: &[Prediction]) -> f64 {
        let each = self.seen.iter().zip(&self.good).zip(expected);
        each.map(|((seen, good), expected)| {
            let end = |at: usize| match (seen[at], expected, good[at]) {
                (Some(seen), Prediction::Ends(ends), _) => {
                    ends[at].map_or(0.0, |band| band.misfit(seen).min(MOST_MISFIT))
                }
                (Some(_), Prediction::Anything, Some(_)) => UNTOLD,
                _ => 0.0,
            };
            end(0) + end(1)
        })
        .sum()
    }

    /// Whether anything was read that a good part predicts.
    pub fn any(&self) -> bool {
        let each = self.seen.iter().zip(&self.good);
        each.clone().any(|(seen, good)| {
            seen.iter()
                .zip(good)
                .any(|(seen, good)| seen.is_some() && good.is_some())
        })
    }

    /// A suspicion with what the ends say for it, and the failed findings about ends that it explains.
    pub fn suspect(
        &self,
        evidence: &Evidence<'_>,
        word: CauseWord,
        prior: f64,
        place: Place,
        expected: &[Prediction],
    ) -> Suspicion {
        let unlike_good = (self.misfit(&self.good()) / 2.0).min(MOST);
        let misfit = self.misfit(expected) / 2.0;
        let fact = self.fact(evidence, &place);
        let suspicion = Suspicion::new(word, prior - misfit, place).acts(ActsTowards::Either);
        suspicion
            .weighs(unlike_good, || fact)
            .explains(self.explained(evidence, expected))
    }

    /// `pedal_a reads 0 at rest and 0 fully pressed (a good one: 164 and 860)`.
    fn fact(&self, evidence: &Evidence<'_>, place: &Place) -> String {
        let codes = evidence.codes;
        let signals = (0..evidence.signals.len())
            .filter(|at| place.channels.is_empty() || place.channels.contains(at));
        let each = signals.filter_map(|at| {
            let both = |ends: [Option<f64>; 2]| match ends {
                [Some(rest), Some(full)] => Some(format!(
                    "{} at rest and {} at full",
                    fixed(rest * codes, 0),
                    fixed(full * codes, 0)
                )),
                [Some(rest), None] => Some(format!("{} at rest", fixed(rest * codes, 0))),
                [None, Some(full)] => Some(format!("{} at full", fixed(full * codes, 0))),
                [None, None] => None,
            };
            let good = self.good[at].map(|band| band.map(|band| band.nominal));
            let name = evidence.signals[at].name;
            Some(match both(good) {
                Some(good) => format!(
                    "{name} reads {}; a good one reads {good}",
                    both(self.seen[at])?
                ),
                None => format!("{name} reads {}", both(self.seen[at])?),
            })
        });
        each.collect::<Vec<_>>().join("; ")
    }

    /// Failed findings about ends that a prediction moves, and all of a signal that carries nothing.
    fn explained(&self, evidence: &Evidence<'_>, expected: &[Prediction]) -> Vec<Symptom> {
        let mut symptoms = Vec::new();
        for (at, signal) in evidence.signals.iter().enumerate() {
            let Prediction::Ends(ends) = expected[at] else {
                symptoms.extend(evidence.all_failed(signal.name));
                continue;
            };
            let moved = |end: usize| match (ends[end], self.good[at][end]) {
                (Some(expected), Some(good)) => {
                    (expected.nominal - good.nominal).abs() > good.sd.min(expected.sd)
                }
                _ => false,
            };
            if moves(ends) == Some(false) && moves(self.good[at]) == Some(true) {
                symptoms.extend(evidence.all_failed(signal.name));
                continue;
            }
            if moved(0) {
                symptoms.extend(evidence.failed(signal.name, &OF_REST));
            }
            if moved(1) {
                symptoms.extend(evidence.failed(signal.name, &OF_FULL));
            }
            if moved(0) || moved(1) {
                symptoms.extend(evidence.failed(signal.name, &OF_BOTH));
                symptoms.extend(evidence.failed_pairs(signal.name, &OF_PAIR));
            }
        }
        symptoms
    }
}

/// Whether a signal goes anywhere between its ends; `None` when one of them is not told.
fn moves([rest, full]: Ends) -> Option<bool> {
    Some((rest?.nominal - full?.nominal).abs() > 0.03)
}

/// The same ends with one function applied to the middle of each.
pub(super) fn mapped([rest, full]: Ends, to: impl Fn(f64, f64) -> (f64, f64)) -> Ends {
    match (rest, full) {
        (Some(rest), Some(full)) => {
            let (a, b) = to(rest.nominal, full.nominal);
            [Some(rest.moved_to(a)), Some(full.moved_to(b))]
        }
        (rest, full) => [rest, full].map(|band: Option<Band>| {
            band.map(|band| band.moved_to(to(band.nominal, band.nominal).0))
        }),
    }
}

/// The value of a free parameter that fits best, of those tried.
pub(super) fn best(
    tried: impl Iterator<Item = f64>,
    misfit: impl Fn(f64) -> f64,
) -> Option<(f64, f64)> {
    tried
        .map(|value| (value, misfit(value)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
}

/// So many values between two.
pub(super) fn between(low: f64, high: f64, steps: u32) -> impl Iterator<Item = f64> {
    (0..=steps).map(move |k| low + (high - low) * f64::from(k) / f64::from(steps))
}
