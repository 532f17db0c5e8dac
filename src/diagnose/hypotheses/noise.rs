//! Noise of one signal in hold: how much, and what it is made of.

use crate::diagnose::evidence::{Evidence, Signal};
use crate::diagnose::weigh::Symptom;
use measure::figure::{FigureName, Figures};

/// Findings that noise anywhere breaks.
pub(super) const OF_NOISE: [FigureName; 6] = [
    FigureName::NoiseRestRms,
    FigureName::NoiseFullRms,
    FigureName::NoisePeakToPeak,
    FigureName::NoiseFreeBits,
    FigureName::StrokeNoiseRms,
    FigureName::Smoothness,
];

/// The larger noise of rest and full, codes.
pub(super) fn rms(signal: &Signal<'_>) -> Option<f64> {
    loudest(signal.figures())
}

/// The same of the figures of a signal.
pub(in crate::diagnose) fn loudest(figures: &Figures) -> Option<f64> {
    let both = [FigureName::NoiseRestRms, FigureName::NoiseFullRms];
    let values = both.into_iter().filter_map(|name| figures.value(name));
    values.reduce(f64::max)
}

/// Peak to peak over rms: six to seven for noise, much more for spikes.
pub(super) fn crest(signal: &Signal<'_>) -> Option<f64> {
    let rms = rms(signal).filter(|rms| *rms > 0.0)?;
    Some(signal.value(FigureName::NoisePeakToPeak)? / rms)
}

/// The lines of the mains and of their rectifiers, hertz and figure.
pub(in crate::diagnose) const LINES: [(u32, FigureName); 4] = [
    (50, FigureName::Hum50Rms),
    (60, FigureName::Hum60Rms),
    (100, FigureName::Hum100Rms),
    (120, FigureName::Hum120Rms),
];

/// The strongest line: hertz, rms in codes, its share of the noise's power.
pub(in crate::diagnose) fn hum(signal: &Signal<'_>) -> Option<(u32, f64, f64)> {
    strongest_line(signal.figures())
}

/// The same of the figures of a signal.
pub(in crate::diagnose) fn strongest_line(figures: &Figures) -> Option<(u32, f64, f64)> {
    let noise = loudest(figures).filter(|rms| *rms > 0.0)?;
    let lines = LINES
        .into_iter()
        .filter_map(|(hz, name)| Some((hz, figures.value(name)?)));
    let (hz, rms) = lines.max_by(|a, b| a.1.total_cmp(&b.1))?;
    Some((hz, rms, (rms / noise).powi(2).min(1.0)))
}

/// Spikes a minute.
pub(super) fn spikes(signal: &Signal<'_>) -> Option<f64> {
    signal.value(FigureName::SpikesPerMin)
}

/// The broken finding about spikes of a signal.
pub(super) fn spikes_failed(evidence: &Evidence<'_>, signal: &Signal<'_>) -> Vec<Symptom> {
    evidence.failed(signal.name, &[FigureName::SpikesPerMin])
}

/// The failed findings about noise of a signal.
pub(super) fn failed(evidence: &Evidence<'_>, signal: &Signal<'_>) -> Vec<Symptom> {
    evidence.failed(signal.name, &OF_NOISE)
}
