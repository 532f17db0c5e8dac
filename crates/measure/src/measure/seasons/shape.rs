//! Whether a straight line may be laid through a course at all: it jumped, it bends, or neither can be shown.
//!
//! All with equal weights and a variance that is what the fit leaves over, at least the mean square of the points' own
//! uncertainties; every test at 5 % unless said.
//!
//! Sources: the bend by Student's t of the square's factor (any text on least squares; JCGM 100 G.3 for t); the last step by
//! the prediction of a further value from a line (NIST/SEMATECH handbook 4.5.1.2); the runs of the signs of what is left,
//! exactly, after A. Wald and J. Wolfowitz, Annals of Mathematical Statistics 11 (1940) 147; a jump by the best of all places
//! for it (R. E. Quandt, J. Am. Stat. Assoc. 55 (1960) 324), its chance times the number of places, after Bonferroni.

use super::fit::Fit;
use crate::measure::statistics::interval::{t_quantile, t_tail};
use crate::measure::statistics::moments::{mean, real};

/// Fewest points that can show more than a straight line.
const FEWEST: usize = 4;

/// Chance of calling a straight line bent towards where it goes; of calling what only scatters a jump; and of calling a line
/// a line that jumped, which has two more unknowns.
const BENT: f64 = 0.05;
const JUMPED: f64 = 0.05;
const LINE_JUMPED: f64 = 0.01;
/// Chances of the last step, and of few runs.
const LAST: f64 = 0.025;
const RUNS: f64 = 0.025;

/// What a course looks like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// Nothing speaks against a straight line, or the points are too few.
    Straight,
    /// It goes the faster the longer it goes.
    Faster,
    /// It stood at one level or on one line and goes on from another.
    Jumped {
        /// The first point after it.
        at: usize,
        /// By how much.
        by: f64,
    },
}

/// The shape of a course of values at times, each known to a root mean square of `u`.
#[must_use]
pub fn shape(times: &[f64], values: &[f64], u: f64) -> Shape {
    if times.len() < FEWEST {
        return Shape::Straight;
    }
    let middle = mean(times);
    let x: Vec<f64> = times.iter().map(|t| t - middle).collect();
    let least = u * u;
    let line = Fit::of(&x.iter().map(|x| [1.0, *x]).collect::<Vec<_>>(), values);
    let bend = bent(&x, values);
    let (Some(line), Some(bend)) = (line, bend) else {
        return Shape::Straight;
    };
    if let Some(jumped) = jumped(&x, values, least, (&line, &bend)) {
        return jumped;
    }
    let onwards = direction(&x, values);
    let curve = bend.factor(2) / (bend.variance(least) * bend.share(&[0.0, 0.0, 1.0])).sqrt();
    let faster = curve * onwards > t_quantile(1.0 - BENT, bend.dof);
    if faster || last_step(&x, values, least, onwards) || few_runs(&line, &x, values, onwards) {
        Shape::Faster
    } else {
        Shape::Straight
    }
}

/// A parabola through all.
pub(super) fn bent(x: &[f64], values: &[f64]) -> Option<Fit<3>> {
    let rows: Vec<[f64; 3]> = x.iter().map(|x| [1.0, *x, x * x]).collect();
    Fit::of(&rows, values)
}

/// A line through the last three: where it goes now.
pub(super) fn recent(x: &[f64], values: &[f64]) -> Option<Fit<2>> {
    let from = x.len().checked_sub(3)?;
    let rows: Vec<[f64; 2]> = x[from..].iter().map(|x| [1.0, *x]).collect();
    Fit::of(&rows, &values[from..])
}

/// 1 or -1: which way the last three go.
fn direction(x: &[f64], values: &[f64]) -> f64 {
    recent(x, values).map_or(0.0, |fit| fit.factor(1).signum())
}

/// Two levels instead of a line, or a line with a step in it, when that says more than a line and than a bend.
fn jumped(
    x: &[f64],
    values: &[f64],
    least: f64,
    (line, bend): (&Fit<2>, &Fit<3>),
) -> Option<Shape> {
    let n = x.len();
    let after = |i: usize, at: usize| if i >= at { 1.0 } else { 0.0 };
    let best = |fits: Vec<(usize, f64, f64)>| fits.into_iter().min_by(|a, b| a.1.total_cmp(&b.1));
    // The chance of so much less being left over when there is no step: the square of Student's t, twice its tail, all places.
    let chance = |without: f64, left: f64, dof: f64| {
        let t = ((without - left).max(0.0) / (left / dof).max(least)).sqrt();
        2.0 * t_tail(t, dof) * real(n - 1)
    };
    let level = mean(values);
    let about_level = values.iter().map(|v| (v - level).powi(2)).sum::<f64>();
    let steps = (1..n).filter_map(|at| {
        let rows: Vec<[f64; 2]> = (0..n).map(|i| [1.0, after(i, at)]).collect();
        Fit::of(&rows, values).map(|fit| (at, fit.rest, fit.factor(1)))
    });
    let (at, rest, by) = best(steps.collect())?;
    let dof = real(n - 2);
    let says_more = rest < line.rest && rest / dof <= bend.variance(least);
    if says_more && chance(about_level, rest, dof) < JUMPED {
        return Some(Shape::Jumped { at, by });
    }
    let steps = (1..n).filter_map(|at| {
        let rows: Vec<[f64; 3]> = (0..n).map(|i| [1.0, x[i], after(i, at)]).collect();
        Fit::of(&rows, values)
            .filter(|fit| fit.dof > 1.0)
            .map(|fit| (at, fit.rest, fit.factor(2)))
    });
    let (at, rest, by) = best(steps.collect())?;
    let sure = rest < bend.rest && chance(line.rest, rest, real(n - 3)) < LINE_JUMPED;
    sure.then_some(Shape::Jumped { at, by })
}

/// Whether the last value lies further on than the line through all before it foretells.
fn last_step(x: &[f64], values: &[f64], least: f64, onwards: f64) -> bool {
    let n = x.len() - 1;
    let rows: Vec<[f64; 2]> = x.iter().map(|x| [1.0, *x]).collect();
    Fit::of(&rows[..n], &values[..n]).is_some_and(|before| {
        let away = values[n] - before.at(&rows[n]);
        let variance = before.variance(least) * (1.0 + before.share(&rows[n]));
        onwards * away / variance.sqrt() > t_quantile(1.0 - LAST, before.dof)
    })
}

/// Whether what the line leaves over changes its sign too seldom for chance, and lies beyond the line at its end.
fn few_runs(line: &Fit<2>, x: &[f64], values: &[f64], onwards: f64) -> bool {
    let above: Vec<bool> = x
        .iter()
        .zip(values)
        .map(|(x, v)| *v > line.at(&[1.0, *x]))
        .collect();
    let runs = 1 + above.windows(2).filter(|pair| pair[0] != pair[1]).count();
    let ups = above.iter().filter(|up| **up).count();
    let beyond = above.last() == Some(&(onwards > 0.0));
    beyond && chance_of_runs(runs, ups, above.len() - ups) < RUNS
}

/// Chance of so few runs or fewer among `a` signs of one sort and `b` of the other, in any order alike (Wald and Wolfowitz).
fn chance_of_runs(most: usize, a: usize, b: usize) -> f64 {
    let choose =
        |n: usize, k: usize| -> f64 { (0..k).map(|i| real(n - i) / real(i + 1)).product() };
    let of = |n: usize, k: usize| {
        if k == 0 || k > n {
            0.0
        } else {
            choose(n - 1, k - 1)
        }
    };
    if a == 0 || b == 0 {
        return 1.0;
    }
    let all = choose(a + b, a);
    let exactly = |runs: usize| {
        let half = runs / 2;
        if runs.is_multiple_of(2) {
            2.0 * of(a, half) * of(b, half)
        } else {
            of(a, half + 1) * of(b, half) + of(a, half) * of(b, half + 1)
        }
    };
    (2..=most).map(|runs| exactly(runs) / all).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(values: &[f64], u: f64) -> Shape {
        let times: Vec<f64> = (0..values.len()).map(real).collect();
        shape(&times, values, u)
    }

    #[test]
    fn the_three_shapes() {
        assert_eq!(of(&[1.0, 2.02, 2.99, 4.0, 5.01], 0.02), Shape::Straight);
        // The squares of 0 .. 5, and a course that wears only from its fourth year on.
        assert_eq!(
            of(&[0.0, 1.02, 3.97, 9.0, 16.01, 25.0], 0.02),
            Shape::Faster
        );
        let Shape::Jumped { at, by } = of(&[1.0, 1.02, 0.99, 2.0, 2.01], 0.02) else {
            panic!("no jump");
        };
        assert!(at == 3 && (by - 1.0).abs() < 0.02, "{at} {by}");
        assert_eq!(of(&[1.0, 1.02, 0.99, 1.01, 1.0], 0.02), Shape::Straight);
        // Worn, replaced, worn again: a line that falls back once.
        let saw = of(&[1.0, 1.5, 2.01, 2.5, 1.0, 1.49, 2.0, 2.5], 0.02);
        assert!(matches!(saw, Shape::Jumped { at: 4, .. }), "{saw:?}");
    }

    #[test]
    fn too_few_points_and_points_of_one_time_show_nothing() {
        assert_eq!(of(&[0.0, 1.0, 9.0], 0.01), Shape::Straight);
        assert_eq!(
            shape(&[1.0; 5], &[1.0, 2.0, 3.0, 4.0, 5.0], 0.1),
            Shape::Straight
        );
        assert_eq!(of(&[3.0; 6], 0.0), Shape::Straight);
    }

    /// Swed and Eisenhart, Annals of Mathematical Statistics 14 (1943) 66, table I, from memory and worked again by hand: of 4 and 4,
    /// two runs or fewer 2/70 = 0.0286; of 5 and 5, three or fewer (2 + 8)/252 = 0.0397; of 3 and 5, two or fewer 2/56.
    #[test]
    fn runs_by_hand() {
        assert!((chance_of_runs(2, 4, 4) - 2.0 / 70.0).abs() < 1e-12);
        assert!((chance_of_runs(3, 5, 5) - 10.0 / 252.0).abs() < 1e-12);
        assert!((chance_of_runs(2, 3, 5) - 2.0 / 56.0).abs() < 1e-12);
        assert!((chance_of_runs(8, 4, 4) - 1.0).abs() < 1e-12);
        assert!((chance_of_runs(1, 4, 0) - 1.0).abs() < 1e-12);
    }
}
