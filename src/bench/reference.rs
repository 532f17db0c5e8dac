//! Levels against another reference than the one that the profile is for.

use crate::capture::BoardMeta;
use crate::profile::Profile;
use measure::Measured;
use measure::figure::FigureName;
use measure::judge::{Finding, Outcome};

const LEVELS: [FigureName; 5] = [
    FigureName::RestCode,
    FigureName::FullCode,
    FigureName::RestRatio,
    FigureName::FullRatio,
    FigureName::SpanCode,
];

/// Leaves levels open where the profile's wiring states a reference and the board has another: its limits say nothing of these codes.
pub(super) fn tell_of_another(
    profile: &Profile,
    board: &BoardMeta,
    measured: &Measured,
    findings: &mut [Finding],
) {
    let judged = |finding: &&mut Finding| {
        matches!(finding.outcome, Outcome::Pass | Outcome::Fail) && LEVELS.contains(&finding.figure)
    };
    for finding in findings.iter_mut().filter(judged) {
        let mut parts = measured.channels.iter();
        let part = parts.find(|part| part.name == finding.channel);
        let stated = part.and_then(|part| profile.other_reference_mv(part.track, board.vref_mv));
        if let Some(stated) = stated {
            finding.outcome = Outcome::Undecided;
            finding.reason = format!(
                "the profile is for a board whose reference is {stated} mV, this recording is against {} mV: its limits say nothing of \
                 these codes",
                board.vref_mv
            );
            finding.advice = Some(
                "record it with the machine's board, or state its reference: in the recording with --vref-mv, in the profile as \
                 `reference_mv`"
                    .to_owned(),
            );
        }
    }
}
