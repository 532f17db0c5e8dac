//! Smoothness: the repeatable roughness of the track within 1 % of travel.
//!
//! Two readings of output smoothness exist (`tests/reference/04`): this is the largest peak-to-peak inside a short window
//! of travel. It is a figure of the curve, not of the noise: each stroke gives its local deviation over the travel, the
//! place of the largest peak-to-peak is chosen by one half of the strokes, and the other half says how large it is there. Noise
//! does not repeat, so it adds to the uncertainty and not to the value.

use crate::figure::{Evidence, Figure, Shrink};
use crate::measure::statistics::interval::coverage_factor;
use crate::measure::statistics::moments::real;
use crate::measure::statistics::smooth::LocalQuadratic;
use crate::measure::strokes::path::{Piece, nearest};
use crate::measure::strokes::segment::Ends;
use std::collections::VecDeque;
use std::ops::Range;

/// Width of the window, % of travel (from memory of VRCI-P-100A).
pub const WINDOW_PCT: f64 = 1.0;
/// Cells of a stroke's profile; each 0.1 % of travel.
const CELLS: usize = 1000;
/// Half of the smoothing window, % of travel at the stroke's fastest.
const HALF_WINDOW_PCT: f64 = 5.0;
/// Widest gap between filled cells that is bridged by a straight line.
const BRIDGED_CELLS: usize = 10;
/// Share of the travel that a stroke must show cell by cell, and the other strokes with it.
const COVERED: f64 = 0.8;
/// Stroke noise in codes, rounding included, below which rounding is not dithered: 0.4 and 0.289 together.
const UNDITHERED: f64 = 0.493;
/// Fewest strokes.
const FEWEST_STROKES: usize = 3;

/// The largest peak-to-peak in a window, and where.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PeakToPeak {
    /// Highest minus lowest deviation.
    pub value: f64,
    /// Index of the lowest.
    pub lowest: usize,
    /// Index of the highest.
    pub highest: usize,
}

/// Largest `max - min` of `deviation` over every window of `width` on `travel`, both window ends included.
///
/// `travel` must not decrease. Linear in the points. Of equal windows the first. `None` without points.
pub fn largest_peak_to_peak(travel: &[f64], deviation: &[f64], width: f64) -> Option<PeakToPeak> {
    let mut best: Option<PeakToPeak> = None;
    let (mut low, mut high) = (VecDeque::<usize>::new(), VecDeque::<usize>::new());
    // Positions such as 0.1 + 0.2 are not exact: a window may be wider by a billionth.
    let reach = width * (1.0 + 1e-9);
    for i in 0..travel.len().min(deviation.len()) {
        while low.back().is_some_and(|&k| deviation[k] >= deviation[i]) {
            low.pop_back();
        }
        while high.back().is_some_and(|&k| deviation[k] <= deviation[i]) {
            high.pop_back();
        }
        low.push_back(i);
        high.push_back(i);
        while low.front().is_some_and(|&k| travel[i] - travel[k] > reach) {
            low.pop_front();
        }
        while high.front().is_some_and(|&k| travel[i] - travel[k] > reach) {
            high.pop_front();
        }
        if let (Some(&lowest), Some(&highest)) = (low.front(), high.front()) {
            let value = deviation[highest] - deviation[lowest];
            if best.is_none_or(|best| value > best.value) {
                best = Some(PeakToPeak {
                    value,
                    lowest,
                    highest,
                });
            }
        }
    }
    best
}

/// Local deviation of one stroke in codes, one value a cell of 0.1 % of travel; NaN where the stroke says nothing.
pub(crate) fn profile(piece: &Piece, runs: &[Range<usize>], ends: Ends) -> Option<Vec<f64>> {
    let samples = piece.value.len();
    let rough = LocalQuadratic::new((samples / 24).max(2));
    let slopes = rough.slope(&piece.value)?.into_iter();
    let fastest = slopes.fold(0.0, |most: f64, slope| most.max(slope.abs()));
    let fastest_pct = fastest / ends.span().abs() * 100.0;
    let half = nearest(HALF_WINDOW_PCT / fastest_pct).clamp(2, (samples / 8).max(2));
    let smoother = LocalQuadratic::new(half);
    let mut sums = vec![(0.0, 0_usize); CELLS];
    for run in runs {
        let Some(smooth) = smoother.smooth(&piece.value[run.clone()]) else {
            continue;
        };
        for at in run.start + half..run.end - half {
            let smooth = smooth[at - run.start];
            if let (Some(cell), false) = (cell_of(ends.travel_pct(smooth)), piece.off[at]) {
                sums[cell].0 += piece.value[at] - smooth;
                sums[cell].1 += 1;
            }
        }
    }
    let mut cells: Vec<f64> = sums
        .iter()
        .map(|&(sum, n)| if n > 0 { sum / real(n) } else { f64::NAN })
        .collect();
    bridge(&mut cells);
    cells.iter().any(|c| !c.is_nan()).then_some(cells)
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // checked to be in 0 .. 100
fn cell_of(travel_pct: f64) -> Option<usize> {
    (0.0..100.0)
        .contains(&travel_pct)
        .then_some((travel_pct * real(CELLS) / 100.0) as usize)
        .filter(|cell| *cell < CELLS)
}

/// Fills short gaps by straight lines.
fn bridge(cells: &mut [f64]) {
    let mut from = 0;
    for to in 1..cells.len() {
        if cells[to].is_nan() {
            continue;
        }
        if !cells[from].is_nan() && (2..=BRIDGED_CELLS).contains(&(to - from)) {
            let base = cells[from];
            let rise = (cells[to] - base) / real(to - from);
            for (step, cell) in cells[from..to].iter_mut().enumerate() {
                *cell = base + rise * real(step);
            }
        }
        from = to;
    }
}

/// Mean of some profiles, cell by cell; NaN where none says anything, or fewer than a quarter of them: a mean of few among
/// means of many would be chosen for its noise.
fn mean_of<'a>(profiles: impl Iterator<Item = &'a [f64]>) -> Vec<f64> {
    let mut sums = vec![(0.0, 0_usize); CELLS];
    let mut all = 0;
    for profile in profiles {
        all += 1;
        for (sum, value) in sums.iter_mut().zip(profile).filter(|(_, v)| !v.is_nan()) {
            sum.0 += value;
            sum.1 += 1;
        }
    }
    sums.into_iter()
        .map(|(sum, n)| {
            if n > 0 && n >= all / 4 {
                sum / real(n)
            } else {
                f64::NAN
            }
        })
        .collect()
}

/// Smoothness in % of span from the strokes' profiles (codes). `None` with fewer than three strokes, or when they do
/// not show four fifths of the travel at least every 1 %.
///
/// One half of the strokes chooses the place, the other half says how large the peak-to-peak is there, and the other way
/// round: noise that made a place look rough in the one half is not in the other.
///
/// Noise of less than 0.4 codes does not dither rounding, which then repeats from stroke to stroke: the interval is a whole
/// code wider on each side.
/// Interval: Student's t over the strokes' own values. A bootstrap over the few strokes of a capture is too narrow.
pub(crate) fn smoothness(profiles: &[Vec<f64>], span: f64, noise: f64) -> Option<Figure> {
    // Strokes 1 and 2, 5 and 6 ... against 3 and 4, 7 and 8 ...: both halves go both ways.
    let half = |which: usize| {
        let members = profiles.iter().enumerate();
        members
            .filter(move |(i, _)| i / 2 % 2 == which)
            .map(|(_, profile)| profile.as_slice())
    };
    let means = [mean_of(half(0)), mean_of(half(1))];
    let cells: Vec<usize> = (0..CELLS)
        .filter(|&cell| means.iter().all(|mean| !mean[cell].is_nan()))
        .collect();
    if real(cells.len()) < COVERED * real(CELLS) {
        return None;
    }
    let travel: Vec<f64> = cells
        .iter()
        .map(|&cell| (real(cell) + 0.5) * 100.0 / real(CELLS))
        .collect();
    let mut own = Vec::new();
    for (which, mean) in means.iter().enumerate() {
        let deviation: Vec<f64> = cells.iter().map(|&cell| mean[cell]).collect();
        let found = largest_peak_to_peak(&travel, &deviation, WINDOW_PCT)?;
        let (highest, lowest) = (cells[found.highest], cells[found.lowest]);
        let read = half(1 - which).map(|profile| profile[highest] - profile[lowest]);
        own.extend(read.filter(|d| !d.is_nan()));
    }
    if own.len() < FEWEST_STROKES {
        return None;
    }
    let n = real(own.len());
    let mean = own.iter().sum::<f64>() / n;
    let variance = own.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let scale = 100.0 / span.abs();
    let (value, u) = (mean.max(0.0) * scale, (variance / n).sqrt() * scale);
    let k = coverage_factor(n - 1.0);
    let mut figure = Figure::symmetric(
        value,
        u,
        k,
        own.len(),
        format!(
            "largest peak-to-peak in {WINDOW_PCT} % of travel of what repeats from stroke to stroke (0.1 % cells; place chosen \
             by the other half of the strokes); Student's t over strokes"
        ),
    );
    let rounding = if noise < UNDITHERED { scale } else { 0.0 };
    let floor_u = rounding / 6.0_f64.sqrt();
    figure.shrink = Some(Shrink::pieces(Evidence::Strokes, own.len(), floor_u));
    figure.u = Some(u.hypot(floor_u));
    figure.low = Some((mean * scale - k * u - rounding).max(0.0));
    figure.high = Some((mean * scale + k * u + rounding).max(0.0));
    Some(figure)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::reference_file::{numbers, reference};

    /// The deviations of `tests/reference/27` on its even grid.
    fn shape(name: &str, x: f64) -> f64 {
        let at = |place: f64| (x - place).abs() < 1e-6;
        match name {
            "triangle" => 6.0 * (1.0 - (x - 42.0).abs() / 0.3).max(0.0),
            "step" => {
                if x > 70.0 - 1e-6 {
                    4.0
                } else {
                    0.0
                }
            }
            "slow wave" => 5.0 * (std::f64::consts::TAU * x / 20.0).sin(),
            "pair one window apart" => 3.0 * f64::from(i8::from(at(20.0)) - i8::from(at(21.0))),
            "pair just more than a window apart" => {
                3.0 * f64::from(i8::from(at(20.0)) - i8::from(at(21.1)))
            }
            "constant" => 7.0,
            _ => panic!("{name}"),
        }
    }

    #[test]
    fn every_window_of_the_reference() {
        // tests/reference/27: closed form where known, brute force otherwise.
        let file = reference("27-moving-window.json");
        let mut checked = 0;
        for (name, want) in file["expected"].as_object().unwrap() {
            let data = &file["inputs"]["data"][name];
            let (travel, deviation) = if data.is_object() {
                (numbers(&data["travel_pct"]), numbers(&data["deviation"]))
            } else {
                let grid: Vec<f64> = (0..=1000).map(|k| f64::from(k) / 10.0).collect();
                let values = grid.iter().map(|x| shape(name, *x)).collect();
                (grid, values)
            };
            for (width, value) in want["by_width"].as_object().unwrap() {
                let found =
                    largest_peak_to_peak(&travel, &deviation, width.parse().unwrap()).unwrap();
                let value = value.as_f64().unwrap();
                assert!(
                    (found.value - value).abs() < 1e-9,
                    "{name}, {width}: {found:?} {value}"
                );
                assert!((travel[found.highest] - travel[found.lowest]).abs() < 5.0 + 1e-6);
                checked += 1;
            }
        }
        assert_eq!(checked, 28);
    }

    #[test]
    fn no_points_and_one_point() {
        assert_eq!(largest_peak_to_peak(&[], &[], 1.0), None);
        let one = largest_peak_to_peak(&[3.0], &[5.0], 1.0).unwrap();
        assert!(one.value.abs() < 1e-12);
    }

    #[test]
    fn what_repeats_is_told_from_what_does_not() {
        // Hand-worked: a step of 4 codes in every stroke; a fifth code in one stroke only does not count. Span 400.
        let stroke = |odd: f64| {
            let mut cells = vec![0.0; CELLS];
            cells[500..].fill(4.0);
            cells[100] += odd;
            cells
        };
        let profiles = [stroke(0.0), stroke(9.0), stroke(0.0), stroke(0.0)];
        let figure = smoothness(&profiles, -400.0, 2.0).unwrap();
        // Strokes 1 and 2 choose the odd cell (4.5 > 4), where 3 and 4 show nothing; these choose the step, 4 in both.
        assert!((figure.value - 0.5).abs() < 1e-12, "{figure:?}");
        let calm = [stroke(0.0), stroke(0.0), stroke(0.0), stroke(0.0)];
        let figure = smoothness(&calm, 400.0, 2.0).unwrap();
        assert!((figure.value - 1.0).abs() < 1e-12 && figure.u == Some(0.0));
        // Undithered rounding may make or hide one code: 0.25 % each way.
        let figure = smoothness(&calm, 400.0, 0.3).unwrap();
        assert_eq!((figure.low, figure.high), (Some(0.75), Some(1.25)));
        assert_eq!(smoothness(&calm[..2], 400.0, 2.0), None);
        assert_eq!(smoothness(&[], 400.0, 2.0), None);
    }

    #[test]
    fn a_place_that_hardly_any_stroke_shows_is_not_chosen() {
        // The step of 4 codes of 400 is 1 %; the first cell is seen by one stroke of each half alone, 50 codes off.
        let profiles: Vec<Vec<f64>> = (0..40)
            .map(|stroke| {
                let mut cells = vec![0.0; CELLS];
                cells[500..].fill(4.0);
                cells[0] = if stroke == 0 || stroke == 2 {
                    50.0
                } else {
                    f64::NAN
                };
                cells
            })
            .collect();
        let figure = smoothness(&profiles, 400.0, 2.0).unwrap();
        assert!((figure.value - 1.0).abs() < 1e-12, "{figure:?}");
        assert_eq!(figure.n, 40);
    }
}
