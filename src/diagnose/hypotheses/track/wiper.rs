//! Loose wiper: contact lost at the same place of the travel while it moves, or as it comes to an end.

use crate::diagnose::arrivals::End;
use crate::diagnose::evidence::{Evidence, Signal};
use crate::diagnose::losses::{self, Common, Group};
use crate::diagnose::types::CauseWord;
use crate::diagnose::weigh::{Place, Suspicion};
use crate::diagnose::words::{each_place, longest_ms};
use measure::figure::FigureName;
use measure::units::Step;

pub(in crate::diagnose::hypotheses) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let signals = evidence.signals.iter().enumerate();
    signals
        .flat_map(|(at, signal)| {
            let groups = losses::groups(signal).into_iter();
            let lifts = groups.filter_map(move |group| match group.common {
                Common::Place(from, to) => {
                    Some(at_a_place(evidence, at, signal, &group, (from, to)))
                }
                // A sensor has no wiper: what a jolt does to its plug is told there.
                Common::Arriving(end) => {
                    (!signal.is_sensor()).then(|| at_an_end(evidence, at, signal, &group, end))
                }
                Common::Shaken | Common::Nothing => None,
            });
            lifts.collect::<Vec<_>>()
        })
        .collect()
}

fn at_a_place(
    evidence: &Evidence<'_>,
    at: usize,
    signal: &Signal<'_>,
    group: &Group,
    place: (f64, f64),
) -> Suspicion {
    let where_it_is = each_place(&[place]);
    let suspicion = Suspicion::new(CauseWord::LooseWiper, -1.0, Place::at(at, place)).weighs(
        group.place_odds().clamp(-4.0, 7.0),
        || {
            format!(
                "contact lost {} of {} times at {where_it_is} of travel, for up to {}",
                group.lost.len(),
                group.of,
                longest_ms(&group.lost)
            )
        },
    );
    lifted(suspicion, evidence, at, signal, group).detailed(where_it_is)
}

/// A wiper that lifts as it comes to its stop. A jolt of the plug looks the same: it is never certain.
fn at_an_end(
    evidence: &Evidence<'_>,
    at: usize,
    signal: &Signal<'_>,
    group: &Group,
    end: End,
) -> Suspicion {
    let shaken = signal.lost.iter().any(|lost| lost.step == Step::Shake);
    let suspicion = Suspicion::new(CauseWord::LooseWiper, -1.0, Place::at(at, end.place()))
        .weighs(group.arriving_odds().clamp(-4.0, 3.0), || {
            losses::on_arriving(group, end)
        })
        .expects(!shaken, [0.0, 2.0], String::new);
    lifted(suspicion, evidence, at, signal, group).detailed(each_place(&[end.place()]))
}

fn lifted(
    suspicion: Suspicion,
    evidence: &Evidence<'_>,
    at: usize,
    signal: &Signal<'_>,
    group: &Group,
) -> Suspicion {
    let alone = evidence
        .partner(at)
        .map(|partner| !losses::at_once(group, &evidence.signals[partner]));
    suspicion
        .expects(
            losses::mostly_to_the_rail(evidence, signal, group),
            [1.5, 1.5],
            || "it goes to where a broken wire would take it".to_owned(),
        )
        .expects(group.one_way(), [0.5, 1.5], String::new)
        .expects(alone, [0.5, 2.0], String::new)
        .explains(losses::symptom(evidence, signal.name, group))
        .explains(evidence.failed(
            signal.name,
            &[
                FigureName::Smoothness,
                FigureName::StrokeNoiseRms,
                FigureName::WornZonesCount,
            ],
        ))
        .acts(losses::acts(signal, group))
}
