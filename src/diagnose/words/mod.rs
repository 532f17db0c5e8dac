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

pub(super) use about::Said;
pub(super) use phrases::{each_place, joined, longest_ms, times};

use super::evidence::Evidence;
use super::types::{CauseWord, Field};
use super::weigh::Suspicion;
use about::About;

/// What is said of a suspicion that was taken for a cause.
pub(super) fn said(evidence: &Evidence<'_>, suspicion: &Suspicion) -> Said {
    let about = &About {
        evidence,
        suspicion,
    };
    match suspicion.word.field() {
        Field::Wiring => wiring::said(about),
        Field::Room => room::said(about),
        Field::Board | Field::Profile => board::said(about),
        Field::Travel => mechanics::said(about),
        Field::Part => match suspicion.word {
            CauseWord::StickyReturn | CauseWord::SlowReturn | CauseWord::EndOutOfPlace => {
                mechanics::said(about)
            }
            _ => track::said(about),
        },
    }
}
