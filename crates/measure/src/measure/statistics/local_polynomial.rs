//! A polynomial of low degree in time by least squares, its slope and how well it is known.

use crate::measure::statistics::linear_system::{Equations, solve};

/// A polynomial of degree up to 3 in time.
pub(crate) struct LocalPolynomial {
    centre: f64,
    reach: f64,
    terms: [f64; 4],
    /// The equations that gave the terms, and how many.
    rows: Equations,
    size: usize,
}

impl LocalPolynomial {
    /// Least squares; `None` when the points do not determine it.
    pub fn fit<I: DoubleEndedIterator<Item = (f64, f64)>>(
        degree: usize,
        points: impl Fn() -> I,
    ) -> Option<Self> {
        let (first, offset) = points().next()?;
        let last = points().next_back()?.0;
        let (centre, reach) = (f64::midpoint(first, last), (last - first) / 2.0);
        if reach <= 0.0 {
            return None;
        }
        let size = degree + 1;
        // Sums of the powers of time, and of their products with the values.
        let (mut sums, mut right) = ([0.0; 7], [0.0; 4]);
        points().for_each(|(t, y)| {
            let u = (t - centre) / reach;
            let low = [1.0, u, u * u, u * u * u];
            let high = [low[3] * u, low[3] * low[2], low[3] * low[3]];
            for (sum, power) in sums.iter_mut().zip(low.into_iter().chain(high)) {
                *sum += power;
            }
            for (sum, power) in right.iter_mut().zip(low) {
                *sum += power * (y - offset);
            }
        });
        let mut rows = [[0.0; 5]; 4];
        for (i, row) in rows[..size].iter_mut().enumerate() {
            row[..size].copy_from_slice(&sums[i..i + size]);
            row[4] = right[i];
        }
        let mut terms = solve(&rows, size)?;
        terms[0] += offset;
        Some(Self {
            centre,
            reach,
            terms,
            rows,
            size,
        })
    }

    /// Number of terms.
    pub fn size(&self) -> usize {
        self.size
    }

    /// Standard uncertainty of the polynomial at a time, for points of standard uncertainty 1.
    pub fn spread(&self, t: f64) -> f64 {
        let u = (t - self.centre) / self.reach;
        let powers = [1.0, u, u * u, u * u * u];
        let mut rows = self.rows;
        for (row, p) in rows.iter_mut().zip(powers) {
            row[4] = p;
        }
        solve(&rows, self.size).map_or(f64::INFINITY, |terms| {
            let variance: f64 = terms.iter().zip(powers).map(|(a, p)| a * p).sum();
            variance.max(0.0).sqrt()
        })
    }

    /// Slope at a time.
    pub fn slope(&self, t: f64) -> f64 {
        let u = (t - self.centre) / self.reach;
        let [_, one, two, three] = self.terms;
        (one + u * (2.0 * two + u * 3.0 * three)) / self.reach
    }

    pub fn at(&self, t: f64) -> f64 {
        let u = (t - self.centre) / self.reach;
        self.terms
            .iter()
            .rev()
            .fold(0.0, |sum, term| sum * u + term)
    }
}

#[cfg(test)]
mod tests {
    use super::LocalPolynomial;

    #[test]
    fn a_cubic_is_found_again_and_a_line_has_its_known_uncertainty() {
        let points = || {
            (0..10).filter(|i| !(4..6).contains(i)).map(|i| {
                let t = f64::from(i);
                (t, 1000.0 + 3.0 * t - 0.5 * t * t + 0.1 * t * t * t)
            })
        };
        let curve = LocalPolynomial::fit(3, points).unwrap();
        // Hand-worked at t = 5: 1000 + 15 - 12.5 + 12.5.
        assert!((curve.at(5.0) - 1015.0).abs() < 1e-9);
        // 3 - 5 + 7.5.
        assert!((curve.slope(5.0) - 5.5).abs() < 1e-9);
        // A line through four points at 0, 1, 2, 3: variance at t is 1/4 + (t - 1.5)^2 / 5.
        let line = LocalPolynomial::fit(1, || (0..4).map(|i| (f64::from(i), 0.0))).unwrap();
        assert!((line.spread(4.0) - 1.5_f64.sqrt()).abs() < 1e-12);
        assert!(LocalPolynomial::fit(1, || [(2.0, 1.0), (2.0, 3.0)].into_iter()).is_none());
        assert!(LocalPolynomial::fit(1, std::iter::empty::<(f64, f64)>).is_none());
    }
}
