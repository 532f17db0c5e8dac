//! Every sentence of a diagnosis: what it is, what to do, the test that tells it apart. Warm, short, the cheapest first.
//!
//! Belongs here: words. Does not belong here: what speaks for a cause (`hypotheses`), layout (`report`, `tui`).

mod about;
mod board;
mod mechanics;
mod phrases;
mod room;
mod track;
mod wiring;

pub(super) use about::Explanation;
pub(super) use phrases::{each_place, joined, longest_ms, often, times};

use super::evidence::Evidence;
use super::types::{CauseWord, Field};
use super::weigh::Suspicion;
use about::About;

/// What is said of a suspicion that was taken for a cause.
pub(super) fn explain(evidence: &Evidence<'_>, suspicion: &Suspicion) -> Explanation {
    let about = &About {
        evidence,
        suspicion,
    };
    match suspicion.word.field() {
        Field::Wiring => wiring::explain(about),
        Field::Room => room::explain(about),
        Field::Board | Field::Profile => board::explain(about),
        Field::Travel => mechanics::explain(about),
        Field::Part => match suspicion.word {
            CauseWord::StickyReturn | CauseWord::SlowReturn | CauseWord::EndOutOfPlace => {
                mechanics::explain(about)
            }
            _ => track::explain(about),
        },
    }
}
