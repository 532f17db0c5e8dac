//! What two visits to one part differ by though nothing changed: another day, a warmer shed, taken off and put back.
//!
//! The uncertainty of a visit is of its samples and presses; it does not know that the next visit finds another reference or
//! another hand. So a change counts from the edge of what visits differ by anyway: the null hypothesis is not "no difference" but "no
//! more than so much" (a shifted one, as in tests of equivalence: D. J. Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657). From three
//! differences on, the part itself says how far its visits lie apart.
//!
//! The amounts are common practice, no source: a reference or supply that is 0.2 % off between a cold and a warm day, a third of
//! a code of ten bits for where a control comes to rest, a fifth for noise, times and unevenness; more between boards.

use super::change::Change;
use crate::figure::{COVERAGE, FigureName, Sides, Unit};
use crate::measure::statistics::interval::{normal_cdf, normal_quantile, t_quantile};
use crate::measure::statistics::moments::{real, variance};
use crate::units::maths;

/// Share of a level that visits may differ by, with one board and with two.
const LEVEL: (f64, f64) = (0.002, 0.005);
/// Share of full scale beside it.
const OFFSET: (f64, f64) = (0.000_3, 0.001);
/// Share of what can only be too large.
const LOUD: (f64, f64) = (0.2, 0.4);
/// Milliseconds of lag, and percent a percent.
const LAG_MS: (f64, f64) = (0.5, 1.0);
const SUPPLY: (f64, f64) = (0.01, 0.02);
/// Fewest earlier differences that say how far a part's visits lie apart.
const FEWEST: usize = 2;
/// Degrees of freedom that the stated amount counts for. Common practice, no source.
const STATED: f64 = 4.0;
/// Chance that a part's own scatter alone is taken for a change.
const OWN: f64 = 0.025;

/// What `figure` of about `value` differs by between two visits anyway, on boards of `bits`; `other`: with two boards or two references.
#[must_use]
pub fn usual_difference(figure: FigureName, value: f64, bits: u32, other: bool) -> f64 {
    let of = |(same, other_board): (f64, f64)| if other { other_board } else { same };
    let facts = figure.facts();
    let scale = maths::exp2(f64::from(bits));
    match (facts.unit, facts.sides) {
        (Unit::Number | Unit::Code, Sides::Zero) => 0.0,
        (Unit::Bit, _) => maths::log2(1.0 + of(LOUD)),
        (_, Sides::Upper) => of(LOUD) * value.abs(),
        (Unit::Code | Unit::CodePerMinute, _) => of(LEVEL) * value.abs() + of(OFFSET) * scale,
        (Unit::Millisecond, _) => of(LAG_MS),
        (Unit::PercentPerPercent, _) => of(SUPPLY),
        _ => of(LEVEL) * value.abs() + of(OFFSET),
    }
}

/// Chance of a change at least as large when visits differ by up to `anyway`.
#[must_use]
pub fn chance_beyond(change: &Change, anyway: f64) -> f64 {
    let beyond = change.by.abs() - anyway;
    let reach = if change.by > 0.0 {
        change.by - change.low
    } else {
        change.high - change.by
    };
    match () {
        () if beyond <= 0.0 => 1.0,
        () if reach > 0.0 => {
            2.0 * normal_cdf(-normal_quantile(f64::midpoint(1.0, COVERAGE)) * beyond / reach)
        }
        () => 0.0,
    }
}

/// How far the visits of a part lie apart, as its differences between earlier ones say, about their mean: what moves steadily does not
/// scatter. At least `anyway`; `None` when the differences are too few or scatter less than that.
///
/// Few differences say little, so their variance is joined with that of the stated amount, taken for two standard deviations known by
/// `STATED` degrees of freedom: the moderated t of G. K. Smyth, Statistical Applications in Genetics and Molecular Biology 3 (2004) 3.
#[must_use]
pub fn own_difference(others: &[f64], anyway: f64) -> Option<f64> {
    if others.len() < FEWEST {
        return None;
    }
    let (dof, stated) = (real(others.len() - 1), (anyway / 2.0).powi(2));
    let own = variance(others);
    let joined = (STATED * stated + dof * own) / (STATED + dof);
    let reach = t_quantile(1.0 - OWN / 2.0, STATED + dof) * joined.sqrt();
    (own > stated).then_some(reach.max(anyway))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::seasons::change::{Estimate, change};

    fn by(from: f64, to: f64, half: f64) -> Change {
        let of = |value: f64| Estimate::new(value, Some(value - half), Some(value + half)).unwrap();
        change(of(from), of(to))
    }

    /// The cases that were found: ends 0.3 code apart, and another reference by 0.2 %, are no change; 3 codes are one.
    #[test]
    fn what_visits_differ_by_is_no_change_and_three_codes_are() {
        let chance = |from, to| {
            let change = by(from, to, 0.05);
            chance_beyond(
                &change,
                usual_difference(FigureName::FullCode, from, 10, false),
            )
        };
        assert!(chance(905.0, 905.3) > 0.99 && chance(905.0, 906.81) > 0.99);
        assert!(chance(905.0, 908.0) < 1e-6 && chance(163.0, 166.0) < 1e-6);
        // A fifth of the noise, and twice as much.
        let noise = |to| {
            chance_beyond(
                &by(1.0, to, 0.05),
                usual_difference(FigureName::NoiseRestRms, 1.0, 10, false),
            )
        };
        assert!(noise(1.2) > 0.99 && noise(2.0) < 1e-6);
    }

    /// By hand: 5 beyond 2 with a reach of sqrt 2 x 1.96 is 3 / 1.414 standard deviations: 2 x (1 - 0.98305) = 0.0339.
    #[test]
    fn the_chance_counts_from_the_edge() {
        assert!((chance_beyond(&by(0.0, 5.0, 1.96), 2.0) - 0.033_9).abs() < 1e-4);
        assert!((chance_beyond(&by(5.0, 0.0, 1.96), 2.0) - 0.033_9).abs() < 1e-4);
        assert!((chance_beyond(&by(0.0, 1.0, 0.0), 2.0) - 1.0).abs() < 1e-12);
        assert!(chance_beyond(&by(0.0, 3.0, 0.0), 2.0).abs() < 1e-12);
    }

    /// By hand: 5 and -5 have a variance of 50 with one degree of freedom, the stated 2 one of 1 with four: 54/5; Student's t of 0.9875 and 5
    /// degrees of freedom is 3.1634 (any table of two-sided 2.5 %).
    #[test]
    fn a_part_says_itself_how_far_its_visits_lie_apart() {
        let own = own_difference(&[5.0, -5.0], 2.0).unwrap();
        assert!((own - 3.163_4 * 10.8_f64.sqrt()).abs() < 1e-3, "{own}");
        // What moves steadily does not scatter.
        assert_eq!(own_difference(&[3.0, 3.1, 2.9], 2.0), None);
        assert_eq!(own_difference(&[30.0], 2.0), None);
    }
}
