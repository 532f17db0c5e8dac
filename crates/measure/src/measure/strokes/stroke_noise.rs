//! Noise along strokes: what is left of each stroke when a smooth movement is taken away.
//!
//! The smooth movement is a parabola over some 25 ms around each sample (five samples at least): a hand cannot do more
//! in that time, and a minimum-jerk stroke of 0.4 s leaves less than 1/50 000 of the span behind.

use crate::figure::{Evidence, Figure, Shrink};
use crate::measure::statistics::interval::coverage_factor;
use crate::measure::statistics::moments::real;
use crate::measure::statistics::robust::{mad_sd_about_zero, median};
use crate::measure::statistics::smooth::{LocalQuadratic, residual_response};
use crate::measure::strokes::path::{Piece, nearest};
use crate::measure::strokes::segment::Ends;
use crate::units::maths;
use std::ops::Range;

/// Half of the smoothing window in seconds.
const HALF_WINDOW_S: f64 = 0.012_5;
/// Samples of a block.
const BLOCK: usize = 16;
/// n times the relative variance of the root of a median of block variances: pi/2 (a median's price) over 2.
const MEDIAN_VARIANCE: f64 = std::f64::consts::FRAC_PI_4;

/// What a stroke leaves when a smooth movement is taken away, sample by sample.
#[derive(Debug, Clone)]
pub(crate) struct Residuals {
    /// Travel of the smoothed stroke, %; NaN where not smoothed.
    pub travel_pct: Vec<f64>,
    /// Departure from the smoothed stroke in codes, scaled so that white noise keeps its standard deviation; NaN where not
    /// smoothed (the first and last of an unbroken run) and where the signal had dropped out.
    pub code: Vec<f64>,
    /// The samples of the stroke proper: before and after them lies the dwell at its ends.
    pub core: Range<usize>,
    /// Independent residuals per sample.
    pub independent: f64,
    /// Seconds per sample.
    pub period: f64,
}

/// Samples on each side that the movement of a stroke of so many is smoothed over.
pub(crate) fn half_window(samples: usize, period: f64) -> usize {
    nearest(HALF_WINDOW_S / period).min(samples / 16).max(2)
}

impl Residuals {
    /// Of one stroke, with as much of the dwell on both sides as is not `core`. `None` when none of its unbroken runs is long
    /// enough.
    pub fn of(
        piece: &Piece,
        runs: &[Range<usize>],
        core: Range<usize>,
        ends: Ends,
    ) -> Option<Self> {
        let half = half_window(core.len(), piece.period);
        Self::smoothed_over(half, piece, runs, core, ends)
    }

    /// The same with so many samples on each side.
    pub fn smoothed_over(
        half: usize,
        piece: &Piece,
        runs: &[Range<usize>],
        core: Range<usize>,
        ends: Ends,
    ) -> Option<Self> {
        let samples = piece.value.len();
        let smoother = LocalQuadratic::new(half);
        let left = residual_response(half);
        let mut travel_pct = vec![f64::NAN; samples];
        let mut code = vec![f64::NAN; samples];
        let mut some = false;
        for run in runs {
            let Some(smooth) = smoother.smooth(&piece.value[run.clone()]) else {
                continue;
            };
            for at in run.start + half..run.end - half {
                let smooth = smooth[at - run.start];
                travel_pct[at] = ends.travel_pct(smooth);
                if !piece.off[at] {
                    code[at] = (piece.value[at] - smooth) / left.sd;
                    some = true;
                }
            }
        }
        some.then_some(Self {
            travel_pct,
            code,
            core,
            independent: left.independent,
            period: piece.period,
        })
    }

    /// Travel (%) and residual (codes) of every sample of some that has both.
    pub fn points(&self, of: Range<usize>) -> impl Iterator<Item = (f64, f64)> {
        let points = self.travel_pct[of.clone()].iter().copied();
        points
            .zip(self.code[of].iter().copied())
            .filter(|(_, residual)| !residual.is_nan())
    }

    /// The residuals of the stroke proper in codes; NaN where there is none.
    pub fn proper(&self) -> &[f64] {
        &self.code[self.core.clone()]
    }
}

/// The size of one stroke's residuals.
#[derive(Debug, Clone)]
pub(crate) struct StrokeNoise {
    /// Number of residuals.
    pub count: usize,
    /// Independent residuals per sample.
    pub independent: f64,
    /// Seconds per sample.
    pub period: f64,
    /// Their standard deviation by the median absolute residual, in codes.
    mad_sd: f64,
    /// Variance of every block of residuals in code squared, divided by the median of its chi-square law, so that the
    /// median over blocks estimates the variance.
    block_variances: Vec<f64>,
}

impl StrokeNoise {
    /// Of one stroke's residuals.
    pub fn of(residuals: &Residuals) -> Option<Self> {
        let mut codes: Vec<f64> = residuals
            .points(residuals.core.clone())
            .map(|(_, code)| code)
            .collect();
        let size = if codes.len() < 10 * BLOCK {
            BLOCK / 2
        } else {
            BLOCK
        };
        let part = 2.0 / (9.0 * real(size) * residuals.independent);
        let middle = (1.0 - part).powi(3);
        Some(Self {
            count: codes.len(),
            independent: residuals.independent,
            period: residuals.period,
            block_variances: codes
                .chunks_exact(size)
                .map(|block| block.iter().map(|r| r * r).sum::<f64>() / real(size) / middle)
                .collect(),
            mad_sd: mad_sd_about_zero(&mut codes)?,
        })
    }

    /// The stroke's own standard deviation in codes, leaning on the common one as if that were a hundred samples; never
    /// below `floor`.
    pub fn sd(&self, common: f64, floor: f64) -> f64 {
        let n = real(self.count);
        ((n * self.mad_sd * self.mad_sd + 100.0 * common * common) / (n + 100.0))
            .sqrt()
            .max(floor)
    }
}

/// Robust standard deviation about the smoothed stroke in codes over all strokes, with the number of independent
/// residuals behind it: the root of the median block variance.
///
/// The blocks are 16 samples long (8 in short strokes). Unlike a median absolute residual this holds for rounding errors,
/// which are not normal, and it wastes less. Worn zones, bursts and dropouts touch a few blocks and hardly move it.
pub(crate) fn common_sd(noises: &[StrokeNoise]) -> Option<(f64, f64)> {
    let blocks = noises.iter().map(|noise| noise.block_variances.as_slice());
    let mut blocks = blocks.collect::<Vec<_>>().concat();
    let independent: f64 = noises
        .iter()
        .map(|noise| real(noise.count) * noise.independent)
        .sum();
    median(&mut blocks).map(|variance| (variance.sqrt(), independent))
}

/// The figure `stroke_noise_rms`: what [`common_sd`] gave of the same strokes, in codes. `None` without strokes.
///
/// The standard uncertainty is the larger of what the number of independent residuals allows and what the strokes'
/// scatter shows. Below half a code rounding shapes the residuals and a tenth of a code is added.
pub(crate) fn stroke_noise(noises: &[StrokeNoise], (value, n): (f64, f64)) -> Option<Figure> {
    if n < 4.0 {
        return None;
    }
    let counted = value * (MEDIAN_VARIANCE / n).sqrt();
    let each: Vec<f64> = noises
        .iter()
        .filter_map(|noise| common_sd(std::slice::from_ref(noise)))
        .map(|(sd, _)| sd)
        .collect();
    let strokes = real(each.len());
    let mean = each.iter().sum::<f64>() / strokes;
    let scatter: f64 = each.iter().map(|sd| (sd - mean).powi(2)).sum();
    let between = if each.len() > 1 {
        (scatter / (strokes - 1.0) / strokes).sqrt()
    } else {
        0.0
    };
    // Scatter that the residuals' number explains is not counted twice.
    let (random, degrees) = if between > 2.0 * counted {
        (between, strokes - 1.0)
    } else {
        (counted, n)
    };
    let rounding = if value < 0.5 { 0.1 } else { 0.0 };
    let k = coverage_factor(degrees.max(1.0));
    let mut figure = Figure::symmetric(
        value,
        maths::hypot(random, rounding),
        k,
        each.len(),
        "root of the median block variance about a parabola over 25 ms (at least 5 samples); rounding to codes \
         included; dropouts left out",
    );
    figure.shrink = Some(Shrink::mean(Evidence::Strokes, strokes, rounding));
    figure.low = figure.low.map(|low| low.max(0.0));
    Some(figure)
}
