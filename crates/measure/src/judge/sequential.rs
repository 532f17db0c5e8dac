//! Looking at a finding several times while its evidence grows, without deciding wrongly more often.
//!
//! A 95 % interval leaves 2.5 % on each side of the limit. Looking again and again with it and stopping at the first
//! that is clear would be wrong two to three times as often. So the 2.5 % are spent over the looks that are planned
//! (Bonferroni's inequality: the chance that any look is wrong is at most the sum of the chances): each look before
//! the last may be wrong with a chance of 0.25 % on each side, which is a 99.5 % interval; what is left is for the last,
//! 1.75 % with four looks, a 96.5 % interval. The verdict of a capture is that of the look it ended at, with that look's
//! interval. So whatever the dependence between looks, whatever made it end there, false accept and false reject stay
//! at or below 2.5 % each.
//!
//! The number of looks must be planned. Fewer looks than planned do no harm; the spending is even rather than
//! thrifty at first, so that a good unit is decided early: the last look's interval costs 8 % of width for it.

use super::conformance::outcome;
use super::{Limit, Outcome};
use crate::figure::{COVERAGE, Figure, Law};
use crate::measure::statistics::interval::{chi_square_quantile, t_quantile};

/// Chance of error that a look before the last may spend on each side.
pub const SPENT_EACH: f64 = 0.0025;
/// Most looks: half of the whole is spent before the last at most.
pub const MOST_LOOKS: usize = 6;
/// What there is to spend on each side.
const TAIL: f64 = (1.0 - COVERAGE) / 2.0;
/// Degrees of freedom that stand for a law that is not known. Own choice: an early look's interval is twice as wide
/// then, of a normal one it would be 1.4 times.
const UNKNOWN_DOF: f64 = 4.0;

/// One look of so many that were planned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Look {
    taken: usize,
    planned: usize,
}

impl Look {
    /// The only look there is: its interval is the 95 % one.
    pub const ONLY: Self = Self {
        taken: 1,
        planned: 1,
    };

    /// Look number `taken` of `planned`, counted from 1; `None` unless `1 <= taken <= planned <= 6`.
    #[must_use]
    pub fn new(taken: usize, planned: usize) -> Option<Self> {
        let can_be = 1 <= taken && taken <= planned && planned <= MOST_LOOKS;
        can_be.then_some(Self { taken, planned })
    }

    /// Its number, from 1.
    #[must_use]
    pub fn taken(self) -> usize {
        self.taken
    }

    /// How many were planned.
    #[must_use]
    pub fn planned(self) -> usize {
        self.planned
    }

    /// The chance of error that it spends on each side.
    #[must_use]
    pub fn tail(self) -> f64 {
        if self.taken < self.planned {
            SPENT_EACH
        } else {
            #[allow(clippy::cast_precision_loss)] // up to 5
            let before = (self.planned - 1) as f64;
            TAIL - SPENT_EACH * before
        }
    }

    /// Coverage of its interval, 0 to 1.
    #[must_use]
    pub fn coverage(self) -> f64 {
        1.0 - 2.0 * self.tail()
    }

    /// The figure with this look's interval in place of the 95 % one. A count stays as it is.
    #[must_use]
    pub fn widened(self, figure: &Figure) -> Figure {
        let tail = self.tail();
        if figure.u.is_none() || self.planned == 1 {
            return figure.clone();
        }
        let dof = match figure.shrink.map(|shrink| (shrink.law, shrink.have)) {
            Some((Law::Mean { dof } | Law::Slope { dof }, _)) => dof,
            Some((Law::Pieces, have)) => have - 1.0,
            Some((Law::First | Law::Moving, _)) => f64::INFINITY,
            Some((Law::Spread, have)) => return spread(figure, tail, (have - 1.0).max(1.0)),
            Some((Law::Rms { dof }, _)) => return spread(figure, tail, dof.max(1.0)),
            None => UNKNOWN_DOF,
        };
        stretched(figure, t_factor(tail, dof))
    }

    /// What it makes of a figure against its limit.
    #[must_use]
    pub fn outcome(self, limit: Limit, figure: &Figure) -> Outcome {
        outcome(limit, &self.widened(figure))
    }
}

/// How much evidence there is at each of the planned looks.
#[derive(Debug, Clone, PartialEq)]
pub struct Looks {
    at: Vec<f64>,
}

impl Looks {
    /// `count` looks (1 to 6), evenly from the least evidence to the most, both included; the most alone for one.
    #[must_use]
    pub fn between(least: f64, most: f64, count: usize) -> Self {
        let count = count.clamp(1, MOST_LOOKS);
        if count == 1 {
            return Self { at: vec![most] };
        }
        #[allow(clippy::cast_precision_loss)] // up to 6
        let share = |look: usize| look as f64 / (count - 1) as f64;
        Self {
            at: (0..count)
                .map(|look| least + (most - least) * share(look))
                .collect(),
        }
    }

    /// The same in whole pieces, rounded up.
    #[must_use]
    pub fn whole(self) -> Self {
        let up = |at: f64| (at - 1e-9).ceil();
        Self {
            at: self.at.into_iter().map(up).collect(),
        }
    }

    /// The evidence at each look, growing.
    #[must_use]
    pub fn at(&self) -> &[f64] {
        &self.at
    }
}

/// A standard deviation's interval: an end is s sqrt(dof / chi2), and what rounding added to it is widened with it.
fn spread(figure: &Figure, tail: f64, dof: f64) -> Figure {
    let end = |usual: f64, wanted: f64| {
        (chi_square_quantile(usual, dof) / chi_square_quantile(wanted, dof)).sqrt()
    };
    Figure {
        low: figure.low.map(|low| low * end(1.0 - TAIL, 1.0 - tail)),
        high: figure.high.map(|high| high * end(TAIL, tail)),
        ..figure.clone()
    }
}

fn stretched(figure: &Figure, factor: f64) -> Figure {
    let moved = |end: f64| figure.value + (end - figure.value) * factor;
    Figure {
        low: figure.low.map(moved),
        high: figure.high.map(moved),
        ..figure.clone()
    }
}

fn t_factor(tail: f64, dof: f64) -> f64 {
    let dof = dof.max(1.0);
    t_quantile(1.0 - tail, dof) / t_quantile(1.0 - TAIL, dof)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figure::{Evidence, Shrink};

    #[test]
    fn all_looks_together_spend_what_one_would() {
        for planned in 1..=6 {
            let look = |taken| Look::new(taken, planned).unwrap();
            let spent: f64 = (1..=planned).map(|taken| look(taken).tail()).sum();
            assert!((spent - 0.025).abs() < 1e-12);
        }
        assert!((Look::new(1, 4).unwrap().coverage() - 0.995).abs() < 1e-12);
        assert!((Look::new(4, 4).unwrap().coverage() - 0.965).abs() < 1e-12);
        for (taken, planned) in [(0, 4), (5, 4), (1, 0), (1, 7)] {
            assert_eq!(Look::new(taken, planned), None);
        }
    }

    #[test]
    fn looks_lie_evenly() {
        assert_eq!(Looks::between(6.0, 16.0, 3).at(), [6.0, 11.0, 16.0]);
        assert_eq!(
            Looks::between(5.0, 12.0, 4).whole().at(),
            [5.0, 8.0, 10.0, 12.0]
        );
        assert_eq!(Looks::between(6.0, 16.0, 1).at(), [16.0]);
        assert_eq!(Looks::between(6.0, 16.0, 99).at().len(), 6);
    }

    /// Tables: normal quantile of 0.9975 is 2.807; t(4) of 0.9975 is 5.598 against 2.776. Chi-square with 4 degrees has
    /// the upper tail exp(-x/2) (1 + x/2), by hand: 16.424 at 0.9975 and 0.1449 at 0.0025, against 11.143 and 0.48442.
    #[test]
    fn the_interval_of_an_early_look_by_tables() {
        let look = Look::new(1, 4).unwrap();
        let limit = |max| Limit::new(None, Some(max)).unwrap();
        let at = |figure: &Figure, max| look.outcome(limit(max), figure);
        let known = Figure::symmetric(10.0, 1.0, 1.959_964, 9, "").shrinking(Shrink::mean(
            Evidence::Seconds,
            2.0,
            0.0,
        ));
        assert_eq!(at(&known, 12.80), Outcome::Undecided);
        assert_eq!(at(&known, 12.81), Outcome::Pass);
        assert_eq!(at(&known, 7.19), Outcome::Fail);
        let pieces = Figure::symmetric(10.0, 1.0, 2.776_445, 5, "").shrinking(Shrink::pieces(
            Evidence::Holds,
            5,
            0.0,
        ));
        assert_eq!(at(&pieces, 15.59), Outcome::Undecided);
        assert_eq!(at(&pieces, 15.61), Outcome::Pass);
        for law in [Law::Spread, Law::Rms { dof: 4.0 }] {
            let spread = Figure {
                low: Some((4.0_f64 / 11.143).sqrt()),
                high: Some((4.0_f64 / 0.484_42).sqrt()),
                ..Figure::symmetric(1.0, 0.35, 2.0, 5, "")
            }
            .shrinking(Shrink::by(law, Evidence::Returns, 5.0, 0.0));
            // sqrt(4 / 0.1449) = 5.254, sqrt(4 / 16.424) = 0.4935
            assert_eq!(at(&spread, 5.24), Outcome::Undecided);
            assert_eq!(at(&spread, 5.27), Outcome::Pass);
            assert_eq!(at(&spread, 0.495), Outcome::Undecided);
            assert_eq!(at(&spread, 0.492), Outcome::Fail);
        }
    }

    #[test]
    fn a_count_is_its_own_interval_and_an_unknown_law_is_taken_wide() {
        let early = Look::new(1, 4).unwrap();
        let none = Limit::new(None, Some(0.0)).unwrap();
        let count = |value| early.outcome(none, &Figure::counted(value, 6, ""));
        assert_eq!((count(0.0), count(1.0)), (Outcome::Pass, Outcome::Fail));
        // t(4): 5.598 / 2.776 = 2.0165 times as far.
        let figure = Figure::symmetric(0.0, 1.0, 2.0, 3, "");
        let high = early.widened(&figure).high.unwrap();
        assert!((high - 4.033).abs() < 1e-3, "{high}");
        assert_eq!(Look::ONLY.widened(&figure), figure);
    }
}
