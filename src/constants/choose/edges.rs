//! The edges: where the command leaves 0 and where it reaches 1.

use super::evidence::{TrackEvidence, TravelEnd};
use super::{Choice, ChooseError, ErrorKind, Margin, to_code};
use crate::wiring::faults::ZeroEnd;
use std::fmt::Write as _;

/// Share of span that must be left between the edges. Common practice, no source: with less, the hand has no feel of speed.
const LEAST_USE: f64 = 0.5;

/// Both edges of a factor, in codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Edges {
    pub zero: u16,
    pub one: u16,
}

/// The end that commands 0 and the end that commands 1.
pub(super) fn zero_and_one(seen: &TrackEvidence, zero_at: ZeroEnd) -> (&TravelEnd, &TravelEnd) {
    match zero_at {
        ZeroEnd::Rest => (&seen.rest, &seen.full),
        ZeroEnd::Full => (&seen.full, &seen.rest),
    }
}

/// What small faults that no window shows do at the zero end: how far they move the command there, as a share of span, and which.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Creep {
    pub share: f64,
    pub fault: String,
}

/// What moves the ends between this recording and the years after it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Allowance {
    /// Warmth and age, as a share of span (the profile's `drift_allowance_pct`).
    pub drift: f64,
    /// A supply that is not the reference, as a share of every reading (`supply_tolerance_pct`).
    pub supply: f64,
}

impl Allowance {
    /// Codes that it takes at an end.
    fn at(self, end: &TravelEnd, span: f64) -> f64 {
        self.drift * span + self.supply * end.level().abs()
    }

    fn describe(self, end: &TravelEnd, span: f64) -> String {
        let mut words = String::new();
        if self.drift > 0.0 {
            words = format!(
                "; {} % of span for warmth and age (drift_allowance_pct): {:.1} codes",
                100.0 * self.drift,
                self.drift * span
            );
        }
        if self.supply > 0.0 {
            let _ = write!(
                words,
                "; the supply may be {} % off the reference: {:.1} codes",
                100.0 * self.supply,
                self.supply * end.level().abs()
            );
        }
        words
    }
}

/// The zero edge lies beyond all that the zero end reads, the other edge before all that the other end reads: each by the
/// end's tolerance limit and its noise, rounded inwards to a whole code. Refused
/// with less than half of the span between them.
pub(super) fn edges(
    seen: &TrackEvidence,
    zero_at: ZeroEnd,
    (creep, allowance): (&Creep, Allowance),
    top: u16,
) -> Result<(Edges, [Choice; 2]), ChooseError> {
    let (zero, one) = zero_and_one(seen, zero_at);
    let inwards = (one.level() - zero.level()).signum();
    let span = seen.span().abs();
    let crept = creep.share * span;
    let from_zero = zero.level() + inwards * (zero.reach() + crept + allowance.at(zero, span));
    let from_one = one.level() - inwards * (one.reach() + allowance.at(one, span));
    let left = (from_one - from_zero) * inwards;
    if left < LEAST_USE * span {
        let crossed = if left <= 0.0 {
            "cross"
        } else {
            "leave too little travel"
        };
        return Err(ChooseError::new(
            ErrorKind::Fail,
            format!(
                "{}: the edges would {crossed}: the zero command would have to reach to code {from_zero:.0} and the full \
                 command to begin at {from_one:.0}, {:.0} % of the span of {span:.0} codes.\n{}\n{}",
                seen.channel,
                100.0 * left.max(0.0) / span,
                zero.describe(),
                one.describe()
            ),
        ));
    }
    let round = |code: f64, up: bool| to_code(if up { code.ceil() } else { code.floor() }, top);
    let edges = Edges {
        zero: round(from_zero, inwards > 0.0),
        one: round(from_one, inwards < 0.0),
    };
    stays_before(zero, edges.zero, inwards, &seen.channel)?;
    let choice = |what, edge: u16, end: &TravelEnd, command: &str| Choice {
        place: String::new(),
        channel: seen.channel.clone(),
        what,
        value: f64::from(edge),
        unit: "code",
        reason: end.describe() + &allowance.describe(end, span),
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
    let mut choices = [
        choice("zero edge", edges.zero, zero, "0"),
        choice("full edge", edges.one, one, "1"),
    ];
    if crept > 0.0 {
        choices[0].reason = format!(
            "{}; {}, which no window shows, may move it by {crept:.1} codes ({:.1} % of span): the edge makes room for it",
            choices[0].reason,
            creep.fault,
            100.0 * creep.share
        );
    }
    Ok((edges, choices))
}

/// Nowhere at its zero end did it stand beyond the edge, be it once: there it would drive.
fn stays_before(
    zero: &TravelEnd,
    edge: u16,
    inwards: f64,
    channel: &str,
) -> Result<(), ChooseError> {
    let drives = |level: &&f64| (**level - f64::from(edge)) * inwards > 0.0;
    zero.held.iter().find(drives).map_or(Ok(()), |level| {
        Err(ChooseError::new(
            ErrorKind::Open,
            format!(
                "{channel}: once it stood at code {level:.0} at its {} end, and the zero command ends at {edge}: standing there again it \
                 would drive. Record it again with nobody's foot or hand on it; if it comes again, it sticks: do not fit it.\n{}",
                zero.word,
                zero.describe()
            ),
        ))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(rest: &[f64], full: &[f64]) -> TrackEvidence {
        TrackEvidence::example("x", rest, full, 0.5)
    }

    /// By hand: 164 + 7.656 + 2.377 = 174.03, up to 175; 860 - 7.656 - 2.377 = 849.97, down to 849. Falling, the other way
    /// round.
    #[test]
    fn beyond_the_tolerance_limit_and_the_noise_rounded_inwards() {
        let (low, high) = ([163.0, 164.0, 165.0], [859.0, 860.0, 861.0]);
        let of = |seen: &TrackEvidence, at| {
            edges(seen, at, (&Creep::default(), Allowance::default()), 1023)
                .unwrap()
                .0
        };
        let rising = Edges {
            zero: 175,
            one: 849,
        };
        assert_eq!(of(&seen(&low, &high), ZeroEnd::Rest), rising);
        let falling = Edges {
            zero: 849,
            one: 175,
        };
        assert_eq!(of(&seen(&high, &low), ZeroEnd::Rest), falling);
        assert_eq!(
            of(&seen(&low, &high), ZeroEnd::Full),
            falling,
            "zero at the full end"
        );
        let (_, choices) = edges(
            &seen(&low, &high),
            ZeroEnd::Rest,
            (&Creep::default(), Allowance::default()),
            1023,
        )
        .unwrap();
        assert!((choices[0].margin.codes.unwrap() - 11.0).abs() < 1e-9);
        assert!((choices[0].margin.sigma.unwrap() - 22.0).abs() < 1e-9);
    }

    /// By hand: 174.03 as above and 2 % of 696 codes, 13.92: 187.95, up to 188. A fault says so.
    #[test]
    fn a_small_fault_that_no_window_shows_widens_the_zero_edge() {
        let seen = seen(&[163.0, 164.0, 165.0], &[859.0, 860.0, 861.0]);
        let creep = Creep {
            share: 0.02,
            fault: "pull-down open".to_owned(),
        };
        let (found, choices) =
            edges(&seen, ZeroEnd::Rest, (&creep, Allowance::default()), 1023).unwrap();
        assert_eq!(
            found,
            Edges {
                zero: 188,
                one: 849
            }
        );
        assert!(
            choices[0]
                .reason
                .contains("pull-down open, which no window shows, may move it by 13.9 codes")
        );
    }

    /// By hand: 174.03 as above and 3 % of 696 codes, 20.88: 194.91, up to 195; 849.97 - 20.88 = 829.09, down to 829. A supply 5 % off the
    /// reference: 5 % of 164 is 8.2: 203.11, up to 204; 5 % of 860 is 43: 786.09, down to 786.
    #[test]
    fn warmth_and_supply_move_both_edges_inwards() {
        let seen = seen(&[163.0, 164.0, 165.0], &[859.0, 860.0, 861.0]);
        let of = |allowance| {
            let (found, choices) =
                edges(&seen, ZeroEnd::Rest, (&Creep::default(), allowance), 1023).unwrap();
            ((found.zero, found.one), choices[0].reason.clone())
        };
        let drift = Allowance {
            drift: 0.03,
            supply: 0.0,
        };
        let (found, reason) = of(drift);
        assert_eq!(found, (195, 829));
        assert!(
            reason.contains("3 % of span for warmth and age (drift_allowance_pct): 20.9 codes"),
            "{reason}"
        );
        let (found, reason) = of(Allowance {
            supply: 0.05,
            ..drift
        });
        assert_eq!(found, (204, 786));
        assert!(
            reason.contains("5 % off the reference: 8.2 codes"),
            "{reason}"
        );
    }

    /// Seven holds about 164 and one at 254: its edge is 174 as above.
    #[test]
    fn one_hold_beyond_the_zero_edge_is_enough_to_refuse() {
        let mut seen = seen(&[163.0, 164.0, 165.0], &[859.0, 860.0, 861.0]);
        let of = |seen: &TrackEvidence| {
            let nothing = (&Creep::default(), Allowance::default());
            edges(seen, ZeroEnd::Rest, nothing, 1023)
        };
        seen.rest.held.push(175.0);
        assert!(of(&seen).is_ok());
        seen.rest.held.push(254.0);
        let refused = of(&seen).unwrap_err();
        assert_eq!(refused.kind, ErrorKind::Open);
        assert!(refused.words.contains("once it stood at code 254"));
    }

    #[test]
    fn edges_that_would_cross_or_leave_little_are_refused() {
        let wild = seen(&[100.0, 164.0, 228.0], &[859.0, 860.0, 861.0]);
        // sd 64 x 7.66 = 490: 164 + 490 + 2 = 656, leaving 194 of 696 codes.
        let refused = edges(
            &wild,
            ZeroEnd::Rest,
            (&Creep::default(), Allowance::default()),
            1023,
        )
        .unwrap_err();
        assert_eq!(refused.kind, ErrorKind::Fail);
        assert!(
            refused.words.contains("leave too little travel") && refused.words.contains("28 %"),
            "{refused}"
        );
        let worse = seen(&[64.0, 164.0, 264.0], &[859.0, 860.0, 861.0]);
        assert!(
            edges(
                &worse,
                ZeroEnd::Rest,
                (&Creep::default(), Allowance::default()),
                1023
            )
            .unwrap_err()
            .words
            .contains("would cross")
        );
    }
}
