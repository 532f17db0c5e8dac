//! Words for springs, stops and how far it was moved.

use super::about::{About, Explanation};
use crate::diagnose::types::CauseWord;

pub(super) fn explain(about: &About<'_>) -> Explanation {
    let noun = about.noun();
    match about.suspicion.word {
        CauseWord::StickyReturn => Explanation::new(
            format!("the {noun} does not come back to the same place"),
            &[
                "Does a mat, a cable or a washer hold it? Free it, and repeat the releases.",
                "Oil the pivot, look at the return spring, and measure again.",
                "If it is new, send it back: with it the motor may creep after you let go.",
            ],
            "Let it go ten times more, from slow and from fast: dirt changes with it, a bad sensor does not.",
        ),
        CauseWord::SlowReturn => Explanation::new(
            format!("the {noun} comes back too slowly"),
            &[
                "Does a mat, a cable or grease hold it? Free it, and repeat the releases.",
                "Oil the pivot, look at the return spring.",
                "If it is new, send it back: the motor runs on after you let go.",
            ],
            "Let it go again with nothing near it.",
        ),
        CauseWord::ShortTravel => Explanation::new(
            format!("it only goes to {} % of its travel", about.detail()),
            &[
                "Press it all the way and hold, then repeat that step.",
                "Is a carpet, a stop screw or the linkage in its way?",
            ],
            "Press harder and repeat the full step: if it goes further, it was not pressed fully.",
        ),
        _ => {
            let end = about.detail().to_owned();
            Explanation::new(
                format!("the {end} end is not where it should be"),
                &[
                    &format!("Look at the stop and the linkage at the {end} end, and adjust it."),
                    "If it has no stop to adjust, it is another part than the profile asks for: do not fit it.",
                ],
                "Move it by hand against its stop and look whether the reading goes where it should.",
            )
        }
    }
}
