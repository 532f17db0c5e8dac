//! Loose connection: contact lost while the cable is moved, or anywhere, always to where a broken wire would take it.

use crate::diagnose::arrivals::End;
use crate::diagnose::evidence::{Evidence, Signal};
use crate::diagnose::losses::{self, Common, Group};
use crate::diagnose::types::CauseWord;
use crate::diagnose::weigh::{Place, Suspicion};
use crate::diagnose::words::{longest_ms, often};

pub(in crate::diagnose::hypotheses) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let signals = evidence.signals.iter().enumerate();
    signals
        .flat_map(|(at, signal)| {
            let groups = losses::groups(signal).into_iter();
            let loose = groups.filter_map(move |group| match group.common {
                Common::Shaken => Some(shaken(evidence, at, signal, &group)),
                Common::Nothing => Some(anywhere(evidence, at, signal, &group)),
                Common::Arriving(end) => Some(jolted(evidence, at, signal, &group, end)),
                Common::Place(..) => None,
            });
            loose.collect::<Vec<_>>()
        })
        .collect()
}

fn shaken(evidence: &Evidence<'_>, at: usize, signal: &Signal<'_>, group: &Group) -> Suspicion {
    let of_time = evidence.shaken_share.clamp(0.01, 0.99);
    let suspicion = Suspicion::new(CauseWord::LooseConnection, 0.0, Place::channel(at)).weighs(
        group.stands_out(of_time, 1.0).clamp(-4.0, 6.0),
        || {
            format!(
                "contact lost {} while the cable was moved, for up to {}",
                often(group.lost.len()),
                longest_ms(&group.lost)
            )
        },
    );
    common(suspicion, evidence, at, signal, group)
}

fn anywhere(evidence: &Evidence<'_>, at: usize, signal: &Signal<'_>, group: &Group) -> Suspicion {
    let suspicion =
        Suspicion::new(CauseWord::LooseConnection, -1.5, Place::channel(at)).weighs(0.5, || {
            format!(
                "contact lost {} at no particular place of the travel, for up to {}",
                often(group.lost.len()),
                longest_ms(&group.lost)
            )
        });
    common(suspicion, evidence, at, signal, group)
}

/// A control that comes home hard jolts its plug, too.
fn jolted(
    evidence: &Evidence<'_>,
    at: usize,
    signal: &Signal<'_>,
    group: &Group,
    end: End,
) -> Suspicion {
    let suspicion = Suspicion::new(CauseWord::LooseConnection, -1.5, Place::channel(at))
        .weighs(0.5, || losses::on_arriving(group, end));
    common(suspicion, evidence, at, signal, group)
}

fn common(
    suspicion: Suspicion,
    evidence: &Evidence<'_>,
    at: usize,
    signal: &Signal<'_>,
    group: &Group,
) -> Suspicion {
    let partner = evidence
        .partner(at)
        .map(|partner| &evidence.signals[partner]);
    let both = partner.map(|partner| losses::at_once(group, partner));
    suspicion
        .expects(
            losses::mostly_to_the_rail(evidence, signal, group),
            [2.0, 3.0],
            || "it goes to where a broken wire would take it".to_owned(),
        )
        .expects(group.one_way(), [0.5, 3.0], String::new)
        .expects(both, [0.5, 0.0], || {
            "both tracks at once: a wire that they share".to_owned()
        })
        .explains(losses::symptom(evidence, signal.name, group))
        .acts(losses::acts(signal, group))
}
