//! Looking at a finding several times while its evidence grows, without deciding wrongly more often.
//!
//! Belongs here: how wide an interval must be at which look. Does not belong here: when a look is taken (`bench`).
//!
//! A 95 % interval leaves 2.5 % on each side of the limit. Looking again and again with it and stopping at the first
//! that is clear would be wrong two to three times as often. So the 2.5 % are spent over the looks that are planned
//! (Bonferroni's inequality: the chance that any look is wrong is at most the sum of the chances): each look before
//! the last may be wrong with a chance of 0.05 % on each side, which is a 99.9 % interval; what is left is for the last,
//! 2.3 % with five looks, a 95.4 % interval. Whatever the dependence between looks, and whichever look stops, false
//! accept and false reject stay at or below 2.5 % each.
//!
//! The number of looks must be planned, and where they lie must not depend on what was seen. Fewer looks than planned do
//! no harm.

use super::decide::outcome;
use super::{Limit, Outcome};
use crate::figure::{COVERAGE, Figure, Law};
use crate::measure::interval::{chi_square_quantile, t_quantile};

/// Chance of error that a look before the last may spend on each side.
pub const SPENT_EACH: f64 = 0.0005;
/// What there is to spend on each side.
const TAIL: f64 = (1.0 - COVERAGE) / 2.0;
/// Most looks: one tenth of the whole is spent before the last at most.
const MOST_LOOKS: usize = 6;

/// The planned looks: how much evidence there is at each.
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

    /// The evidence at each look, growing.
    #[must_use]
    pub fn at(&self) -> &[f64] {
        &self.at
    }

    /// The latest look that this much evidence reaches.
    #[must_use]
    pub fn reached(&self, have: f64) -> Option<usize> {
        self.at.iter().rposition(|at| have + 1e-9 >= *at)
    }

    /// The chance of error that a look spends on each side.
    #[must_use]
    pub fn tail(&self, look: usize) -> f64 {
        if look + 1 < self.at.len() {
            SPENT_EACH
        } else {
            #[allow(clippy::cast_precision_loss)] // up to 5
            let before = (self.at.len() - 1) as f64;
            TAIL - SPENT_EACH * before
        }
    }

    /// What a look makes of a figure against its limit.
    ///
    /// Before the last look only a figure of which it is known how its uncertainty shrinks can be decided: only then is
    /// it known what its wider interval is. A count may still grow, so it is decided at the last look.
    #[must_use]
    pub fn outcome(&self, look: usize, limit: Limit, figure: &Figure) -> Outcome {
        let last = look + 1 >= self.at.len();
        if last && figure.u.is_none() {
            return outcome(limit, figure);
        }
        match with_tail(figure, self.tail(look)) {
            Some(wider) => outcome(limit, &wider),
            None if last => outcome(limit, &stretched(figure, normal_factor(self.tail(look)))),
            None => Outcome::Undecided,
        }
    }
}

/// The figure with an interval that leaves `tail` on each side; `None` when how is not known.
fn with_tail(figure: &Figure, tail: f64) -> Option<Figure> {
    figure.u?;
    let shrink = figure.shrink?;
    Some(match shrink.law {
        Law::Mean { dof } | Law::Slope { dof } => stretched(figure, t_factor(tail, dof)),
        Law::Pieces => stretched(figure, t_factor(tail, (shrink.have - 1.0).max(1.0))),
        Law::Spread => {
            let dof = (shrink.have - 1.0).max(1.0);
            // An end is s sqrt(dof / chi2): what rounding added to it is widened with it.
            let end = |usual: f64, wanted: f64| {
                (chi_square_quantile(usual, dof) / chi_square_quantile(wanted, dof)).sqrt()
            };
            Figure {
                low: figure.low.map(|low| low * end(1.0 - TAIL, 1.0 - tail)),
                high: figure.high.map(|high| high * end(TAIL, tail)),
                ..figure.clone()
            }
        }
    })
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

fn normal_factor(tail: f64) -> f64 {
    t_factor(tail, f64::INFINITY)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figure::{Evidence, Shrink};

    #[test]
    fn all_looks_together_spend_what_one_would() {
        for count in 1..=6 {
            let looks = Looks::between(1.5, 6.0, count);
            assert_eq!(looks.at().len(), count);
            let spent: f64 = (0..count).map(|look| looks.tail(look)).sum();
            assert!((spent - 0.025).abs() < 1e-12);
            assert!((looks.at()[count - 1] - 6.0).abs() < 1e-12);
        }
        assert_eq!(Looks::between(6.0, 16.0, 3).at(), [6.0, 11.0, 16.0]);
        assert_eq!(Looks::between(6.0, 16.0, 99).at().len(), 6);
        let looks = Looks::between(6.0, 16.0, 3);
        let reached = [5.0, 6.0, 10.9, 16.0, 40.0].map(|have| looks.reached(have));
        assert_eq!(reached, [None, Some(0), Some(0), Some(2), Some(2)]);
    }

    /// Tables: normal quantile of 0.9995 is 3.2905; t(4) of 0.9995 is 8.610 against 2.776; chi-square with 4 degrees:
    /// 20.00 at 0.9995 and 0.06392 at 0.0005 against 11.143 and 0.48442.
    #[test]
    fn the_interval_of_an_early_look_by_tables() {
        let looks = Looks::between(1.0, 2.0, 2);
        let limit = |max| Limit::new(None, Some(max)).unwrap();
        let at = |figure: &Figure, max| looks.outcome(0, limit(max), figure);
        let known = Figure::symmetric(10.0, 1.0, 1.959_964, 9, "").shrinking(Shrink::mean(
            Evidence::Seconds,
            2.0,
            0.0,
        ));
        assert_eq!(at(&known, 13.28), Outcome::Undecided);
        assert_eq!(at(&known, 13.30), Outcome::Pass);
        assert_eq!(at(&known, 6.70), Outcome::Fail);
        let pieces = Figure::symmetric(10.0, 1.0, 2.776_445, 5, "").shrinking(Shrink::pieces(
            Evidence::Holds,
            5,
            0.0,
        ));
        assert_eq!(at(&pieces, 18.60), Outcome::Undecided);
        assert_eq!(at(&pieces, 18.62), Outcome::Pass);
        let spread = Figure {
            low: Some((4.0_f64 / 11.143).sqrt()),
            high: Some((4.0_f64 / 0.484_42).sqrt()),
            ..Figure::symmetric(1.0, 0.35, 2.0, 5, "")
        }
        .shrinking(Shrink::by(Law::Spread, Evidence::Returns, 5.0, 0.0));
        // sqrt(4 / 0.06392) = 7.911, sqrt(4 / 20.00) = 0.4472
        assert_eq!(at(&spread, 7.88), Outcome::Undecided);
        assert_eq!(at(&spread, 7.94), Outcome::Pass);
        assert_eq!(at(&spread, 0.449), Outcome::Undecided);
        assert_eq!(at(&spread, 0.445), Outcome::Fail);
    }

    #[test]
    fn counts_and_unknown_laws_wait_for_the_last_look() {
        let looks = Looks::between(6.0, 16.0, 2);
        let none = Limit::new(None, Some(0.0)).unwrap();
        let counted = Figure::counted(0.0, 6, "");
        assert_eq!(looks.outcome(0, none, &counted), Outcome::Undecided);
        assert_eq!(looks.outcome(1, none, &counted), Outcome::Pass);
        let figure = Figure::symmetric(-10.0, 1.0, 2.0, 3, "");
        assert_eq!(looks.outcome(0, none, &figure), Outcome::Undecided);
        assert_eq!(looks.outcome(1, none, &figure), Outcome::Pass);
    }
}
