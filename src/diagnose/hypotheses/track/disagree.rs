//! Tracks disagree: each is right at its ends, and yet they do not say the same between.

use crate::diagnose::evidence::Evidence;
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion};
use measure::figure::FigureName;
use measure::figure::numbers::fixed;

const OF_PAIR: [FigureName; 4] = [
    FigureName::TrackGain,
    FigureName::TrackOffset,
    FigureName::TrackDisagreement,
    FigureName::TrackLag,
];
const ENDS: [FigureName; 4] = [
    FigureName::RestRatio,
    FigureName::FullRatio,
    FigureName::RestCode,
    FigureName::FullCode,
];

pub(in crate::diagnose::hypotheses) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let pairs = evidence.pairs.iter();
    pairs
        .filter_map(|pair| {
            let explained = evidence.failed(&pair.name, &OF_PAIR);
            let apart = pair.measured.figures.value(FigureName::TrackDisagreement);
            let mut signals = pair.signals.iter().map(|at| evidence.signals[*at].name);
            let ends = signals.all(|name| evidence.failed(name, &ENDS).is_empty());
            (!explained.is_empty()).then(|| {
                let place = Place {
                    channels: pair.signals.to_vec(),
                    travel: None,
                };
                Suspicion::new(CauseWord::TracksDisagree, 0.0, place)
                    .weighs(1.0, || {
                        let apart = apart.map_or_else(String::new, |apart| fixed(apart, 1));
                        format!("the tracks are up to {apart} % of travel apart")
                    })
                    .expects(ends, [2.0, 1.0], || {
                        "both are right at their ends".to_owned()
                    })
                    .explains(explained)
                    .acts(ActsTowards::Either)
            })
        })
        .collect()
}
