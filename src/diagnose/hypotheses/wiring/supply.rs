//! Wrong supply: every reading is off by one factor.

use super::super::ends::{Prediction, Readings, best, between, mapped};
use crate::diagnose::evidence::Evidence;
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion};
use measure::figure::numbers::fixed;

/// Supplies of the bench over each other: 3.3 V in place of 5 V and the reverse, 3.3 V boards on 3 V cells. Common practice.
const USUAL: [f64; 4] = [3.3 / 5.0, 5.0 / 3.3, 3.0 / 5.0, 3.0 / 3.3];
/// A factor this near to one is no factor.
const NEAR: f64 = 0.06;

pub(in crate::diagnose::hypotheses) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let readings = Readings::of(evidence);
    if !readings.any() {
        return Vec::new();
    }
    let scaled = |factor: f64| -> Vec<Prediction> {
        let good = readings.good.iter();
        good.map(|ends| {
            Prediction::Ends(mapped(*ends, |rest, full| (rest * factor, full * factor)))
        })
        .collect()
    };
    let tried = between(0.4, 2.2, 180).filter(|factor| (factor - 1.0).abs() > NEAR);
    let Some((factor, _)) = best(tried, |factor| readings.misfit(&scaled(factor))) else {
        return Vec::new();
    };
    let usual = USUAL
        .iter()
        .find(|usual| (factor / **usual - 1.0).abs() < 0.03);
    let volts = evidence.profile.supply_mv / 1000.0 * factor;
    vec![
        readings
            .suspect(
                evidence,
                CauseWord::WrongSupply,
                -4.0,
                Place::default(),
                &scaled(factor),
            )
            .expects(usual.is_some(), [2.0, 0.0], || {
                format!(
                    "everything reads {} times what it should, as with {} V instead of {} V",
                    fixed(factor, 2),
                    fixed(volts, 1),
                    fixed(evidence.profile.supply_mv / 1000.0, 1)
                )
            })
            .acts(if factor < 1.0 {
                ActsTowards::Zero
            } else {
                ActsTowards::Full
            })
            .detailed(fixed(factor, 2)),
    ]
}
