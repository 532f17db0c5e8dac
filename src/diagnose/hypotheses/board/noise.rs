//! Board noise: the board's own input, tied to ground or reference, is as noisy as the signal.

use super::super::noise;
use crate::diagnose::evidence::Evidence;
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion};
use measure::figure::FigureName;
use measure::figure::numbers::four_digits;
use measure::units::maths;

pub(super) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let signals = evidence.signals.iter();
    let noisy = signals.filter_map(|signal| {
        let explained = noise::failed(evidence, signal);
        let own = signal.value(FigureName::BoardNoiseRms)?;
        let all = noise::rms(signal).filter(|rms| *rms > 0.0)?;
        (!explained.is_empty()).then_some((own, all, explained))
    });
    let noisy: Vec<_> = noisy.collect();
    let share = |own: f64, all: f64| (own / all).powi(2).min(1.0);
    let Some((own, all)) = noisy
        .iter()
        .map(|(own, all, _)| (*own, *all))
        .min_by(|a, b| share(a.0, a.1).total_cmp(&share(b.0, b.1)))
    else {
        return Vec::new();
    };
    let share = share(own, all);
    let weight = maths::ln(share / (1.0 - share).max(1e-2)) + 1.5;
    let explained = noisy.into_iter().flat_map(|(_, _, explained)| explained);
    vec![
        Suspicion::new(CauseWord::BoardNoise, 0.0, Place::default())
            .weighs(weight.clamp(-5.0, 5.0), || {
                format!(
                    "the board alone, its input tied, has {} of the {} codes of noise",
                    four_digits(own),
                    four_digits(all)
                )
            })
            .explains(explained)
            .acts(ActsTowards::Either),
    ]
}
