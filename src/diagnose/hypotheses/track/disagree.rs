//! Tracks disagree: each is right at its ends, and yet they do not say the same between.

use crate::diagnose::evidence::Evidence;
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion};
use measure::figure::FigureName;
use measure::figure::numbers::fixed;
use measure::judge::Finding;

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
            let of_pair =
                |f: &&Finding| f.channel == pair.name && f.figure == FigureName::TrackDisagreement;
            let limit = evidence.findings.iter().find(of_pair);
            let allowed = limit.and_then(|finding| finding.max).unwrap_or(0.0);
            let mut signals = pair.signals.iter().map(|at| evidence.signals[*at].name);
            let ends = signals.all(|name| evidence.failed(name, &ENDS).is_empty());
            (!explained.is_empty()).then(|| {
                let place = Place {
                    channels: pair.signals.to_vec(),
                    travel: None,
                };
                Suspicion::new(CauseWord::TracksDisagree, 0.0, place)
                    .weighs(1.0, || match apart.filter(|apart| *apart > allowed) {
                        Some(apart) => {
                            format!("the tracks are up to {} % of travel apart", fixed(apart, 1))
                        }
                        None => "the tracks do not go together: see the check below".to_owned(),
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
