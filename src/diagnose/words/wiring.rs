//! Words for wires, plugs and supply. A sensor's supply wires are never to be changed over.

use super::about::{About, Explanation};
use crate::diagnose::types::CauseWord;
use measure::figure::numbers::four_digits;

pub(super) fn explain(about: &About<'_>) -> Explanation {
    let (noun, pins, supply) = (about.noun(), about.pins(), about.supply());
    match about.suspicion.word {
        CauseWord::LooseConnection => loose(about),
        CauseWord::Backwards => backwards(about),
        CauseWord::TracksSwapped => Explanation::new(
            format!("signal wires {pins} are swapped"),
            &["Swap the two signal wires at the board, and measure again. The part may be fine."],
            "Swap the two signal wires at the board and look whether both readings come right.",
        ),
        CauseWord::TracksJoined => Explanation::new(
            format!("both inputs carry the same signal: wires {pins} touch"),
            &[
                "Look at the plug: do the two signal wires touch, or do both jumpers sit on one of them?",
                "Part them, and measure again.",
            ],
            "Pull one signal wire off the board: if its input still follows, the two are joined.",
        ),
        CauseWord::NoSupply if about.detail() == "pull-up" => Explanation::new(
            format!("the pull-up at {pins} brings no supply"),
            &[
                "Is the pull-up resistor there, and does its other end sit on the supply?",
                "Measure with the meter between the input and ground, the plug pulled: it must read the supply.",
            ],
            "Pull the plug: with its pull-up in place the input must read full scale.",
        ),
        CauseWord::NoSupply => Explanation::new(
            format!("no {supply} at the {noun}"),
            &[
                "Look at the plug, and push it in.",
                &format!(
                    "Measure with the meter between supply and ground at the {noun}'s plug: {supply}?"
                ),
                "If not, follow the supply wire back to the board.",
            ],
            &*format!(
                "Measure at the {noun}'s plug: {supply} there means that it is the signal wire."
            ),
        ),
        CauseWord::NoGround => Explanation::new(
            format!("no ground at the {noun}"),
            &[
                "Look at the plug, and push it in.",
                &format!(
                    "Measure with the meter between supply and ground at the {noun}'s plug: {supply}?"
                ),
                "If not, follow the ground wire back to the board.",
            ],
            &*format!(
                "Measure from the {noun}'s ground pin to the board's ground: it must read 0 ohm."
            ),
        ),
        CauseWord::SignalOpen => Explanation::new(
            match about.detail() {
                "" => format!("nothing arrives on the signal wire at {pins}"),
                when => format!("nothing arrives on the signal wire at {pins} {when}"),
            },
            &[
                &format!("Is the signal wire in {pins}, and not one pin over?"),
                "Measure its way through with the meter: 0 ohm from the plug to the board.",
            ],
            "Measure the voltage at the plug while you move it: if it moves there, it is the wire.",
        ),
        CauseWord::SignalShorted => Explanation::new(
            format!("the signal wire at {pins} touches {}", about.detail()),
            &[
                "Look for stray strands and solder at the plug and at the board.",
                &format!(
                    "Pull the signal wire off {pins}: if the reading stays, it is the board; if it goes, the wire."
                ),
            ],
            &*format!("Pull the signal wire off {pins} and look whether the reading changes."),
        ),
        _ if about.needs_a_divider() => Explanation::new(
            format!(
                "this board's reference is {} V, and the {noun} runs on {supply}",
                four_digits(about.evidence.vref_mv / 1000.0)
            ),
            &[
                "Pull the plug now: a voltage above its reference can destroy the board's input.",
                &format!(
                    "Put a divider into each signal wire, or take a board whose reference is {supply}."
                ),
                "Then measure with a profile for that board: `pedalproof wiring pedal-hall-divider-3v3` shows one with a divider.",
            ],
            &*format!("Measure the board's reference with the meter: is it {supply}?"),
        ),
        _ => Explanation::new(
            format!("everything reads {} times what it should", about.detail()),
            &[
                &format!("Measure the supply at the {noun}'s plug: it should be {supply}."),
                "Is the board's reference the one that it states? See the board's settings.",
            ],
            &*format!(
                "Measure the supply at the plug: if it is {supply}, it did not travel its whole way instead."
            ),
        ),
    }
}

fn loose(about: &About<'_>) -> Explanation {
    let shaken = about
        .suspicion
        .facts
        .iter()
        .any(|fact| fact.contains("cable was moved"));
    let when = if shaken {
        "when the cable is moved"
    } else {
        "now and then, at no particular place"
    };
    Explanation::new(
        format!("the contact breaks {when}"),
        &[
            "Push the plug in, or pull it and plug it again.",
            "Re-solder the joints of the cable, and shake again.",
            "Replace the cable.",
        ],
        "Shake only the plug, then only the cable near the part: where it breaks, there it is.",
    )
}

fn backwards(about: &About<'_>) -> Explanation {
    if about.is_sensor() {
        Explanation::new(
            "it works backwards",
            &[
                "Do NOT swap the supply wires of a hall sensor: that kills it.",
                "Turn its magnet, or mount it the other way round, and measure again.",
            ],
            "Look at the reading as you press: it must go the way that the profile says.",
        )
    } else if about.is_rheostat() {
        Explanation::new(
            "it works backwards: its outer wire is on the wrong end of the track",
            &[
                "Move the wire from one outer terminal of the potentiometer to the other; the wire of the middle terminal stays. Measure again: one minute. Nothing is broken.",
            ],
            "Move the outer wire to the other end and look whether rest and full change over.",
        )
    } else {
        Explanation::new(
            "it works backwards: swap its two outer wires",
            &[
                "Swap the two outer wires of the potentiometer, and measure again: one minute. Nothing is broken.",
            ],
            "Swap the two outer wires and look whether rest and full change over.",
        )
    }
}
