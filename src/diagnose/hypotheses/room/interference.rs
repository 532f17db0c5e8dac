//! Interference: short spikes to both sides, at any place and any time, not to any rail.

use super::super::noise;
use crate::diagnose::evidence::{Evidence, Signal};
use crate::diagnose::losses::{self, Common};
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion};
use measure::Towards;
use measure::figure::numbers::fixed;

/// Peak to peak over rms beyond which there are spikes in it: 7 to 8 are the most that plain noise shows in 10 000 samples.
const SPIKY: f64 = 10.0;
/// Spikes a minute that are more than chance. Common practice, no source.
const OFTEN: f64 = 2.0;

pub(in crate::diagnose::hypotheses) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let signals = evidence.signals.iter().enumerate();
    signals
        .filter_map(|(at, signal)| disturbed(evidence, at, signal))
        .collect()
}

fn disturbed(evidence: &Evidence<'_>, at: usize, signal: &Signal<'_>) -> Option<Suspicion> {
    let groups = losses::groups(signal);
    let mut scattered = groups
        .iter()
        .filter(|group| !matches!(group.common, Common::Place(..) | Common::Arriving(_)));
    let anywhere = groups.iter().find(|group| group.common == Common::Nothing);
    let crest = noise::crest(signal);
    let noisy = noise::failed(evidence, signal);
    let spiky = crest.map(|crest| crest > SPIKY);
    let rate = noise::spikes(signal);
    let often = rate.map(|rate| rate > OFTEN);
    if anywhere.is_none() && spiky != Some(true) && often != Some(true) {
        return None;
    }
    let both_ways = anywhere
        .filter(|group| group.lost.len() > 2)
        .map(|group| !group.one_way());
    let no_rail = anywhere.and_then(|group| losses::mostly_to_the_rail(evidence, signal, group));
    let symptoms = scattered.by_ref();
    let explained = symptoms.filter_map(|group| losses::symptom(evidence, signal.name, group));
    Some(
        Suspicion::new(CauseWord::Interference, -1.0, Place::channel(at))
            .expects(spiky, [2.5, 0.5], || {
                let crest = crest.map_or_else(String::new, |crest| fixed(crest, 0));
                format!("sharp spikes: its peaks are {crest} times its noise")
            })
            .expects(often, [3.0, 0.0], || {
                let rate = rate.map_or_else(String::new, |rate| fixed(rate, 0));
                format!("{rate} spikes a minute, at any place and time")
            })
            .expects(both_ways, [2.5, 1.0], || {
                let [up, down] = [Towards::Supply, Towards::Ground]
                    .map(|towards| anywhere.map_or(0, |group| group.count(towards)));
                format!("{up} up and {down} down, at any place and time")
            })
            .expects(no_rail.map(|rail| !rail), [1.5, 3.0], || {
                "they stop short of where a broken wire would go".to_owned()
            })
            .explains(explained)
            .explains(noise::spikes_failed(evidence, signal))
            .explains(if spiky == Some(true) {
                noisy
            } else {
                Vec::new()
            })
            .acts(ActsTowards::Either),
    )
}
