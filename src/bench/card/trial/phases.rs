//! What each trial asks for, in words and amounts.

use crate::bench::card::StepProgress;
use measure::units::{Step, Trial};

/// Seconds of moving the plug: at a loss in two seconds, which a loose one has at least, one would be missed in 20 (Poisson).
const PLUG_S: f64 = 6.0;
/// Seconds on the battery: of a line, two hundred periods.
const BATTERY_S: f64 = 4.0;
/// Presses with the wires swapped.
const PRESSES: f64 = 2.0;
/// Strokes: what is worn shows in most of six.
const STROKES: f64 = 6.0;

/// The steps of a trial.
pub(super) fn phases(trial: Trial) -> StepProgress {
    let (step, want, unit, instruction) = match trial {
        Trial::Slower => (
            Step::Strokes,
            STROKES,
            "strokes",
            "Move it from end to end and back once more, slower: two seconds each way.",
        ),
        Trial::Plug => (
            Step::Shake,
            PLUG_S,
            "s",
            "Let it go. Wiggle only the plug; leave the cable alone.",
        ),
        Trial::Battery => (
            Step::Rest,
            BATTERY_S,
            "s",
            "Pull the laptop's charger, so that it runs on its battery. Then leave it alone.",
        ),
        Trial::Swap => (
            Step::Full,
            PRESSES,
            "presses",
            "Swap the two signal wires at the board. Then press fully twice, a second each time.",
        ),
    };
    StepProgress {
        trial: Some(trial),
        ..StepProgress::waiting(step, want, unit, instruction)
    }
}

/// What is said while nobody has answered whether to try it.
pub(super) fn offered(trial: Trial) -> &'static str {
    match trial {
        Trial::Slower => "two causes fit: six slow strokes would tell them apart",
        Trial::Plug => "two causes fit: wiggling only the plug would tell them apart",
        Trial::Battery => {
            "two causes fit: a few seconds on the laptop's battery would tell them apart"
        }
        Trial::Swap => "two causes fit: swapping the two signal wires would tell them apart",
    }
}
