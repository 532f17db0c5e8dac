//! Tracks joined: both inputs carry the same signal, the two wires touch or both jumpers sit on one of them.

use super::super::ends::{Prediction, Readings, mapped};
use crate::diagnose::evidence::{Evidence, Pair};
use crate::diagnose::predicted::Ends;
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion};
use measure::figure::numbers::fixed;

/// Codes of ten bits that two readings of one signal may be apart, their noise included.
const SAME: f64 = 6.0 / 1024.0;

pub(in crate::diagnose::hypotheses) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let readings = Readings::of(evidence);
    let pairs = evidence.pairs.iter();
    pairs
        .flat_map(|pair| {
            let good = pair.signals.map(|at| readings.good[at]);
            // Touching wires meet half-way between two equal outputs.
            let half = match good[1] {
                [Some(rest), Some(full)] => mapped(good[0], |a, b| {
                    (
                        f64::midpoint(a, rest.nominal),
                        f64::midpoint(b, full.nominal),
                    )
                }),
                _ => good[0],
            };
            [half, good[0], good[1]]
                .into_iter()
                .filter_map(|both| joined(evidence, &readings, pair, both))
                .collect::<Vec<_>>()
        })
        .collect()
}

fn joined(
    evidence: &Evidence<'_>,
    readings: &Readings,
    pair: &Pair<'_>,
    both: Ends,
) -> Option<Suspicion> {
    let [a, b] = pair.signals;
    let mut expected = readings.good();
    (expected[a], expected[b]) = (Prediction::Ends(both), Prediction::Ends(both));
    let apart = pair.apart?.high;
    let place = Place {
        channels: vec![a, b],
        travel: None,
    };
    let same = apart <= SAME * evidence.codes;
    // Nothing at both inputs is the same signal, too, but no sign of touching wires.
    let alive = evidence.signals[a].all?.median > SAME * evidence.codes
        && evidence.signals[a].all?.median < evidence.codes * (1.0 - SAME);
    Some(
        readings
            .suspect(evidence, CauseWord::TracksJoined, -3.0, place, &expected)
            .expects(same, [4.0, 9.0], || {
                format!(
                    "both inputs read the same, within {} codes in every sample",
                    fixed(apart, 0)
                )
            })
            .expects(alive, [0.0, 6.0], String::new)
            .acts(ActsTowards::Either),
    )
}
