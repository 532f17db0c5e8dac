//! Fewest straight pieces that follow a curve within a stated error, exactly: shortest path over allowed segments.
//!
//! Knots lie at samples and on the curve, the first and the last sample are knots. The error is that at the samples.

/// Relative slack, so that a curve that just keeps the error is not refused for rounding.
const SLACK: f64 = 1e-12;

/// Samples, growing, whose points joined by straight lines keep within `max_error` of every sample: as few as can be.
/// O(n^2).
///
/// `None` for fewer than two samples, unequal lengths, x that does not grow strictly, a negative error or values that
/// are not finite.
#[must_use]
pub fn fewest_knots(x: &[f64], y: &[f64], max_error: f64) -> Option<Vec<usize>> {
    let error = bound(x, y, max_error)?;
    let n = x.len();
    // Fewest segments from the first sample to each, and the knot before it.
    let mut best: Vec<(usize, usize)> = vec![(usize::MAX, 0); n];
    best[0] = (0, 0);
    for i in 0..n - 1 {
        // Segments are counted in order, and every sample can be reached by single steps.
        let segments = best[i].0 + 1;
        let (mut least, mut most) = (f64::NEG_INFINITY, f64::INFINITY);
        for j in i + 1..n {
            let run = x[j] - x[i];
            let slope = (y[j] - y[i]) / run;
            let room = error * SLACK / run;
            if slope >= least - room && slope <= most + room && segments < best[j].0 {
                best[j] = (segments, i);
            }
            least = least.max(slope - error / run);
            most = most.min(slope + error / run);
            if least > most {
                break;
            }
        }
    }
    let mut knots = vec![n - 1];
    while let Some(&last) = knots.last()
        && last > 0
    {
        knots.push(best[last].1);
    }
    knots.reverse();
    Some(knots)
}

/// The error with its slack, when there is a curve to follow.
fn bound(x: &[f64], y: &[f64], max_error: f64) -> Option<f64> {
    let finite = x.iter().chain(y).all(|v| v.is_finite()) && max_error.is_finite();
    let grows = x.windows(2).all(|w| w[0] < w[1]);
    let proper = x.len() == y.len() && x.len() >= 2 && finite && grows && max_error >= 0.0;
    proper.then_some(max_error * (1.0 + SLACK))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_needs_one_piece_and_a_corner_two() {
        let x: Vec<f64> = (0..9).map(f64::from).collect();
        let line: Vec<f64> = x.iter().map(|x| 3.0 - 2.0 * x).collect();
        assert_eq!(fewest_knots(&x, &line, 0.0).unwrap().len(), 2);
        let corner: Vec<f64> = x.iter().map(|x| (x - 4.0).abs()).collect();
        assert_eq!(fewest_knots(&x, &corner, 0.1).unwrap(), [0, 4, 8]);
    }

    #[test]
    fn what_is_no_curve() {
        assert!(fewest_knots(&[], &[], 1.0).is_none());
        assert!(fewest_knots(&[1.0], &[1.0], 1.0).is_none());
        assert!(fewest_knots(&[1.0, 1.0], &[1.0, 2.0], 1.0).is_none());
        assert!(fewest_knots(&[0.0, 1.0], &[1.0, f64::NAN], 1.0).is_none());
        assert!(fewest_knots(&[0.0, 1.0], &[1.0, 2.0], -1.0).is_none());
    }
}
