//! Rest and full taken the wrong way round: where the control stands when it was let go tells.

use crate::diagnose::ends_exchanged;
use crate::profile::Profile;
use measure::Recording;
use measure::figure::FigureName;
use measure::judge::{Finding, Outcome};

/// What rests on which end is which.
const OF_ENDS: [FigureName; 9] = [
    FigureName::RestCode,
    FigureName::RestRatio,
    FigureName::FullCode,
    FigureName::FullRatio,
    FigureName::SpanCode,
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
    let Some(when) = ends_exchanged(recording, profile) else {
        return;
    };
    for finding in findings.iter_mut() {
        if OF_ENDS.contains(&finding.figure) && finding.outcome != Outcome::NotMeasured {
            finding.outcome = Outcome::Undecided;
            finding.reason = format!(
                "{when} it stood where full was recorded: {}",
                finding.reason
            );
            finding.advice = Some(ADVICE.to_owned());
        }
    }
}
