//! What the true deviations may look like behind noisy ones: the candidates that the interval of their largest is made for.
//!
//! How much too high the largest of many noisy deviations reads depends on how many of the true ones compete to be the
//! largest. Which do is not known, so for the low end every point that is not clearly below the top is put nearer to
//! it: by `slack` standard uncertainties of the difference between the two, and no higher than the top. (Selection of the
//! binding inequalities: Andrews and Soares, Econometrica 78 (2010) 119; with the uncertainty of an estimated curve,
//! which shrinks where many points support few coefficients: Chernozhukov, Lee and Rosen, Econometrica 81 (2013) 667.)

use crate::measure::statistics::bootstrap::Candidates;
use crate::measure::statistics::moments::real;
use crate::measure::statistics::polynomials::{self, justified};

/// Polynomials up to this many coefficients are tried.
const MOST_COEFFICIENTS: usize = 12;

/// Points that a polynomial has to have more than coefficients.
const SPARE: usize = 3;

/// Draws that the uncertainty of a distance is taken from: known to 6 %.
const FOR_SLACK: usize = 128;

/// Step of the numerical derivative of the deviations, in draws of noise.
const SMALL: f64 = 1e-4;

/// The candidates behind `value` at `x`, each with standard uncertainty `sd`; `deviation` takes out the line that the
/// figure is about; `slack` as in `bootstrap::Tails`. `None` when the points carry no line.
pub(crate) fn candidates(
    x: &[f64],
    value: &[f64],
    sd: &[f64],
    draws: &[Vec<f64>],
    slack: f64,
    deviation: impl Fn(&[f64]) -> Option<Vec<f64>>,
) -> Option<Candidates> {
    let seen = deviation(value)?;
    let smooth = smooth(x, &seen, sd).and_then(|(coefficients, fitted)| {
        let likely = deviation(&fitted)?;
        // Straight where it is within a hair: then it is as seen.
        (largest(&likely) > 1e-9 * largest(&seen)).then_some((coefficients, likely))
    });
    let (coefficients, likely) = match smooth {
        Some((coefficients, likely)) => (Some(coefficients), likely),
        None => (None, seen.clone()),
    };
    let moved: Vec<Vec<f64>> = draws
        .iter()
        .take(FOR_SLACK)
        .filter_map(|draw| {
            let noise = match coefficients {
                Some(most) => polynomials::fits(x, draw, sd, most).pop()?.fitted,
                None => draw.clone(),
            };
            let near: Vec<f64> = likely
                .iter()
                .zip(&noise)
                .map(|(d, e)| d + SMALL * e)
                .collect();
            let there = deviation(&near)?;
            Some(
                there
                    .iter()
                    .zip(&likely)
                    .map(|(a, b)| (a - b) / SMALL)
                    .collect(),
            )
        })
        .collect();
    Some(Candidates {
        raised: raised(&likely, &moved, slack),
        singles: singles(&seen),
        seen,
        likely,
    })
}

/// Share by which two deviations that are as large may differ for rounding.
const AS_LARGE: f64 = 1e-9;

/// Largest absolute value; 0 for none.
pub(crate) fn largest(deviation: &[f64]) -> f64 {
    deviation.iter().map(|d| d.abs()).fold(0.0, f64::max)
}

/// The polynomial that the noise justifies: how many coefficients, and its values.
fn smooth(x: &[f64], deviation: &[f64], sd: &[f64]) -> Option<(usize, Vec<f64>)> {
    if sd.iter().any(|&sd| sd <= 0.0) {
        return None;
    }
    let most = MOST_COEFFICIENTS.min(x.len().checked_sub(SPARE)?);
    justified(x, deviation, sd, most).map(|fit| (fit.coefficients, fit.fitted))
}

/// Deviations raised towards the largest; `moved` are draws of their noise.
fn raised(deviation: &[f64], moved: &[Vec<f64>], slack: f64) -> Vec<f64> {
    let Some(at) = place_of_largest(deviation) else {
        return Vec::new();
    };
    let top = deviation[at].abs();
    let sign = |i: usize| deviation[i].signum();
    (0..deviation.len())
        .map(|i| {
            let squares: f64 = moved
                .iter()
                .map(|noise| (sign(i) * noise[i] - sign(at) * noise[at]).powi(2))
                .sum();
            let u = (squares / real(moved.len().max(1))).sqrt();
            sign(i) * (deviation[i].abs() + slack * u).min(top)
        })
        .collect()
}

fn place_of_largest(deviation: &[f64]) -> Option<usize> {
    places_of_largest(deviation).first().copied()
}

/// Where the deviation is largest: several places where they are as large. The straightest line leaves three of them (Chebyshev), and
/// which is the largest is a matter of the last digit.
fn places_of_largest(deviation: &[f64]) -> Vec<usize> {
    let most = largest(deviation) * (1.0 - AS_LARGE);
    (0..deviation.len())
        .filter(|at| deviation[*at].abs() >= most)
        .collect()
}

/// Zeros, but for a place of the largest deviation: each of them.
fn singles(deviation: &[f64]) -> Vec<Vec<f64>> {
    let single = |at: usize| {
        let mut single = vec![0.0; deviation.len()];
        single[at] = 1.0;
        single
    };
    places_of_largest(deviation)
        .into_iter()
        .map(single)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn where_several_are_largest_each_may_be_the_single_one() {
        let third = 1.0 / 3.0;
        let found = singles(&[third, 0.1, -third * (1.0 + 1e-15), third]);
        assert_eq!(
            found,
            [
                [1.0, 0.0, 0.0, 0.0],
                [0.0, 0.0, 1.0, 0.0],
                [0.0, 0.0, 0.0, 1.0]
            ]
        );
        assert_eq!(singles(&[]), Vec::<Vec<f64>>::new());
    }

    /// By hand: the top is 1, at the second point. Two draws of noise, 0.1 up and 0.1 down, move it and the third
    /// point alike, so that those two keep their distance (u = 0, the third stays 0.5), and leave the others (u = 0.1: raised by
    /// three of them, 0.3, the first to 0.3 and the last from -0.9 to no more than the top, -1).
    #[test]
    fn raised_by_three_uncertainties_of_the_distance_and_no_higher_than_the_top() {
        let x = [0.0, 1.0, 2.0, 3.0];
        let value = [0.0, 1.0, 0.5, -0.9];
        let draws = vec![vec![0.0, 0.1, 0.1, 0.0], vec![0.0, -0.1, -0.1, 0.0]];
        // No polynomial without a standard uncertainty: as seen.
        let found = candidates(&x, &value, &[0.0; 4], &draws, 3.0, |y| Some(y.to_vec())).unwrap();
        assert_eq!(found.seen, value);
        assert_eq!(found.likely, value);
        assert_eq!(found.singles, [[0.0, 1.0, 0.0, 0.0]]);
        for (raised, by_hand) in found.raised.iter().zip([0.3, 1.0, 0.5, -1.0]) {
            assert!((raised - by_hand).abs() < 1e-9, "{:?}", found.raised);
        }
    }

    /// By hand: 0, 1, 4, 9 and so on lie on a parabola; the line through both ends of 0 to 7 is 7 x and the largest
    /// deviation from it 12, at 3 and at 4.
    #[test]
    fn a_bow_is_smooth_and_its_two_tops_are_level() {
        let x: Vec<f64> = (0..8).map(f64::from).collect();
        let value: Vec<f64> = x.iter().map(|x| x * x).collect();
        let draws = vec![vec![0.0; 8]; 2];
        let found = candidates(&x, &value, &[0.01; 8], &draws, 3.0, |y| {
            let slope = (y.last()? - y.first()?) / 7.0;
            let line = |x: f64| y[0] + slope * x;
            Some(x.iter().zip(y).map(|(&x, y)| y - line(x)).collect())
        });
        let found = found.unwrap();
        assert!((largest(&found.likely) - 12.0).abs() < 1e-9);
        assert!((found.raised[3] + 12.0).abs() < 1e-9 && (found.raised[4] + 12.0).abs() < 1e-9);
    }

    #[test]
    fn none_flat_and_no_line() {
        let same = |y: &[f64]| Some(y.to_vec());
        let none = candidates(&[], &[], &[], &[], 3.0, same).unwrap();
        assert!(none.raised.is_empty() && largest(&none.seen).abs() < 1e-12);
        let flat = candidates(
            &[0.0, 1.0],
            &[0.0; 2],
            &[0.1; 2],
            &[vec![0.2; 2]],
            3.0,
            same,
        )
        .unwrap();
        assert_eq!(flat.raised, [0.0; 2]);
        assert!(candidates(&[0.0], &[1.0], &[0.1], &[], 3.0, |_| None).is_none());
    }
}
