//! The edges: where the command leaves 0 and where it reaches 1.
//!
//! Belongs here: their rule. Does not belong here: how an end's scatter is known (`evidence`).

use super::evidence::{End, TrackSeen};
use super::{Choice, Kind, Margin, Refusal, to_code};
use crate::profile::StartRule;

/// Share of span that must be left between the edges. Common practice, no source: with less, the hand has no feel of speed.
const LEAST_USE: f64 = 0.5;

/// Both edges of a factor, in codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Edges {
    /// Where the command leaves 0.
    pub zero: u16,
    /// Where it reaches 1.
    pub one: u16,
}

/// The end that commands 0 and the end that commands 1.
pub(super) fn zero_and_one(seen: &TrackSeen, zero_at: StartRule) -> (&End, &End) {
    match zero_at {
        StartRule::Rest => (&seen.rest, &seen.full),
        StartRule::Full => (&seen.full, &seen.rest),
    }
}

/// The zero edge lies beyond all that the zero end reads, the other edge before all that the other end reads: each by the
/// end's tolerance limit and its noise, rounded inwards to a whole code.
///
/// # Errors
/// When less than half of the span would be left between them.
pub(super) fn edges(
    seen: &TrackSeen,
    zero_at: StartRule,
    top: u16,
) -> Result<(Edges, [Choice; 2]), Refusal> {
    let (zero, one) = zero_and_one(seen, zero_at);
    let inwards = (one.level() - zero.level()).signum();
    let from_zero = zero.level() + inwards * zero.reach();
    let from_one = one.level() - inwards * one.reach();
    let left = (from_one - from_zero) * inwards;
    let span = seen.span().abs();
    if left < LEAST_USE * span {
        let crossed = if left <= 0.0 {
            "cross"
        } else {
            "leave too little travel"
        };
        return Err(Refusal::new(
            Kind::Fail,
            format!(
                "{}: the edges would {crossed}: the zero command would have to reach to code {from_zero:.0} and the full \
                 command to begin at {from_one:.0}, {:.0} % of the span of {span:.0} codes.\n{}\n{}",
                seen.channel,
                100.0 * left.max(0.0) / span,
                zero.words(),
                one.words()
            ),
        ));
    }
    let round = |code: f64, up: bool| to_code(if up { code.ceil() } else { code.floor() }, top);
    let edges = Edges {
        zero: round(from_zero, inwards > 0.0),
        one: round(from_one, inwards < 0.0),
    };
    let choice = |what, edge: u16, end: &End, command: &str| Choice {
        place: String::new(),
        channel: seen.channel.clone(),
        what,
        value: f64::from(edge),
        unit: "code",
        reason: end.words(),
        margin: Margin::codes(
            (f64::from(edge) - end.level()).abs(),
            end.noise,
            span,
            &format!(
                "the {} end, so that it commands exactly {command}",
                end.word
            ),
        ),
    };
    let choices = [
        choice("zero edge", edges.zero, zero, "0"),
        choice("full edge", edges.one, one, "1"),
    ];
    Ok((edges, choices))
}
