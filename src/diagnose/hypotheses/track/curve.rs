//! Bent curve: right at both ends, not straight between them, both ways alike.

use crate::diagnose::evidence::Evidence;
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion};
use measure::figure::FigureName;
use measure::figure::numbers::fixed;

const OF_LINE: [FigureName; 4] = [
    FigureName::LinearityIndependent,
    FigureName::LinearityBestFit,
    FigureName::LinearityTerminal,
    FigureName::LinearityZeroBased,
];

pub(in crate::diagnose::hypotheses) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let signals = evidence.signals.iter().enumerate();
    signals
        .filter_map(|(at, signal)| {
            let explained = evidence.failed(signal.name, &OF_LINE);
            let bent = signal.value(FigureName::LinearityIndependent);
            let bent = bent.or(signal.value(FigureName::LinearityBestFit));
            let loop_pct = signal.value(FigureName::Hysteresis);
            let both_ways = bent.zip(loop_pct).map(|(bent, loop_pct)| loop_pct < bent);
            (!explained.is_empty()).then(|| {
                Suspicion::new(CauseWord::BentCurve, 1.5, Place::channel(at))
                    .weighs(1.5, || {
                        let bent = bent.map_or_else(String::new, |bent| fixed(bent, 1));
                        format!("up to {bent} % of its range off the straight line")
                    })
                    .expects(both_ways, [1.0, 2.0], || "up and down alike".to_owned())
                    .explains(explained)
                    .acts(ActsTowards::Either)
            })
        })
        .collect()
}
