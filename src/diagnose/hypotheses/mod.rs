//! What each cause predicts, one small file each.
//!
//! A hypothesis looks at the evidence and gives a suspicion for every place where the cause could be; it knows no other
//! hypothesis. `ends` and `noise` hold what several of them weigh.

mod board;
mod ends;
mod kind;
mod mechanics;
pub(super) mod noise;
mod room;
mod track;
mod wiring;

use super::evidence::Evidence;
use super::weigh::Suspicion;

/// Gives a suspicion for every place where a cause could be.
type Hypothesis = fn(&Evidence<'_>) -> Vec<Suspicion>;

const ALL: [Hypothesis; 19] = [
    track::worn::suspect,
    track::wiper::suspect,
    track::curve::suspect,
    track::disagree::suspect,
    wiring::connection::suspect,
    wiring::fault::suspect,
    wiring::gone::suspect,
    wiring::backwards::suspect,
    wiring::swapped::suspect,
    wiring::joined::suspect,
    wiring::supply::suspect,
    mechanics::sticky::suspect,
    mechanics::slow::suspect,
    mechanics::short::suspect,
    mechanics::end::suspect,
    room::hum::suspect,
    room::interference::suspect,
    board::suspect,
    kind::suspect,
];

/// Everything that is suspected.
pub(super) fn suspicions(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    ALL.iter()
        .flat_map(|hypothesis| hypothesis(evidence))
        .collect()
}
