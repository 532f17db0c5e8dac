//! Words for the board that measures, and for a part that was checked as another kind.

use super::about::{About, Explanation};
use crate::diagnose::types::CauseWord;

/// What tells uneven codes of a board from wear.
pub(super) const ON_ANOTHER_BOARD: &str = "Repeat the strokes on another board: wear stays with the part, uneven codes stay with the board.";

pub(super) fn explain(about: &About<'_>) -> Explanation {
    let noun = about.noun();
    match about.suspicion.word {
        CauseWord::BoardNoise => Explanation::new(
            format!("the board itself is noisy, not the {noun}"),
            &[
                "Run the laptop on its battery, use a short USB cable, and measure again.",
                "Put 100 nF from the input to ground at the board.",
                "Measure with another board.",
            ],
            "Tie the board's input to ground (the ground step): the noise that is left is the board's.",
        ),
        CauseWord::BoardNonlinear if about.suspicion.place.travel.is_some() => Explanation::new(
            format!(
                "the board may be uneven at {} of travel, or the track worn there",
                about.detail()
            ),
            &[
                &format!("Measure the {noun} on another board."),
                "Do not drive with it before: a worn track may look like this.",
            ],
            ON_ANOTHER_BOARD,
        ),
        CauseWord::BoardNonlinear => Explanation::new(
            "the board reads its own ends wrong".to_owned(),
            &[
                "Is the reference the one that the board states? Measure it.",
                "Do the ground and the reference step again.",
                &format!("Measure the {noun} with another board."),
            ],
            "Tie the board's input to ground and to its reference: it must read 0 and full scale.",
        ),
        _ if about.detail().ends_with(" kohm") => Explanation::new(
            format!(
                "the pull-up reads like {}, not like the one of the profile",
                about.detail()
            ),
            &[
                "Measure the pull-up at the board, power off and the control unplugged.",
                "Fit the one that the profile states and record again; or state yours: `pedalproof profile write` with `--pull-up-ohm`.",
            ],
            format!(
                "Measure the pull-up: about {}, or what the profile states?",
                about.detail()
            ),
        ),
        _ => Explanation::new(
            format!("this looks like another kind: {}", about.detail()),
            &[&format!(
                "Choose \"{}\" and assess it again: the recording is still good.",
                about.detail()
            )],
            "Assess it as the other kind and see whether all checks pass.",
        ),
    }
}
