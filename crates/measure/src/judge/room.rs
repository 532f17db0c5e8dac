//! The room's part in a figure: what comes from outside leaves a finding open, it does not fail the part.

use super::{Finding, Limit, Outcome, decide};
use crate::figure::{Figure, FigureName as Name, Mark};
use crate::measure::holds::lines::{Room, Rooms};
use crate::units::maths;

/// What to do about the room.
const ADVICE: &str = "quieten the room and measure again: laptop on battery, chargers and motor controllers off or away from the \
                      cable, signal twisted with ground; then measure the part again";

/// A finding that fails for what is the room's is open: figures of the room itself, and noise that would be within its limit without
/// the lines and bursts in it. Others stay as they are.
#[must_use]
pub fn without_room(
    finding: Finding,
    limit: Limit,
    figure: Option<&Figure>,
    rooms: &Rooms,
) -> Finding {
    let Some(figure) = figure.filter(|_| finding.outcome == Outcome::Fail) else {
        return finding;
    };
    let open = |finding: Finding, why: String| Finding {
        outcome: Outcome::Undecided,
        reason: format!("{}; {why}", finding.reason),
        advice: Some(ADVICE.to_owned()),
        ..finding
    };
    if finding.figure.is(Mark::OfRoom) {
        return open(finding, "this is the room's, not the part's".to_owned());
    }
    let Some(room) = of(rooms, finding.figure) else {
        return finding;
    };
    let share = (room.without / room.all).min(1.0);
    // Bits are lost by the logarithm of the noise, all else is in proportion to it.
    let less = |value: f64| match finding.figure {
        Name::NoiseFreeBits => value - maths::log2(share.max(1e-3)),
        _ => value * share,
    };
    let quiet = Figure {
        value: less(figure.value),
        low: figure.low.map(less),
        high: figure.high.map(less),
        ..figure.clone()
    };
    if decide(&finding.channel, finding.figure, limit, Some(&quiet)).outcome == Outcome::Fail {
        return finding;
    }
    let why = format!("the room makes most of it: {}", room.describe());
    open(finding, why)
}

/// The room's part in the noise that a figure is about.
fn of(rooms: &Rooms, name: Name) -> Option<&Room> {
    let both = || rooms.rest.iter().chain(&rooms.full);
    let room = match name {
        Name::NoiseRestRms => rooms.rest.as_ref(),
        Name::NoiseFullRms => rooms.full.as_ref(),
        Name::NoisePeakToPeak | Name::NoiseFreeBits | Name::StrokeNoiseRms => {
            both().max_by(|a, b| a.all.total_cmp(&b.all))
        }
        _ => None,
    };
    room.filter(|room| room.speaks() && room.all > 0.0)
}
