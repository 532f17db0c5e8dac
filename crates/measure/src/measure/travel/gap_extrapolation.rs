//! The gap between both branches, carried on to where only one of them was measured.

use crate::measure::statistics::moments::real;
use crate::measure::statistics::polynomials::{self, fits, justified};
use crate::measure::travel::nodes::{Row, Series, sum};

/// The gap is carried on by a polynomial of up to this many coefficients.
const MOST_COEFFICIENTS: usize = 3;

/// The gap carried on to positions where only one branch is known.
pub(crate) struct GapExtrapolation<'a> {
    gap: &'a Series,
    /// Coefficients of the polynomial that follows the gap, if one does.
    coefficients: Option<usize>,
}

impl<'a> GapExtrapolation<'a> {
    pub fn new(gap: &'a Series) -> Self {
        let n = gap.travel.len();
        let known = n > MOST_COEFFICIENTS && gap.sd.iter().all(|&sd| sd > 0.0);
        // A level gap chosen for want of noise-proof bend would shift an end of a gap that closes by more than its
        // uncertainty says: many positions carry the parabola anyhow, it costs little there.
        let fit = if known && n > 2 * MOST_COEFFICIENTS {
            fits(&gap.travel, &gap.value, &gap.sd, MOST_COEFFICIENTS).pop()
        } else if known {
            justified(&gap.travel, &gap.value, &gap.sd, MOST_COEFFICIENTS)
        } else {
            None
        };
        let coefficients = fit
            .filter(|fit| {
                // Follows it: chi-square no further than 4 sd above what it should be.
                let dof = real(n - fit.coefficients);
                fit.chi_square <= dof + 4.0 * (2.0 * dof).sqrt()
            })
            .map(|fit| fit.coefficients);
        Self { gap, coefficients }
    }

    /// The gap at a position; empty (no gap) when it is known nowhere or at one position only.
    pub fn at(&self, x: f64) -> Row {
        let Some(coefficients) = self.coefficients else {
            return self.linear_at(x);
        };
        let weights = polynomials::weights(&self.gap.travel, &self.gap.sd, coefficients, x);
        weights
            .iter()
            .zip(&self.gap.rows)
            .fold(Row::new(), |row, (&w, of)| sum(&row, 1.0, of, w))
    }

    /// Between known gaps in a straight line; beyond them in the straight line through the nearest and one that lies
    /// as far behind it, or level when none does.
    fn linear_at(&self, x: f64) -> Row {
        let (travel, rows) = (&self.gap.travel, &self.gap.rows);
        let last = match travel.len() {
            0 | 1 => return Row::new(),
            n => n - 1,
        };
        let straight = |a: usize, b: usize| {
            let share = (x - travel[a]) / (travel[b] - travel[a]);
            sum(&rows[a], 1.0 - share, &rows[b], share)
        };
        let after = travel.partition_point(|&at| at < x);
        if (1..=last).contains(&after) {
            return straight(after - 1, after);
        }
        let near = if after == 0 { 0 } else { last };
        let reach = (travel[near] - x).abs();
        let far = |i: &usize| (travel[*i] - travel[near]).abs() >= reach && *i != near;
        let behind = if near == 0 {
            (0..=last).find(far)
        } else {
            (0..=last).rev().find(far)
        };
        behind.map_or_else(|| rows[near].clone(), |far| straight(near, far))
    }
}
