//! End out of place: one end of travel reads elsewhere, on all tracks alike (a stop) or on one of them (its sensor).

use super::super::ends::{Prediction, Readings, best, between, mapped};
use crate::diagnose::evidence::Evidence;
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion};
use measure::figure::numbers::fixed;

/// An end of travel.
#[derive(Clone, Copy, PartialEq)]
enum End {
    Rest,
    Full,
}

pub(in crate::diagnose::hypotheses) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let readings = Readings::of(evidence);
    if !readings.any() {
        return Vec::new();
    }
    let every: Vec<usize> = (0..evidence.signals.len()).collect();
    let mut cases: Vec<(Vec<usize>, f64)> = vec![(every.clone(), 0.0)];
    if every.len() > 1 {
        cases.extend(every.iter().map(|at| (vec![*at], -0.5)));
    }
    let cases = cases.into_iter().flat_map(|(channels, rarer)| {
        [End::Rest, End::Full].map(|end| (channels.clone(), rarer, end))
    });
    cases
        .filter_map(|(channels, rarer, end)| moved(evidence, &readings, &channels, rarer, end))
        .collect()
}

fn moved(
    evidence: &Evidence<'_>,
    readings: &Readings,
    channels: &[usize],
    rarer: f64,
    end: End,
) -> Option<Suspicion> {
    let expected = |by: f64| -> Vec<Prediction> {
        let good = readings.good.iter().enumerate();
        good.map(|(at, ends)| {
            Prediction::Ends(if channels.contains(&at) {
                mapped(*ends, |rest, full| match end {
                    End::Rest => (rest + by * (full - rest), full),
                    End::Full => (rest, full + by * (full - rest)),
                })
            } else {
                *ends
            })
        })
        .collect()
    };
    // A full end that is not reached is short travel.
    let range = match end {
        End::Rest => between(-0.3, 0.5, 160),
        End::Full => between(0.01, 0.4, 78),
    };
    let single = channels.len() == 1 && evidence.signals.len() > 1;
    let range: Vec<f64> = match (end, single) {
        // Of one track alone it is no matter of how far it was pressed.
        (End::Full, true) => between(-0.5, 0.4, 180).collect(),
        _ => range.collect(),
    };
    let (by, _) = best(range.into_iter(), |by| readings.misfit(&expected(by)))?;
    let place = Place {
        channels: if single {
            channels.to_vec()
        } else {
            Vec::new()
        },
        travel: None,
    };
    let (name, acts) = match (end, by > 0.0) {
        (End::Rest, true) => ("rest", ActsTowards::Full),
        (End::Rest, false) => ("rest", ActsTowards::Zero),
        (End::Full, true) => ("full", ActsTowards::Full),
        (End::Full, false) => ("full", ActsTowards::Zero),
    };
    Some(
        readings
            .suspect(
                evidence,
                CauseWord::EndOutOfPlace,
                -2.5 + rarer,
                place,
                &expected(by),
            )
            .notes(format!(
                "its {name} end is {} % of travel away from where it should be",
                fixed(by.abs() * 100.0, 0)
            ))
            .acts(acts)
            .detailed(name),
    )
}
