//! Contact that was lost while the cable was moved, in plain words: the plug, not the track; and what looks like a loss and is a bounce.
//!
//! Belongs here: which losses fell into the shake step. Does not belong here: what a loss is (`measure`).

use crate::capture::Capture;
use crate::profile::Profile;
use crate::record::Assessment;
use measure::Measured;
use measure::figure::FigureName;
use measure::figure::numbers::fixed;
use measure::judge::{Finding, Outcome};
use measure::units::{Passage, Step, seconds_from_us};

const ADVICE: &str =
    "fix the plug, the cable or its soldering, or take another one, and measure again";

/// Bounces from this height on are named, % of travel.
const NAMED_PCT: f64 = 4.0;

/// Says beside the count of dropouts that the control bounces off its stop.
pub(super) fn tell_of_bounces(measured: &Measured, findings: &mut [Finding]) {
    for finding in findings {
        let mut channels = measured.channels.iter();
        let part = channels.find(|part| part.name == finding.channel);
        let high = part.and_then(|part| part.bounce_pct);
        if let Some(high) = high.filter(|high| *high >= NAMED_PCT)
            && finding.figure == FigureName::DropoutsCount
        {
            finding.reason += &*format!(
                "; let go, it bounces {} % of travel off its stop: no contact loss",
                fixed(high, 0)
            );
        }
    }
}

/// Says of dropouts that stay open because samples are missing where contact may have been lost.
pub(super) fn tell_of_silence(measured: &Measured, findings: &mut [Finding]) {
    let open = |finding: &&mut Finding| {
        finding.figure == FigureName::DropoutsCount && finding.outcome == Outcome::Undecided
    };
    for finding in findings.iter_mut().filter(open) {
        let mut channels = measured.channels.iter();
        let part = channels.find(|part| part.name == finding.channel);
        let silent = part.map_or(0, |part| part.silences);
        if silent > 0 {
            finding.reason = format!(
                "{silent} times samples are missing at one place of the travel, while it moves or while the cable is shaken: contact may \
                 have been lost there"
            );
            finding.advice = Some(
                "see what the board prints there: with the contact open it should print an end of the scale, not nothing; mend that and \
                 record again"
                    .to_owned(),
            );
        }
    }
}

/// Says beside the count of dropouts that the cable was not moved, where the profile's card asks for it; of a file nobody can know.
pub(super) fn tell_of_no_shake(capture: &Capture, profile: &Profile, findings: &mut [Finding]) {
    let shaken = |passage: &Passage| passage.step == Step::Shake;
    let imported = capture.meta.imported.is_some();
    let asked = imported || profile.card.contains(&Step::Shake);
    if !asked || capture.passages.iter().any(shaken) {
        return;
    }
    let why = if imported {
        "a file shows no shake"
    } else {
        "record `shake` as well"
    };
    for finding in findings {
        if finding.figure == FigureName::DropoutsCount && finding.outcome != Outcome::NotMeasured {
            finding.reason += &*format!("; plug and cable were not tested: {why}");
        }
    }
}

/// Says of failed dropouts how many of them came while the cable was moved.
pub(super) fn advise_on_plug(assessment: &mut Assessment, capture: &Capture) {
    let first_us = capture.t_us.first().copied().unwrap_or_default();
    let at = |sample: usize| {
        let t_us = capture.t_us.get(sample).copied().unwrap_or(u64::MAX);
        seconds_from_us(t_us.saturating_sub(first_us))
    };
    let shakes: Vec<(f64, f64)> = capture
        .passages
        .iter()
        .filter(|passage| passage.step == Step::Shake)
        .map(|passage| (at(passage.range.start), at(passage.range.end - 1)))
        .collect();
    for finding in &mut assessment.findings {
        if finding.figure != FigureName::DropoutsCount || finding.outcome != Outcome::Fail {
            continue;
        }
        let mut channels = assessment.channels.iter();
        let Some((_, part)) = channels.find(|(name, _)| *name == finding.channel) else {
            continue;
        };
        let shaken = |t_s: f64| shakes.iter().any(|(from, to)| (*from..=*to).contains(&t_s));
        let (all, at_plug) = (
            part.dropouts.len(),
            part.dropouts.iter().filter(|d| shaken(d.t_s)).count(),
        );
        if at_plug == 0 {
            continue;
        }
        let plug = if at_plug == all {
            "contact was lost while the cable was moved: the plug or the cable, not the track"
                .to_owned()
        } else {
            format!(
                "{at_plug} of them while the cable was moved: look at the plug and the cable as well"
            )
        };
        finding.reason = format!("{}; {plug}", finding.reason);
        finding.advice = Some(ADVICE.to_owned());
    }
}
