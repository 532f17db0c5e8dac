//! What the true deviations may look like behind noisy ones: the shapes that the interval of their largest is made for.
//!
//! Belongs here: the smooth curve that the noise justifies, how well its peaks are told apart, points raised to the
//! top where they are not. Does not belong here: the interval (`bootstrap`), the lines (`line`).
//!
//! How much too high the largest of many noisy deviations reads depends on how many of the true ones compete to be the
//! largest. Which do is not known, so for the low end every point that is not clearly below the top is put nearer to
//! it: by [`SLACK`] standard uncertainties of the difference between the two, and no higher than the top. (Selection of the
//! binding inequalities: Andrews and Soares, Econometrica 78 (2010) 119; with the uncertainty of an estimated curve,
//! which shrinks where many points support few coefficients: Chernozhukov, Lee and Rosen, Econometrica 81 (2013) 667.)

use super::bootstrap::Shapes;
use super::polynomials::{self, justified};
use super::stats::real;

/// Polynomials up to this many coefficients are tried.
const MOST_COEFFICIENTS: usize = 12;

/// Points that a polynomial has to have more than coefficients.
const SPARE: usize = 3;

/// Standard uncertainties of its distance to the top by which a point is raised.
const SLACK: f64 = 2.0;

/// Draws that the uncertainty of a distance is taken from: known to 6 %.
const FOR_SLACK: usize = 128;

/// Step of the numerical derivative of the deviations, in draws of noise.
const SMALL: f64 = 1e-4;

/// The shapes behind `value` at `x`, each with standard uncertainty `sd`; `deviation` takes out the line that the
/// figure is about. `None` when the points carry no line.
pub(super) fn shapes(
    x: &[f64],
    value: &[f64],
    sd: &[f64],
    draws: &[Vec<f64>],
    deviation: impl Fn(&[f64]) -> Option<Vec<f64>>,
) -> Option<Shapes> {
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
    Some(Shapes {
        raised: raised(&likely, &moved),
        single: single(&seen),
        seen,
        likely,
    })
}

/// Largest absolute value; 0 for none.
pub(super) fn largest(deviation: &[f64]) -> f64 {
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
fn raised(deviation: &[f64], moved: &[Vec<f64>]) -> Vec<f64> {
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
            sign(i) * (deviation[i].abs() + SLACK * u).min(top)
        })
        .collect()
}

fn place_of_largest(deviation: &[f64]) -> Option<usize> {
    let by_size = deviation
        .iter()
        .enumerate()
        .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
    by_size.map(|(i, _)| i)
}

/// Zeros, but for the place of the largest deviation.
fn single(deviation: &[f64]) -> Vec<f64> {
    let largest = place_of_largest(deviation);
    (0..deviation.len())
        .map(|i| if Some(i) == largest { 1.0 } else { 0.0 })
        .collect()
}
