//! Local parabolas (Savitzky and Golay 1964): a smoother whose cost does not grow with its width.

use crate::measure::statistics::moments::real;

/// What is left of unit white noise after a smoothed curve is taken away.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ResidualResponse {
    /// Standard deviation of the residual for noise of standard deviation 1.
    pub sd: f64,
    /// Independent residuals per sample for a sum of squares: 1 / sum of squared autocorrelations.
    pub independent: f64,
}

/// The residual of [`LocalQuadratic`] of this half width under white noise.
pub fn residual_response(half: usize) -> ResidualResponse {
    // Of one value that stands alone: the window around it sees it at each of its places.
    let mut alone = vec![0.0; 4 * half + 1];
    alone[2 * half] = 1.0;
    let smooth = LocalQuadratic::new(half).smooth(&alone).unwrap_or_default();
    let mut response = alone[half..=3 * half].to_vec();
    for (left, smooth) in response.iter_mut().zip(&smooth[half..]) {
        *left -= smooth;
    }
    let product = |lag: usize| -> f64 {
        let shifted = response.iter().skip(lag);
        response.iter().zip(shifted).map(|(a, b)| a * b).sum()
    };
    let variance = product(0);
    let squares: f64 = (1..response.len())
        .map(|lag| 2.0 * (product(lag) / variance).powi(2))
        .sum();
    ResidualResponse {
        sd: variance.sqrt(),
        independent: 1.0 / (1.0 + squares),
    }
}

/// A parabola through `2 half + 1` values around each value, by least squares: value and slope at each place.
///
/// Three running sums make the cost per value independent of the width. They are begun afresh every few hundred
/// values, so that rounding does not pile up; of whole codes they are exact.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LocalQuadratic {
    half: usize,
    /// Half as a real number.
    m: f64,
    /// Sum of squared places.
    q2: f64,
    /// Reciprocals of the number of places, of `q2`, and of the equations' determinant.
    per_n: f64,
    per_q2: f64,
    per_det: f64,
}

/// Sums of a window: of values, of values times place, of values times squared place.
#[derive(Clone, Copy)]
struct Sums {
    s0: f64,
    s1: f64,
    s2: f64,
}

fn value([c0, c1, c2]: [f64; 3], place: f64) -> f64 {
    c0 + place * (c1 + place * c2)
}

fn slope([_, c1, c2]: [f64; 3], place: f64) -> f64 {
    c1 + 2.0 * place * c2
}

impl LocalQuadratic {
    /// Values after which the running sums are begun afresh.
    const AFRESH: usize = 512;

    /// A smoother over `2 half + 1` values; at least 5, since three make every parabola exact.
    pub fn new(half: usize) -> Self {
        let half = half.max(2);
        let m = real(half);
        let n = 2.0 * m + 1.0;
        let q2 = m * (m + 1.0) * n / 3.0;
        let q4 = q2 * (3.0 * m * m + 3.0 * m - 1.0) / 5.0;
        Self {
            half,
            m,
            q2,
            per_n: 1.0 / n,
            per_q2: 1.0 / q2,
            per_det: 1.0 / (n * q4 - q2 * q2),
        }
    }

    /// Values on each side of the centre.
    pub fn half(self) -> usize {
        self.half
    }

    /// Smoothed values, as many as `y`. The first and last `half` come from the parabola of the first and last full
    /// window. `None` when there are fewer than `2 half + 1` values.
    pub fn smooth(self, y: &[f64]) -> Option<Vec<f64>> {
        self.run(y, |curve, place, offset| value(curve, place) + offset)
    }

    /// Slopes per step of the same parabolas. `None` as for [`Self::smooth`].
    pub fn slope(self, y: &[f64]) -> Option<Vec<f64>> {
        self.run(y, |curve, place, _| slope(curve, place))
    }

    /// [`Self::smooth`] and [`Self::slope`] for little more than the price of one.
    pub fn both(self, y: &[f64]) -> Option<(Vec<f64>, Vec<f64>)> {
        let mut slopes = Vec::with_capacity(y.len());
        let values = self.run(y, |curve, place, offset| {
            slopes.push(slope(curve, place));
            value(curve, place) + offset
        })?;
        Some((values, slopes))
    }

    /// What `read` makes of each value's parabola, place on it, and what was taken off all values.
    fn run(self, y: &[f64], mut read: impl FnMut([f64; 3], f64, f64) -> f64) -> Option<Vec<f64>> {
        let width = 2 * self.half + 1;
        if y.len() < width {
            return None;
        }
        // An offset near the values keeps the digits of the sums.
        let offset = y[0];
        let windows = y.len() - width + 1;
        let mut out = Vec::with_capacity(y.len());
        let first = self.curve(self.sums(&y[..width], offset));
        out.extend((0..self.half).map(|k| read(first, real(k) - self.m, offset)));
        let stretch = Self::AFRESH.max(width);
        for start in (0..windows).step_by(stretch) {
            let end = (start + stretch).min(windows);
            let mut sums = self.sums(&y[start..start + width], offset);
            out.push(read(self.curve(sums), 0.0, offset));
            let leaves = &y[start..end - 1];
            let enters = &y[start + width..end - 1 + width];
            out.extend(leaves.iter().zip(enters).map(|(leaves, enters)| {
                sums = self.shift(sums, leaves - offset, enters - offset);
                read(self.curve(sums), 0.0, offset)
            }));
        }
        let last = self.curve(self.sums(&y[windows - 1..], offset));
        out.extend((1..=self.half).map(|k| read(last, real(k), offset)));
        Some(out)
    }

    fn sums(self, window: &[f64], offset: f64) -> Sums {
        let mut sums = Sums {
            s0: 0.0,
            s1: 0.0,
            s2: 0.0,
        };
        for (k, y) in window.iter().enumerate() {
            let (place, value) = (real(k) - self.m, y - offset);
            sums.s0 += value;
            sums.s1 += place * value;
            sums.s2 += place * place * value;
        }
        sums
    }

    /// One addition to each sum waits for the sample before: the brackets matter to the speed.
    fn shift(self, sums: Sums, leaves: f64, enters: f64) -> Sums {
        let m = self.m;
        let stays = sums.s0 - leaves;
        Sums {
            s0: sums.s0 + (enters - leaves),
            s1: sums.s1 + (m * (enters + leaves) - stays),
            s2: sums.s2 + ((m * m * (enters - leaves) + stays) - 2.0 * (sums.s1 + m * leaves)),
        }
    }

    /// Coefficients of 1, place and place squared.
    fn curve(self, sums: Sums) -> [f64; 3] {
        let n = 2.0 * self.m + 1.0;
        let c2 = (n * sums.s2 - self.q2 * sums.s0) * self.per_det;
        [
            (sums.s0 - c2 * self.q2) * self.per_n,
            sums.s1 * self.per_q2,
            c2,
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::reference_file::{numbers, reference};

    #[test]
    fn the_filtered_series() {
        // tests/reference/13: scipy savgol_filter, mode interp.
        let file = reference("13-savitzky-golay.json");
        let y = numbers(&file["inputs"]["y"]);
        for (half, key) in [
            (2, "width 5 degree 2 interp"),
            (3, "width 7 degree 2 interp"),
        ] {
            let got = LocalQuadratic::new(half).smooth(&y).unwrap();
            let want = numbers(&file["expected"]["filtered"][key]);
            assert_eq!(got.len(), want.len());
            for (got, want) in got.iter().zip(&want) {
                assert!((got - want).abs() < 1e-9, "{key}: {got} {want}");
            }
        }
    }

    #[test]
    fn a_parabola_passes_unchanged_however_long() {
        // Closed form: a least-squares parabola reproduces a parabola; its slope is known.
        let place = |i: usize| real(i) / 1000.0;
        let y: Vec<f64> = (0..5000)
            .map(|i| 4_000_000.0 + 700.0 * place(i) - 300.0 * place(i).powi(2))
            .collect();
        let smoother = LocalQuadratic::new(40);
        let (smooth, slope) = (smoother.smooth(&y).unwrap(), smoother.slope(&y).unwrap());
        for i in 0..y.len() {
            assert!((smooth[i] - y[i]).abs() < 1e-6);
            assert!((slope[i] - (0.7 - 0.6 * place(i))).abs() < 1e-6);
        }
    }

    #[test]
    fn what_is_left_of_white_noise() {
        // Five points: residual = 3/35 (1 -4 6 -4 1); its variance 18/35, its autocorrelations 70 -56 28 -8 1 over 70.
        let left = residual_response(2);
        assert!((left.sd - (18.0_f64 / 35.0).sqrt()).abs() < 1e-12);
        let squares = 1.0 + 2.0 * (56.0_f64.powi(2) + 28.0_f64.powi(2) + 65.0) / 4900.0;
        assert!((left.independent - 1.0 / squares).abs() < 1e-12);
    }

    #[test]
    fn too_few_values_are_not_smoothed() {
        assert_eq!(LocalQuadratic::new(2).smooth(&[1.0; 4]), None);
        assert_eq!(
            LocalQuadratic::new(0).smooth(&[1.0; 5]),
            Some(vec![1.0; 5]),
            "a half width below 2 is raised to 2"
        );
        assert_eq!(LocalQuadratic::new(2).slope(&[]), None);
    }
}
