//! Worn track: noise that comes back at the same place, stroke after stroke, and nowhere else.

use super::super::noise;
use crate::diagnose::evidence::{Evidence, Signal};
use crate::diagnose::losses::{self, Common};
use crate::diagnose::predicted::TrackModel;
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion, Symptom};
use crate::diagnose::words::{each_place, times};
use measure::figure::FigureName;
use measure::figure::numbers::fixed;
use measure::{WornZone, shared_zones};

/// Findings that a worn place breaks.
const OF_WEAR: [FigureName; 3] = [
    FigureName::WornZonesCount,
    FigureName::Smoothness,
    FigureName::StrokeNoiseRms,
];

pub(in crate::diagnose::hypotheses) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let signals = evidence.signals.iter().enumerate();
    signals
        .filter_map(|(at, signal)| match &signal.measured.worn_zones[..] {
            [] => bumpy(evidence, at, signal),
            zones => Some(worn(evidence, at, signal, zones)),
        })
        .collect()
}

fn worn(evidence: &Evidence<'_>, at: usize, signal: &Signal<'_>, zones: &[WornZone]) -> Suspicion {
    let from = zones.iter().map(|zone| zone.from_pct).fold(100.0, f64::min);
    let to = zones.iter().map(|zone| zone.to_pct).fold(0.0, f64::max);
    let loudest = zones
        .iter()
        .max_by(|a, b| a.noise_ratio.total_cmp(&b.noise_ratio));
    let steady = loudest.map(|zone| 3 * zone.strokes_seen >= 2 * zone.strokes);
    let places: Vec<(f64, f64)> = zones.iter().map(|z| (z.from_pct, z.to_pct)).collect();
    let partner = evidence.partner(at).map(|other| &evidence.signals[other]);
    let alone = partner
        .filter(|partner| partner.measured.map.is_some())
        .map(|partner| shared_zones(zones, &partner.measured.worn_zones).is_empty());
    let quiet = noise::rms(signal).zip(signal.measured.map.as_ref());
    let quiet = quiet.map(|(rms, map)| rms <= 1.5 * map.overall);
    let surely = zones.len() > signal.measured.open_zones.len();
    Suspicion::new(CauseWord::WornTrack, 1.5, Place::at(at, (from, to)))
        .expects(surely, [0.0, 1.0], String::new)
        .expects(steady, [2.0, 2.0], || {
            loudest.map_or_else(String::new, |zone| {
                format!(
                    "{} the noise at {} of travel, in {} of {} strokes",
                    times(zone.noise_ratio),
                    each_place(&[(zone.from_pct, zone.to_pct)]),
                    zone.strokes_seen,
                    zone.strokes
                )
            })
        })
        .expects(alone, [1.0, 1.0], || {
            let other = partner.map_or("", |partner| partner.name);
            format!("{other} is quiet there")
        })
        .expects(quiet, [0.5, 1.0], || {
            "it is quiet when it stands still".to_owned()
        })
        .explains(evidence.failed(signal.name, &OF_WEAR))
        .explains(worn_ends(evidence, signal, zones))
        .explains(lost_there(evidence, signal, zones))
        .acts(contact(signal))
        .detailed(each_place(&places))
}

/// A bump in the track without a zone of noise.
fn bumpy(evidence: &Evidence<'_>, at: usize, signal: &Signal<'_>) -> Option<Suspicion> {
    let explained = evidence.failed(signal.name, &[FigureName::Smoothness]);
    let smoothness = signal.value(FigureName::Smoothness)?;
    let quiet = noise::failed(evidence, signal).len() == explained.len();
    (!explained.is_empty()).then(|| {
        Suspicion::new(CauseWord::WornTrack, -0.5, Place::channel(at))
            .expects(quiet, [2.0, 2.0], || {
                format!(
                    "within 1 % of travel it jumps by {} % of its range, and is quiet at rest",
                    fixed(smoothness, 1)
                )
            })
            .explains(explained)
            .acts(contact(signal))
    })
}

/// Noise in hold, where the worn place reaches that end.
fn worn_ends(evidence: &Evidence<'_>, signal: &Signal<'_>, zones: &[WornZone]) -> Vec<Symptom> {
    let mut figures = Vec::new();
    if zones.iter().any(|zone| zone.from_pct <= 5.0) {
        figures.push(FigureName::NoiseRestRms);
    }
    if zones.iter().any(|zone| zone.to_pct >= 95.0) {
        figures.push(FigureName::NoiseFullRms);
    }
    evidence.failed(signal.name, &figures)
}

/// Losses of contact within a worn place.
fn lost_there(evidence: &Evidence<'_>, signal: &Signal<'_>, zones: &[WornZone]) -> Vec<Symptom> {
    let inside = |from: f64, to: f64| {
        let mut zones = zones.iter();
        zones.any(|zone| zone.from_pct - 2.0 <= from && to <= zone.to_pct + 2.0)
    };
    let groups = losses::groups(signal);
    let there = groups
        .iter()
        .filter(|group| matches!(group.common, Common::Place(from, to) if inside(from, to)));
    there
        .filter_map(|group| losses::symptom(evidence, signal.name, group))
        .collect()
}

fn contact(signal: &Signal<'_>) -> ActsTowards {
    let model = signal.model.as_ref();
    model.map_or(ActsTowards::Either, TrackModel::contact_lost)
}
