//! Causes in the board that measures.

mod noise;
mod nonlinear;

use crate::diagnose::evidence::Evidence;
use crate::diagnose::weigh::Suspicion;

pub(super) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let mut suspicions = noise::suspect(evidence);
    suspicions.extend(nonlinear::suspect(evidence));
    suspicions
}
