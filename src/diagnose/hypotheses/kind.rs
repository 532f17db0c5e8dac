//! Wrong profile: it is good, as another kind of control than it was checked as, or under another pull-up.

use super::ends::{Prediction, Readings, best};
use crate::diagnose::evidence::Evidence;
use crate::diagnose::predicted::{Band, TrackModel};
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion};
use crate::profile::{self, Profile};
use crate::wiring::Network;
use measure::figure::FigureName;
use measure::figure::numbers::four_digits;
use measure::travel::resistance_share;
use measure::units::maths;

/// Two voltages this near to each other, as a share, are the same reference.
const SAME_VOLTS: f64 = 0.05;
/// Resistors that a workshop has, ohm (E6, IEC 60063); one this near to the stated one, as a share, is that one.
const PULL_UPS: [f64; 11] = [
    1e3, 1.5e3, 2.2e3, 3.3e3, 4.7e3, 6.8e3, 10e3, 15e3, 22e3, 33e3, 47e3,
];
const SAME_OHMS: f64 = 0.2;
/// Findings that another pull-up breaks.
const OF_ENDS: [FigureName; 5] = [
    FigureName::RestRatio,
    FigureName::RestCode,
    FigureName::FullRatio,
    FigureName::FullCode,
    FigureName::SpanCode,
];

pub(super) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    if evidence.findings.is_empty() || evidence.signals.is_empty() {
        return Vec::new();
    }
    let readings = Readings::of(evidence);
    let others = profile::BUILT_IN.iter().filter_map(|(word, text)| {
        let other = Profile::from_json(text).ok()?;
        (other.name != evidence.profile.name).then(|| as_other(evidence, &readings, word, &other))
    });
    let best = others
        .flatten()
        .max_by(|a: &Suspicion, b| a.score.total_cmp(&b.score));
    best.into_iter()
        .chain(under_another_pull_up(evidence, &readings))
        .collect()
}

/// A rheostat under another pull-up than its profile states: at every travel `r / (1 - r)`, the track over the pull-up, is other by one factor.
fn under_another_pull_up(evidence: &Evidence<'_>, readings: &Readings) -> Option<Suspicion> {
    let stated: Vec<Option<f64>> = evidence
        .signals
        .iter()
        .map(|signal| {
            let wiring = evidence.profile.tracks.get(&signal.track)?.wiring?;
            match wiring.network {
                Network::Rheostat { pull_up_ohm, .. } => Some(pull_up_ohm),
                _ => None,
            }
        })
        .collect();
    let first = stated.iter().flatten().next()?;
    let under = |ohm: f64| -> Vec<Prediction> {
        let each = readings.good.iter().zip(&stated);
        each.map(|(ends, stated)| {
            let moved = |band: Band| {
                stated.map_or(band, |stated| {
                    band.mapped(|ratio| over_another(ratio, stated / ohm))
                })
            };
            Prediction::Ends(ends.map(|end| end.map(moved)))
        })
        .collect()
    };
    let usual = PULL_UPS.iter().copied();
    let others = usual.filter(|ohm| (ohm / first - 1.0).abs() > SAME_OHMS);
    let (ohm, _) = best(others, |ohm| readings.misfit(&under(ohm)))?;
    let suspicion = readings.suspect(
        evidence,
        CauseWord::WrongProfile,
        -1.5,
        Place::default(),
        &under(ohm),
    );
    let ohms = format!("{} kohm", four_digits(ohm / 1000.0));
    let signals = evidence.signals.iter().zip(&stated);
    let under_it = signals.filter(|(_, stated)| stated.is_some());
    let ends = under_it.flat_map(|(signal, _)| evidence.failed(signal.name, &OF_ENDS));
    let suspicion = suspicion.explains(ends.collect::<Vec<_>>());
    Some(suspicion.acts(ActsTowards::Either).detailed(ohms))
}

/// What a divider reads when its pull-up is smaller by a factor.
fn over_another(ratio: f64, factor: f64) -> f64 {
    resistance_share(ratio, factor).map_or(1.0, |over| over / (1.0 + over))
}

fn as_other(
    evidence: &Evidence<'_>,
    readings: &Readings,
    word: &str,
    other: &Profile,
) -> Option<Suspicion> {
    let bits = maths::log2(evidence.codes).round();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // bits of an ADC
    let models = TrackModel::all(other, bits as u32);
    let expected: Option<Vec<Prediction>> = evidence
        .signals
        .iter()
        .enumerate()
        .map(|(at, signal)| {
            // Checked as one track, both signals are of the first: as the other kind they are of one each.
            let each = models.len() == evidence.signals.len();
            let model = match models.get(at).filter(|_| each) {
                Some(model) => model,
                None => models.iter().find(|model| model.track == signal.track)?,
            };
            Some(Prediction::Ends(model.good))
        })
        .collect();
    let expected = expected?;
    let tracks = |profile: &Profile| profile.tracks.len() == evidence.signals.len();
    let own_volts = same_volts(evidence, evidence.profile);
    let other_volts = same_volts(evidence, other);
    let recorded = evidence
        .recorded_as
        .map(|name| name == word || name == other.name);
    let signals = evidence.signals.iter();
    let everything: Vec<_> = signals
        .flat_map(|signal| evidence.all_failed(signal.name))
        .collect();
    Some(
        readings
            .suspect(
                evidence,
                CauseWord::WrongProfile,
                -4.5,
                Place::default(),
                &expected,
            )
            .expects(
                !tracks(evidence.profile) && tracks(other),
                [5.0, 0.0],
                || {
                    format!(
                        "{} signals came, where this kind has {}",
                        evidence.signals.len(),
                        evidence.profile.tracks.len()
                    )
                },
            )
            .expects(tracks(other), [0.0, 5.0], String::new)
            .expects(recorded, [4.0, 0.0], || {
                "it was recorded as that kind".to_owned()
            })
            .expects(!own_volts && other_volts, [3.0, 0.0], || {
                "its board has the reference of that kind".to_owned()
            })
            .expects(own_volts && !other_volts, [0.0, 4.0], String::new)
            .explains(everything)
            .acts(ActsTowards::None)
            .detailed(other.name.clone()),
    )
}

/// Whether the board's reference is the one that a profile takes for granted.
fn same_volts(evidence: &Evidence<'_>, profile: &Profile) -> bool {
    let mut tracks = profile.tracks.values();
    let reference = tracks.find_map(|part| part.wiring?.reference);
    let stated = reference.map_or(profile.supply_mv, |reference| reference.mv);
    (evidence.vref_mv / stated - 1.0).abs() < SAME_VOLTS
}

#[cfg(test)]
mod tests {
    use super::over_another;

    /// By Ohm's law: 10 kohm over 4.7 kohm reads 10/14.7, over 10 kohm a half.
    #[test]
    fn a_divider_under_another_pull_up() {
        assert!((over_another(10.0 / 14.7, 0.47) - 0.5).abs() < 1e-12);
        assert!(over_another(0.0, 0.47).abs() < 1e-12);
        assert!(over_another(1.0, 0.47) > 0.999_999);
    }
}
