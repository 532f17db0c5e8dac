//! Rest and full taken the wrong way round: where the control stands when it was let go tells.

use crate::diagnose::ends_exchanged;
use crate::profile::Profile;
use measure::Recording;
use measure::figure::FigureName;
use measure::judge::{Finding, Outcome};
use measure::units::Step;

/// What rests on which end is which.
const OF_ENDS: [FigureName; 8] = [
    FigureName::RestCode,
    FigureName::RestRatio,
    FigureName::FullCode,
    FigureName::FullRatio,
    FigureName::ReturnScatter,
    FigureName::ReturnRange,
    FigureName::ReleaseTime,
    FigureName::RestCreep,
];

const ADVICE: &str = "rest and full look exchanged: take the recording again, hands off it for rest, pressed for full";

/// Leaves what rests on the ends open, where a control that comes back by itself stands at its "full" when let go.
pub(super) fn tell_of_exchanged_ends(
    recording: &Recording<'_>,
    profile: &Profile,
    findings: &mut [Finding],
) {
    if !profile.card.contains(&Step::Release) {
        return;
    }
    let exchanged = |name: &str| {
        let mut channels = recording.channels.iter();
        let channel = channels.find(|channel| channel.name == name);
        channel.is_some_and(|channel| ends_exchanged(recording, channel.codes))
    };
    for finding in findings.iter_mut() {
        let of_ends = OF_ENDS.contains(&finding.figure) && finding.outcome != Outcome::NotMeasured;
        if of_ends && exchanged(&finding.channel) {
            finding.outcome = Outcome::Undecided;
            finding.reason = format!(
                "let go, after each release and while the cable was moved, it stands where full was recorded: {}",
                finding.reason
            );
            finding.advice = Some(ADVICE.to_owned());
        }
    }
}
