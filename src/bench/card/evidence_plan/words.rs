//! What is said to a person, by the kind of control: a pedal is pressed, a dial turned, a lever moved.

use crate::profile::Kind;

/// Instructions of the steps, and what is said meanwhile.
#[derive(Debug, PartialEq)]
pub struct Words {
    pub rest: &'static str,
    pub full: &'static str,
    pub strokes: &'static str,
    pub release: &'static str,
    /// The same, where more quiet than usual is wanted after it.
    pub long_release: &'static str,
    pub is_full: &'static str,
    pub rested_lower: &'static str,
    pub to_its_end: &'static str,
    pub waiting: &'static str,
    pub once_more: &'static str,
    pub not_sure: &'static str,
    pub further: &'static str,
    pub short: &'static str,
    pub let_go: &'static str,
    pub swapped: &'static str,
}

const PEDAL: Words = Words {
    rest: "Hands and feet off. Leave it alone.",
    full: "Press it fully and hold.",
    strokes: "Move it from end to end and back, about a second each way.",
    release: "Press fully, hold 1 s, let go, wait. Again.",
    long_release: "Press fully, hold 1 s, let go, leave it alone until it counts. Again.",
    is_full: "that is the full end: let it go; if you have, wait",
    rested_lower: "it rested lower before: take your hand or foot off; if it is off, wait",
    to_its_end: "press it right to its end and hold it there",
    waiting: "waiting for it to be pressed",
    once_more: "let it go once, then press it fully again and hold it",
    not_sure: "not sure yet: let it go once, then press it fully again",
    further: "further: it went higher before; press it right to its end",
    short: "short of its end: press it further; is something under it? If it ends here, hold it",
    let_go: "now let it go",
    swapped: "when both wires are in, press fully for a second, let go for a second; twice",
};

const DIAL: Words = Words {
    rest: "Turn it to zero and take your hand off.",
    full: "Turn it to full and leave it there.",
    strokes: "Turn it from end to end and back, about a second each way.",
    release: "Turn it to full, wait 1 s, turn it to zero, wait. Again.",
    long_release: "Turn it to full, wait 1 s, turn it to zero, wait until it counts. Again.",
    is_full: "that is the full end: turn it to zero; if you have, wait",
    rested_lower: "it was lower before: turn it to zero and take your hand off; if you have, wait",
    to_its_end: "turn it right to its end and leave it there",
    waiting: "waiting for it to be turned",
    once_more: "turn it to zero once, then to full again, and leave it there",
    not_sure: "not sure yet: turn it to zero once, then to full again",
    further: "further: it went higher before; turn it right to its end",
    short: "short of its end: turn it further. If it ends here, leave it there",
    let_go: "now turn it to zero",
    swapped: "when both wires are in, turn it to full for a second, to zero for a second; twice",
};

const LEVER: Words = Words {
    rest: "Hands off. Leave it alone.",
    full: "Move it fully and hold.",
    strokes: "Move it from end to end and back, about a second each way.",
    release: "Move it fully, hold 1 s, let go, wait. Again.",
    long_release: "Move it fully, hold 1 s, let go, leave it alone until it counts. Again.",
    is_full: "that is the full end: let it go; if you have, wait",
    rested_lower: "it rested lower before: take your hand off; if it is off, wait",
    to_its_end: "move it right to its end and hold it there",
    waiting: "waiting for it to be moved",
    once_more: "let it go once, then move it fully again and hold it",
    not_sure: "not sure yet: let it go once, then move it fully again",
    further: "further: it went higher before; move it right to its end",
    short: "short of its end: move it further; is something in its way? If it ends here, hold it",
    let_go: "now let it go",
    swapped: "when both wires are in, move it fully for a second, let go for a second; twice",
};

impl Words {
    /// Those of a kind; where nobody says which, those of a pedal.
    pub const fn of(kind: Option<Kind>) -> &'static Self {
        match kind {
            None | Some(Kind::Pedal) => &PEDAL,
            Some(Kind::Dial) => &DIAL,
            Some(Kind::Lever) => &LEVER,
        }
    }
}
