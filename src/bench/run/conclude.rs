//! What follows from a look at a card: it goes on, or it is through.

use super::labels::Labels;
use super::looks::{Looking, beyond_help};
use super::recorder::Recorder;
use crate::record::Assessment;

/// Whether a card is to be looked at: at its end, or when it does not get on.
pub(super) fn is_due(labels: &Labels) -> bool {
    matches!(labels, Labels::Card(card) if card.at_end() || card.wants_look())
}

/// At the end of a card: takes the steps up again that an open finding wants more of; else the card is through. Before its
/// end: it is through when a finding is settled that nothing can mend.
pub(super) fn conclude(
    recorder: &mut Recorder,
    looking: &mut Looking,
    assessment: Option<&Assessment>,
) {
    let Labels::Card(card) = &mut recorder.labels else {
        return;
    };
    if !card.at_end() {
        card.looked();
        if assessment.is_some_and(beyond_help) {
            card.end_here("not needed: a limit is broken, and nothing can mend that");
        }
        return;
    }
    let mut reopened = false;
    for (step, want) in looking.again(assessment) {
        reopened |= card.reopen(step, want);
    }
    let trial = assessment.and_then(|assessment| assessment.diagnosis.trial);
    let tries = !reopened && trial.is_some_and(|trial| card.offer(trial));
    card.hold_open(reopened || tries);
    if reopened {
        recorder.set_looks(looking.go_on());
    }
}
