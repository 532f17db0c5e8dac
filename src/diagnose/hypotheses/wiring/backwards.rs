//! Backwards: rest reads what full should, and full what rest should.

use super::super::ends::{Prediction, Readings};
use crate::diagnose::evidence::Evidence;
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion};
use measure::figure::FigureName;

pub(in crate::diagnose::hypotheses) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let readings = Readings::of(evidence);
    if !readings.any() {
        return Vec::new();
    }
    let every = (0..evidence.signals.len()).collect::<Vec<_>>();
    let mut cases: Vec<(Vec<usize>, f64)> = every.iter().map(|at| (vec![*at], 0.0)).collect();
    if every.len() > 1 {
        // Both at once: another wire than one that only one track has.
        cases.push((every, -0.5));
    }
    cases
        .into_iter()
        .filter_map(|(channels, rarer)| turned(evidence, &readings, channels, rarer))
        .collect()
}

fn turned(
    evidence: &Evidence<'_>,
    readings: &Readings,
    channels: Vec<usize>,
    rarer: f64,
) -> Option<Suspicion> {
    let mut expected = readings.good();
    for at in &channels {
        expected[*at] = Prediction::Ends(evidence.signals[*at].model.as_ref()?.reversed());
    }
    let falls = channels
        .iter()
        .map(|at| turned_round(evidence, readings, *at));
    let falls = falls.collect::<Option<Vec<bool>>>();
    let place = Place {
        channels,
        travel: None,
    };
    Some(
        readings
            .suspect(
                evidence,
                CauseWord::Backwards,
                -2.5 + rarer,
                place,
                &expected,
            )
            .expects(
                falls.map(|falls| falls.iter().all(|f| *f)),
                [2.0, 8.0],
                || "it moves the other way than it should".to_owned(),
            )
            .acts(ActsTowards::Full),
    )
}

/// Whether a signal moves against the way that a good one has.
fn turned_round(evidence: &Evidence<'_>, readings: &Readings, at: usize) -> Option<bool> {
    let [rest, full] = readings.good[at];
    let good = full?.nominal - rest?.nominal;
    let span = evidence.signals[at]
        .value(FigureName::SpanCode)
        .or_else(|| {
            let [rest, full] = readings.seen[at];
            Some((full? - rest?) * evidence.codes)
        })?;
    Some(span * good < 0.0 && span.abs() > 0.02 * evidence.codes)
}
