//! Tracks swapped: each input reads what the other should.

use super::super::ends::{Prediction, Readings};
use crate::diagnose::evidence::Evidence;
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion};
use measure::figure::FigureName;
use measure::figure::numbers::fixed;

pub(in crate::diagnose::hypotheses) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let readings = Readings::of(evidence);
    let pairs = evidence.pairs.iter();
    pairs
        .filter_map(|pair| {
            let [a, b] = pair.signals;
            let mut expected = readings.good();
            let of = |at: usize| evidence.signals[at].model.as_ref().map(|model| model.good);
            (expected[a], expected[b]) = (Prediction::Ends(of(b)?), Prediction::Ends(of(a)?));
            let place = Place {
                channels: vec![a, b],
                travel: None,
            };
            let gain = pair.measured.figures.value(FigureName::TrackGain);
            let other_way = gain.zip(expected_gain(&readings, a, b));
            let fits = other_way.map(|(gain, good)| (gain * good - 1.0).abs() < 0.15);
            Some(
                readings
                    .suspect(evidence, CauseWord::TracksSwapped, -2.0, place, &expected)
                    .expects(fits, [2.0, 4.0], || {
                        other_way.map_or_else(String::new, |(gain, good)| {
                            format!(
                                "{} moves {} times as far as {} instead of {} times",
                                pair.measured.b,
                                fixed(gain, 2),
                                pair.measured.a,
                                fixed(good, 2)
                            )
                        })
                    })
                    .acts(ActsTowards::Either),
            )
        })
        .collect()
}

/// Span of the second over that of the first, of good ones.
fn expected_gain(readings: &Readings, a: usize, b: usize) -> Option<f64> {
    let span = |at: usize| {
        let [rest, full] = readings.good[at];
        Some(full?.nominal - rest?.nominal)
    };
    Some(span(b)? / span(a)?).filter(|gain| gain.is_finite())
}
