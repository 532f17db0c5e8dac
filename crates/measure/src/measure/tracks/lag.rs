//! Delay of one track behind another, to a fraction of a sample.
//!
//! A first guess comes from the correlation of the overlap, normalised for every delay anew: the plain sum of products of a
//! finite record peaks at 0 for true delays of 3 and 7.4 ms (`tests/reference/26`). Then `b = offset + gain a(t - lag)` is
//! solved by least squares: what is left in proportion to a's speed is delay still missing. A term that only knows the
//! direction keeps mechanical play between the tracks out of the delay.

use crate::measure::statistics::least_squares::Moments;
use crate::measure::statistics::linear_system::{Equations, solve};
use crate::measure::statistics::moments::real;
use crate::measure::statistics::smooth::LocalQuadratic;
use crate::measure::strokes::path::{Path, nearest};
use crate::measure::strokes::segment::{Direction, Stroke};
use std::ops::Range;

/// Longest delay looked for, in seconds.
const LONGEST_S: f64 = 0.2;

/// Half of the smoothing window in seconds.
const HALF_WINDOW_S: f64 = 0.012_5;
/// Samples that are worked on at a time: what stays in the nearest cache.
pub(crate) const STRETCH: usize = 2048;

/// Two tracks over a part of one strokes passage without missing samples, smoothed alike.
#[derive(Debug, Clone)]
pub(crate) struct Tracks {
    /// Index of the passage among the strokes passages.
    pub passage: usize,
    pub a: Vec<f64>,
    pub b: Vec<f64>,
    /// Slope of `a` in codes per sample.
    pub slope: Vec<f64>,
    /// Whether either was off its path here; empty when neither ever was.
    pub off: Vec<bool>,
    /// Strokes as ranges of these vectors.
    pub strokes: Vec<(Range<usize>, Direction)>,
    /// Seconds per sample.
    pub period: f64,
}

impl Tracks {
    /// Of one run of a passage; `None` when it is too short to be smoothed.
    pub fn of(
        passage: usize,
        path_a: &Path<'_>,
        path_b: &Path<'_>,
        run: Range<usize>,
        strokes: &[Stroke],
    ) -> Option<Self> {
        let (a, slope) = with_slopes(path_a, run.clone())?;
        let b = smoothed(path_b, run.clone())?;
        let mut off = Vec::new();
        for gap in path_a.off().chain(path_b.off()) {
            let (from, to) = (gap.start.max(run.start), gap.end.min(run.end));
            if from < to {
                off.resize(run.len(), false);
                off[from - run.start..to - run.start].fill(true);
            }
        }
        let within = |range: &Range<usize>| {
            let from = (range.start - path_a.first).max(run.start);
            let to = (range.end - path_a.first).min(run.end);
            (to > from + 5).then(|| from - run.start..to - run.start)
        };
        Some(Self {
            passage,
            a,
            b,
            slope,
            off,
            strokes: strokes
                .iter()
                .filter_map(|stroke| Some((within(&stroke.range)?, stroke.direction)))
                .collect(),
            period: path_a.period,
        })
    }

    /// Each sample of a stroke where both are on their paths: `a` as long before as the shift says, `b`, and the slope of `a`.
    fn over(&self, stroke: &Range<usize>, shift: Shift, mut each: impl FnMut(f64, f64, f64)) {
        let Some((own, from)) = shift.overlap(stroke, self.a.len()) else {
            return;
        };
        let off = |at: usize| self.off.get(at).is_some_and(|off| *off);
        let near = self.a[from.start - 1..from.end + 2].windows(4);
        let slopes = self.slope[from.start..=from.end].windows(2);
        let all = near.zip(slopes).zip(&self.b[own.clone()]);
        for ((i, at), ((near, slopes), b)) in own.zip(from).zip(all) {
            if let (&[p, q, r, s], &[slope, next]) = (near, slopes)
                && !(off(i) || off(at))
            {
                let a = shift.cubic([p, q, r, s]);
                each(a, *b, slope + shift.part * (next - slope));
            }
        }
    }
}

/// A run of a path smoothed over 25 ms. `None` when the run is too short.
pub(crate) fn smoothed(path: &Path<'_>, run: Range<usize>) -> Option<Vec<f64>> {
    let mut values = Vec::with_capacity(run.len());
    in_stretches(path, run, |smoother, window, part| {
        values.extend_from_slice(&smoother.smooth(window)?[part]);
        Some(())
    })?;
    Some(values)
}

/// The same with its slopes.
fn with_slopes(path: &Path<'_>, run: Range<usize>) -> Option<(Vec<f64>, Vec<f64>)> {
    let (mut values, mut slopes) = (Vec::with_capacity(run.len()), Vec::with_capacity(run.len()));
    in_stretches(path, run, |smoother, window, part| {
        let (value, slope) = smoother.both(window)?;
        values.extend_from_slice(&value[part.clone()]);
        slopes.extend_from_slice(&slope[part]);
        Some(())
    })?;
    Some((values, slopes))
}

/// A run of a path a stretch at a time, which is a part of values that have whole windows around each of its samples as far as
/// the run has them.
fn in_stretches(
    path: &Path<'_>,
    run: Range<usize>,
    mut each: impl FnMut(LocalQuadratic, &[f64], Range<usize>) -> Option<()>,
) -> Option<()> {
    let smoother = LocalQuadratic::new(path.samples(HALF_WINDOW_S));
    let half = smoother.half();
    for start in run.clone().step_by(STRETCH) {
        let end = (start + STRETCH).min(run.end);
        let to = (end + half).min(run.end);
        let from = start
            .saturating_sub(half)
            .min(to.saturating_sub(2 * half + 1));
        let from = from.max(run.start);
        each(
            smoother,
            &path.piece(from..to).value,
            start - from..end - from,
        )?;
    }
    Some(())
}

/// Correlation of `a[i - delay]` with `b[i]` over the places where both exist, means and lengths taken there.
///
/// Every `stride`-th place is used. `None` when either does not vary or fewer than three places are left.
pub fn overlap_correlation(a: &[f64], b: &[f64], delay: isize, stride: usize) -> Option<f64> {
    let (skip_a, skip_b) = if delay >= 0 {
        (0, delay.unsigned_abs())
    } else {
        (delay.unsigned_abs(), 0)
    };
    let (a, b) = (a.get(skip_a..)?, b.get(skip_b..)?);
    let points = a
        .iter()
        .copied()
        .zip(b.iter().copied())
        .step_by(stride.max(1));
    let moments = Moments::of(points);
    (moments.n >= 3.0).then(|| moments.correlation())?
}

/// The delay in samples whose overlap correlates most (by magnitude), among multiples of `step` up to `most`.
pub fn overlap_delay(
    a: &[f64],
    b: &[f64],
    most: usize,
    step: usize,
    stride: usize,
) -> Option<isize> {
    // Multiples of the step, so that no delay is among them.
    let step = step.max(1);
    let most = isize::try_from(most / step * step).ok()?;
    (-most..=most)
        .step_by(step)
        .filter_map(|delay| Some((delay, overlap_correlation(a, b, delay, stride)?.abs())))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(delay, _)| delay)
}

/// The delay of b behind a, in samples, from all strokes, and with each stroke left out in turn.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Delay {
    pub samples: f64,
    /// One value a stroke: the delay when that stroke is left out.
    pub without: Vec<f64>,
}

/// Estimates the delay. `None` when the tracks do not move together or the equations have no solution.
pub(crate) fn delay(tracks: &[Tracks]) -> Option<Delay> {
    let longest = tracks.iter().max_by_key(|t| t.a.len())?;
    let most = nearest(LONGEST_S / longest.period).min(longest.a.len() / 4);
    let guess = overlap_delay(
        &longest.a,
        &longest.b,
        most,
        (most / 20).max(1),
        (longest.a.len() / 4096).max(1),
    )?;
    let mut samples = whole(guess);
    let mut each = Vec::new();
    let scales = Scales::of(tracks);
    let size = if both_ways(tracks) { 4 } else { 3 };
    for _ in 0..30 {
        each = equations(tracks, &scales, samples);
        let step = missing(&sum(&each), size)?;
        if step.abs() > 3.0 * real(most.max(1)) {
            return None;
        }
        samples += step;
        if step.abs() < 1e-10 {
            break;
        }
    }
    if samples.abs() > 1.5 * real(most.max(1)) {
        return None;
    }
    let all = sum(&each);
    let without = each
        .iter()
        .filter_map(|own| {
            let mut rest = all;
            for (row, own) in rest.iter_mut().zip(own) {
                for (cell, own) in row.iter_mut().zip(own) {
                    *cell -= own;
                }
            }
            missing(&rest, size).map(|step| samples + step)
        })
        .collect();
    Some(Delay { samples, without })
}

/// Points `(a(t - delay), b(t))` of one stroke.
pub(crate) fn aligned(tracks: &Tracks, stroke: &Range<usize>, delay: f64) -> Vec<(f64, f64)> {
    let mut points = Vec::with_capacity(stroke.len());
    tracks.over(stroke, Shift::of(delay), |a, b, _| points.push((a, b)));
    points
}

#[allow(clippy::cast_precision_loss)] // delays of samples
fn whole(delay: isize) -> f64 {
    delay as f64
}

/// A delay as whole samples and a part of one, the same at every sample.
#[derive(Debug, Clone, Copy)]
struct Shift {
    /// From a sample to the one below where it came from.
    samples: isize,
    /// The part of a step above it, 0 .. 1.
    part: f64,
    /// Factors of the cubic's second and third differences.
    second: f64,
    third: f64,
}

impl Shift {
    #[allow(clippy::cast_possible_truncation)] // delays of samples
    fn of(delay: f64) -> Self {
        let below = (-delay).floor();
        let part = -delay - below;
        Self {
            samples: below as isize,
            part,
            second: part * (part - 1.0) / 2.0,
            third: (part + 1.0) / 3.0,
        }
    }

    /// The samples of a stroke and those below where they came from, two samples inside the ends of `len`.
    fn overlap(self, stroke: &Range<usize>, len: usize) -> Option<(Range<usize>, Range<usize>)> {
        let moved = |at: usize, by: isize| at.checked_add_signed(by);
        let start = stroke.start.max(moved(1, -self.samples).unwrap_or(0));
        let end = stroke.end.min(moved(len.checked_sub(2)?, -self.samples)?);
        let from = moved(start, self.samples)?..moved(end, self.samples)?;
        (start < end).then_some((start..end, from))
    }

    /// The cubic through four neighbours, at the part between the middle two.
    fn cubic(self, near: [f64; 4]) -> f64 {
        let rise = near[2] - near[1];
        let second = near[2] - 2.0 * near[1] + near[0];
        let third = near[3] - 3.0 * near[2] + 3.0 * near[1] - near[0];
        near[1] + self.part * rise + self.second * (second + self.third * third)
    }
}

fn both_ways(tracks: &[Tracks]) -> bool {
    let any = |way| {
        tracks
            .iter()
            .flat_map(|t| &t.strokes)
            .any(|(_, direction)| *direction == way)
    };
    any(Direction::Up) && any(Direction::Down)
}

/// What brings codes, speeds and sums to the order of 1.
struct Scales {
    middle: f64,
    reach: f64,
    count: f64,
}

impl Scales {
    fn of(tracks: &[Tracks]) -> Self {
        let all = tracks.iter().flat_map(|t| &t.a);
        let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &a| {
            (a.min(low), a.max(high))
        });
        Self {
            middle: f64::midpoint(low, high),
            reach: ((high - low) / 2.0).max(1e-9),
            count: real(tracks.iter().map(|t| t.a.len()).sum()),
        }
    }
}

/// Equations of every stroke for `b = t0 + t1 a + t2 speed + t3 direction`, unknowns of the order of 1.
fn equations(tracks: &[Tracks], scales: &Scales, delay: f64) -> Vec<Equations> {
    let of = |track| move |stroke| equations_of(track, stroke, scales, delay);
    tracks
        .iter()
        .flat_map(|track| track.strokes.iter().map(of(track)))
        .collect()
}

fn equations_of(
    track: &Tracks,
    (stroke, direction): &(Range<usize>, Direction),
    scales: &Scales,
    delay: f64,
) -> Equations {
    let &Scales {
        middle,
        reach,
        count,
    } = scales;
    // Sums of products; those with 1 and with the direction, which is the same all along, follow from them.
    let [mut one, mut a_sum, mut v_sum, mut aa, mut av, mut vv] = [0.0; 6];
    let [mut b_sum, mut ab, mut vb] = [0.0; 3];
    let to_one = 1.0 / reach;
    track.over(stroke, Shift::of(delay), |a, b, slope| {
        let (a, b) = ((a - middle) * to_one, (b - middle) * to_one);
        // Speed in reaches per hundred samples keeps the equations of one order.
        let v = 100.0 * slope * to_one;
        one += 1.0;
        a_sum += a;
        v_sum += v;
        aa += a * a;
        av += a * v;
        vv += v * v;
        b_sum += b;
        ab += a * b;
        vb += v * b;
    });
    let way = if *direction == Direction::Up {
        1.0
    } else {
        -1.0
    };
    let rows = [
        [one, a_sum, v_sum, way * one, b_sum],
        [a_sum, aa, av, way * a_sum, ab],
        [v_sum, av, vv, way * v_sum, vb],
        [way * one, way * a_sum, way * v_sum, one, way * b_sum],
    ];
    rows.map(|row| row.map(|sum| sum / count))
}

fn sum(each: &[Equations]) -> Equations {
    let mut all = [[0.0; 5]; 4];
    for own in each {
        for (row, own) in all.iter_mut().zip(own) {
            for (cell, own) in row.iter_mut().zip(own) {
                *cell += own;
            }
        }
    }
    all
}

/// Samples of delay that are still missing.
fn missing(equations: &Equations, size: usize) -> Option<f64> {
    let terms = solve(equations, size)?;
    let step = -100.0 * terms[2] / terms[1];
    step.is_finite().then_some(step)
}
