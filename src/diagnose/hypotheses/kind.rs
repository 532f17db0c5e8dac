//! Wrong profile: it is good, as another kind of control than it was checked as.

use super::ends::{Prediction, Readings};
use crate::diagnose::evidence::Evidence;
use crate::diagnose::predicted::TrackModel;
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion};
use crate::profile::{self, Profile};
use measure::units::maths;

/// Two voltages this near to each other, as a share, are the same reference.
const SAME_VOLTS: f64 = 0.05;

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
    best.into_iter().collect()
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
