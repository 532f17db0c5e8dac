//! Board non-linear: tied to ground or to its reference, the board's input does not read its own ends.

use super::super::ends::{Readings, Told, mapped};
use crate::diagnose::evidence::Evidence;
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion};
use measure::figure::FigureName;
use measure::figure::numbers::fixed;

/// Findings that a board's own error moves.
const MOVED: [FigureName; 13] = [
    FigureName::RestRatio,
    FigureName::RestCode,
    FigureName::FullRatio,
    FigureName::FullCode,
    FigureName::SpanCode,
    FigureName::LinearityIndependent,
    FigureName::LinearityBestFit,
    FigureName::LinearityTerminal,
    FigureName::LinearityZeroBased,
    FigureName::TrackGain,
    FigureName::TrackOffset,
    FigureName::TrackDisagreement,
    FigureName::RatiometricError,
];
/// Codes of ten bits that a good board's end may be off: a common data-sheet figure for offset and gain.
const GOOD: f64 = 4.0 / 1024.0;

pub(super) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let value = |name| {
        let mut signals = evidence.signals.iter();
        signals.find_map(|signal| signal.value(name))
    };
    let low = value(FigureName::BoardLowCode);
    let high = value(FigureName::BoardHighCode).map(|high| evidence.codes - 1.0 - high);
    let worst = [low, high].into_iter().flatten().reduce(f64::max);
    let Some(worst) = worst.filter(|worst| *worst > GOOD * evidence.codes) else {
        return Vec::new();
    };
    let signals = evidence.signals.iter().map(|signal| signal.name);
    let pairs = evidence.pairs.iter().map(|pair| pair.name.as_str());
    let explained = signals
        .chain(pairs)
        .flat_map(|name| evidence.failed(name, &MOVED));
    // A good part, read between the board's own ends.
    let bottom = low.unwrap_or(0.0) / evidence.codes;
    let top = 1.0 - high.unwrap_or(0.0) / evidence.codes;
    let seen = |ratio: f64| bottom + ratio * (top - bottom);
    let readings = Readings::of(evidence);
    let good = readings.good.iter();
    let told: Vec<Told> = good
        .map(|ends| Told::Ends(mapped(*ends, |rest, full| (seen(rest), seen(full)))))
        .collect();
    vec![
        readings
            .suspect(
                evidence,
                CauseWord::BoardNonlinear,
                -1.0,
                Place::default(),
                &told,
            )
            .weighs(5.0, || {
                format!(
                    "tied to its own end, the board's input is {} codes off",
                    fixed(worst, 0)
                )
            })
            .explains(explained)
            .acts(ActsTowards::Either),
    ]
}
