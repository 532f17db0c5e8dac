//! Slow return: it comes back to its place, but late.

use crate::diagnose::evidence::Evidence;
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion};
use measure::figure::FigureName;
use measure::figure::numbers::fixed;

const OF_RETURN: [FigureName; 2] = [FigureName::ReturnScatter, FigureName::ReturnRange];

pub(in crate::diagnose::hypotheses) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let slow = evidence
        .signals
        .iter()
        .enumerate()
        .find_map(|(at, signal)| {
            let explained = evidence.failed(signal.name, &[FigureName::ReleaseTime]);
            (!explained.is_empty()).then_some((at, signal, explained))
        });
    let Some((at, signal, explained)) = slow else {
        return Vec::new();
    };
    let same_place = evidence.failed(signal.name, &OF_RETURN).is_empty();
    let seconds = signal.value(FigureName::ReleaseTime);
    vec![
        Suspicion::new(CauseWord::SlowReturn, 1.5, Place::channel(at))
            .weighs(1.5, || {
                let s = seconds.map_or_else(String::new, |s| fixed(s, 2));
                format!("let go, it takes {s} s to come back")
            })
            .expects(same_place, [1.0, 0.5], || {
                "it comes back to the same place".to_owned()
            })
            .explains(explained)
            // What is still on its way has not come to rest.
            .explains(evidence.failed(signal.name, &OF_RETURN))
            .acts(ActsTowards::Full),
    ]
}
