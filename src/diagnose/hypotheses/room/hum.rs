//! Mains hum: most of the noise's power is in a line of the mains.

use super::super::noise;
use crate::diagnose::evidence::Evidence;
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion, Symptom};
use measure::figure::FigureName;
use measure::figure::numbers::{fixed, four_digits};
use measure::units::maths;

/// What a line on top of the signal also moves.
const ALSO: [FigureName; 3] = [
    FigureName::ReturnScatter,
    FigureName::ReturnRange,
    FigureName::DriftPerMin,
];

pub(in crate::diagnose::hypotheses) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let signals = evidence.signals.iter().enumerate();
    let humming = signals.filter_map(|(at, signal)| {
        let (hz, rms, share) = noise::hum(signal)?;
        let explained = noise::failed(evidence, signal);
        (!explained.is_empty() && share > 0.3).then_some((at, signal, hz, rms, share, explained))
    });
    let humming: Vec<_> = humming.collect();
    let Some((at, signal, hz, rms, share, _)) = humming.iter().max_by(|a, b| a.4.total_cmp(&b.4))
    else {
        return Vec::new();
    };
    let many = humming.len() > 1;
    let explained: Vec<Symptom> = humming
        .iter()
        .flat_map(|(_, signal, .., explained)| {
            let also = if *share > 0.8 {
                evidence.failed(signal.name, &ALSO)
            } else {
                Vec::new()
            };
            explained.iter().copied().chain(also)
        })
        .collect();
    let place = if many {
        Place::default()
    } else {
        Place::channel(*at)
    };
    // Twice the line over the rest of the noise, in amplitude, is a power of four to one: hum beyond doubt.
    let weight = maths::ln(share / (1.0 - share).max(1e-3)) + 1.5;
    let noise = noise::rms(signal).unwrap_or_default();
    vec![
        Suspicion::new(CauseWord::MainsHum, 0.0, place)
            .weighs(weight.clamp(-3.0, 7.0), || {
                format!(
                    "{} of {} codes of noise are {hz} Hz",
                    four_digits(*rms),
                    fixed(noise, 1)
                )
            })
            .expects(many.then_some(true), [0.5, 0.0], || {
                "on both tracks".to_owned()
            })
            .explains(explained)
            .acts(ActsTowards::Either)
            .detailed(format!("{hz} Hz")),
    ]
}
