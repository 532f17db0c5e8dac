//! Short travel: it rests where it should, and every track stops at the same part of its way.

use super::super::ends::{Prediction, Readings, best, between, mapped};
use crate::diagnose::evidence::Evidence;
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion};
use measure::figure::numbers::fixed;

pub(in crate::diagnose::hypotheses) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let readings = Readings::of(evidence);
    if !readings.any() || evidence.signals.is_empty() {
        return Vec::new();
    }
    let stopped = |at: f64| -> Vec<Prediction> {
        let good = readings.good.iter();
        good.map(|ends| {
            Prediction::Ends(mapped(*ends, |rest, full| {
                (rest, rest + at * (full - rest))
            }))
        })
        .collect()
    };
    let Some((at, _)) = best(between(0.2, 0.97, 154), |at| readings.misfit(&stopped(at))) else {
        return Vec::new();
    };
    let tracks = evidence.signals.len();
    let reached = || {
        let pct = fixed(at * 100.0, 0);
        match tracks {
            1 => format!("it goes to {pct} % of its range and no further"),
            _ => format!("both tracks stop at {pct} % of their range"),
        }
    };
    vec![
        readings
            .suspect(
                evidence,
                CauseWord::ShortTravel,
                -2.0,
                Place::default(),
                &stopped(at),
            )
            .notes(reached())
            .acts(ActsTowards::Zero)
            .detailed(fixed(at * 100.0, 0)),
    ]
}
