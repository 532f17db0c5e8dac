//! Trials of a capture, measured: each with its own steps in place of the card's.

use crate::capture::{Capture, Tried};
use crate::diagnose::TrialSeen;
use measure::units::{Passage, ScaleError, Step, Trial};
use measure::{self, DividerModel, Jobs};

/// The trials that were taken, each with the passages that it has.
pub(super) fn passages(capture: &Capture) -> Vec<(Trial, Vec<Passage>)> {
    let tried = &capture.meta.tried;
    let taken = Trial::ALL.into_iter().filter(|trial| {
        let done = |tried: &Tried| tried.trial == *trial && tried.step != Step::Idle;
        tried.iter().any(done)
    });
    taken
        .map(|trial| (trial, capture.passages_of(trial)))
        .collect()
}

/// What they show, of a control that rests against a stop or not.
pub(super) fn seen<'a>(
    capture: &'a Capture,
    passages: &'a [(Trial, Vec<Passage>)],
    (dividers, rests_at_a_stop): (&[DividerModel], bool),
    in_threads: &dyn Fn(Jobs<'_>),
) -> Result<Vec<TrialSeen<'a>>, ScaleError> {
    let each = passages.iter().map(|(trial, passages)| {
        let mut recording = capture.slices(capture.t_us.len(), passages)?;
        recording.rests_at_a_stop = rests_at_a_stop;
        let first = capture.first_of(*trial);
        let stretches = passages
            .iter()
            .filter(|passage| passage.range.start >= first && passage.step != Step::Idle)
            .map(|passage| (passage.step, passage.range.clone()));
        Ok(TrialSeen {
            trial: *trial,
            measured: measure::figures_by(&recording, dividers, in_threads),
            stretches: stretches.collect(),
            recording,
        })
    });
    each.collect()
}
