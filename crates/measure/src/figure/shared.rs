//! Facts that several figures share: which step to take up again for which evidence, what a card takes, words of advice.

use super::facts::{Amount, Words};
use super::shrink::Evidence;
use crate::units::Step::{self, Full, Release, Rest, Strokes};

pub(super) const REST_LEVEL: &[(Evidence, Step)] =
    &[(Evidence::Seconds, Rest), (Evidence::Holds, Release)];
pub(super) const FULL_LEVEL: &[(Evidence, Step)] =
    &[(Evidence::Seconds, Full), (Evidence::Presses, Full)];
pub(super) const BOTH_LEVELS: &[(Evidence, Step)] = &[
    (Evidence::Seconds, Rest),
    (Evidence::Seconds, Full),
    (Evidence::Holds, Release),
    (Evidence::Presses, Full),
];
pub(super) const BOTH_HOLDS: &[(Evidence, Step)] =
    &[(Evidence::Seconds, Rest), (Evidence::Seconds, Full)];
pub(super) const STROKES: &[(Evidence, Step)] = &[(Evidence::Strokes, Strokes)];
pub(super) const RETURNS: &[(Evidence, Step)] = &[(Evidence::Returns, Release)];

/// Recurrence at one place is what tells a worn zone from a burst, and a count has no interval that would show that four
/// strokes saw too little.
pub(super) const WORN: &[(Step, Amount)] = &[(
    Strokes,
    Amount {
        first: 6.0,
        most: 16.0,
    },
)];
/// The 99.5 % interval of a scatter of three returns reaches 20 times as far and decides nothing.
pub(super) const SCATTERED: &[(Step, Amount)] = &[(
    Release,
    Amount {
        first: 5.0,
        most: 12.0,
    },
)];
/// One long hold, which another one does not add to.
pub(super) const LONG: &[(Step, Amount)] = &[(Rest, LONG_HOLD), (Full, LONG_HOLD)];
const LONG_HOLD: Amount = Amount {
    first: 6.0,
    most: 6.0,
};

pub(super) const LEVEL: Words = Words {
    board: "what is not known of its ADC (rounding, non-linearity: --inl-codes states it) is",
    ..Words::PLAIN
};
pub(super) const HUM: Words = Words {
    longer: "s more",
    unknown: Some(
        "no number can be given: the mains line does not stand out of the noise, and how fast its upper end comes down \
         depends on what is under it; take some seconds more of: rest, full",
    ),
    ..Words::PLAIN
};
pub(super) const LOSSES: &str = "no number can be given: what came at any place and time is the room's if the room can be quietened; chargers, \
                    motors and their leads away from the cable, then take strokes and shake again";
pub(super) const PEAK: &str = "no number can be given: a peak grows with the time that is watched, so that more time makes it larger \
                    and not surer; limit noise_rest_rms or noise_full_rms, which more seconds decide";
pub(super) const REFERENCE: Words = Words {
    unknown: Some(
        "no number can be given: with a reference that moves along, more strokes narrow the interval less than their \
         number says; hold stations instead, which count",
    ),
    ..Words::PLAIN
};
