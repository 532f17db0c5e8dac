//! Smoothness: how far the output of the moving contact is off within 1 % of travel.
//!
//! Output smoothness is the largest instantaneous variation from the ideal output while the wiper moves, and what makes the contact's
//! resistance vary belongs to it (`tests/reference/36`); here it is the largest peak-to-peak inside a short window of travel. The
//! noise of the moving contact belongs to it and its bumps of any height; the noise that the same signal has at rest does not.

use crate::figure::numbers::fixed;
use crate::figure::{Evidence, Figure, Shrink};
use crate::measure::recording::BoardFacts;
use crate::measure::statistics::interval::coverage_factor;
use crate::measure::statistics::moments::real;
use crate::measure::statistics::robust::median;
use crate::measure::statistics::smooth::LocalQuadratic;
use crate::measure::strokes::path::{Piece, nearest};
use crate::measure::strokes::segment::Ends;
use crate::measure::strokes::travel_map::BINS;
use crate::units::Code;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use std::collections::VecDeque;
use std::ops::Range;

/// Width of the window, % of travel (from memory of VRCI-P-100A).
pub const WINDOW_PCT: f64 = 1.0;
/// Cells of a stroke's profile; each 0.1 % of travel.
const CELLS: usize = 1000;
/// Half of the smoothing window, % of travel at the stroke's fastest.
const HALF_WINDOW_PCT: f64 = 5.0;
/// Share of the travel that strokes must show.
const COVERED: f64 = 0.8;
/// Where the hand is slower than this in half a window, % of travel, the window is so many times as long.
const SLOW_PCT: f64 = 3.5;
const SLOW: usize = 3;
/// Standard deviations by which a place must be louder than at rest, and the least ratio of variances: what moves slowly is
/// smoothed away less at rest.
const SIGNIFICANT: f64 = 3.0;
const LEAST_EXCESS: f64 = 1.3;
/// Share of the value for the shape of the movement, which takes some of a bump with it.
const SHAPE: f64 = 0.05;
/// Most strokes that the contact is moved through, and the seed.
const ENOUGH: usize = 24;
pub const SEED: u64 = 3_0508;
/// Standard deviations from top to bottom of the largest window.
const HIDDEN_SD: f64 = 4.0;
/// The same of the noise at rest in the window where it adds most to what was seen: some ten samples have 3.08 (Tippett 1925),
/// the largest of some hundred windows one more.
const AT_REST_SD: f64 = 4.0;
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

/// One stroke in one cell of travel: samples, their deviations in codes and the squares of these summed up.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Cell {
    count: u32,
    sum: f64,
    squares: f64,
    low: f64,
    high: f64,
}

impl Cell {
    fn add(&mut self, deviation: f64) {
        (self.low, self.high) = match self.count {
            0 => (deviation, deviation),
            _ => (self.low.min(deviation), self.high.max(deviation)),
        };
        self.count += 1;
        self.sum += deviation;
        self.squares += deviation * deviation;
    }
}

/// Local deviation of one stroke over the travel: what the codes do about the hand's movement, lost contact and all.
///
/// The movement is a parabola over some percent of travel on both sides of each sample, of the path without what left it. Where
/// the hand is slow the window is three times as long. `None` for a stroke that is too short.
pub(crate) fn profile(
    codes: &[Code],
    piece: &Piece,
    runs: &[Range<usize>],
    ends: Ends,
) -> Option<Vec<Cell>> {
    let samples = piece.value.len();
    let rough = LocalQuadratic::new((samples / 24).max(2));
    let slopes = rough.slope(&piece.value)?;
    let fastest = slopes
        .iter()
        .fold(0.0, |most: f64, slope| most.max(slope.abs()));
    let per_pct = ends.span().abs() / 100.0;
    let half = nearest(HALF_WINDOW_PCT * per_pct / fastest).clamp(2, (samples / 8).max(2));
    let (close, wide) = (LocalQuadratic::new(half), LocalQuadratic::new(SLOW * half));
    let mut cells = vec![Cell::default(); CELLS];
    for run in runs {
        let values = &piece.value[run.clone()];
        // Once, a parabola's gain for a wave of two or three periods in its window is -0.2: a ripple would stand out by a fifth more.
        let twice = |window: &LocalQuadratic| window.smooth(&window.smooth(values)?);
        let Some(smooth) = twice(&close) else {
            continue;
        };
        let smooth_wide = twice(&wide);
        for at in run.start + half..run.end - half {
            let inner = at >= run.start + SLOW * half && at + SLOW * half < run.end;
            let slow = slopes[at].abs() * real(half) < SLOW_PCT * per_pct;
            let smooth = match &smooth_wide {
                Some(wide) if inner && slow => wide[at - run.start],
                _ => smooth[at - run.start],
            };
            if let Some(cell) = cell_of(ends.travel_pct(smooth)) {
                cells[cell].add(codes[at].as_f64() - smooth);
            }
        }
    }
    cells.iter().any(|cell| cell.count > 0).then_some(cells)
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // checked to be in 0 .. 100
fn cell_of(travel_pct: f64) -> Option<usize> {
    (0.0..100.0)
        .contains(&travel_pct)
        .then_some((travel_pct * real(CELLS) / 100.0) as usize)
        .filter(|cell| *cell < CELLS)
}

/// What the moving contact adds to the signal, in codes, over the travel.
struct ContactNoise {
    /// What repeats from stroke to stroke, per cell.
    repeats: Vec<f64>,
    /// Standard deviation of what does not, beyond that of the signal at rest, per bin of 1 %.
    fresh: Vec<f64>,
    /// Variance of the estimate in all: relative in `fresh` where it is largest, and of one cell of `repeats`.
    relative: f64,
    cell_variance: f64,
    /// What the noise at rest may hide of `fresh`, and its variance.
    hidden: f64,
    rest: f64,
}

impl ContactNoise {
    /// From the strokes' profiles; `quiet` is the noise variance that a bin has with nothing moving, its samples in one stroke given.
    fn of(profiles: &[Vec<Cell>], quiet: impl Fn(usize, usize) -> f64) -> Self {
        let mut noise = Self {
            repeats: (0..CELLS).map(|cell| usual(profiles, cell)).collect(),
            fresh: vec![0.0; BINS],
            relative: 0.0,
            cell_variance: 0.0,
            hidden: 0.0,
            rest: 0.0,
        };
        let bins: Vec<Option<Bin>> = (0..BINS)
            .map(|bin| Bin::of(bin, profiles, &noise.repeats, &quiet))
            .collect();
        let misplaced = misplaced(&bins);
        let mut most = 0.0;
        for (bin, seen) in bins.iter().enumerate() {
            let range = cells_of(bin);
            let Some(seen) = seen else {
                noise.repeats[range].fill(0.0);
                continue;
            };
            let rest = seen.quiet + seen.steepness * misplaced;
            noise.rest = noise.rest.max(seen.quiet);
            // Of a median the variance is pi/2 of a mean's.
            let relative = (std::f64::consts::PI / real(seen.samples)).sqrt();
            if seen.variance > rest * (1.0 + SIGNIFICANT * relative).max(LEAST_EXCESS) {
                noise.fresh[bin] = (seen.variance - rest).sqrt();
                if noise.fresh[bin] > most {
                    most = noise.fresh[bin];
                    noise.relative = 0.5 * relative * seen.variance / (seen.variance - rest);
                }
            }
            noise.hidden = noise.hidden.max((rest * SIGNIFICANT * relative).sqrt());
            noise.keep_repeats(range, seen.by_chance);
        }
        noise
    }

    /// Keeps of what repeats in a bin what chance does not explain.
    fn keep_repeats(&mut self, cells: Range<usize>, by_chance: f64) {
        let own = &mut self.repeats[cells];
        let n = real(own.len());
        let mean = own.iter().sum::<f64>() / n;
        let scatter = own.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0);
        let excess = (mean * mean).max(scatter);
        if excess > by_chance * (1.0 + SIGNIFICANT * (2.0 / (n - 1.0)).sqrt()) {
            self.cell_variance = self.cell_variance.max(by_chance);
        } else {
            own.fill(0.0);
        }
    }

    /// The largest peak-to-peak in the window that such a contact makes on one stroke's samples, in codes.
    fn largest(&self, profile: &[Cell], random: &mut ChaCha8Rng) -> f64 {
        let (mut travel, mut deviation) = (Vec::new(), Vec::new());
        for (cell, seen) in profile.iter().enumerate() {
            let fresh = self.fresh[cell * BINS / CELLS];
            // More than a few of one value add nothing.
            let draws = if fresh > 0.0 {
                seen.count
            } else {
                seen.count.min(1)
            };
            for _ in 0..draws {
                let noise: f64 = if fresh > 0.0 {
                    StandardNormal.sample(random)
                } else {
                    0.0
                };
                travel.push((real(cell) + 0.5) * 100.0 / real(CELLS));
                deviation.push(self.repeats[cell] + fresh * noise);
            }
        }
        let largest = |travel: &[f64], deviation: &[f64]| {
            largest_peak_to_peak(travel, deviation, WINDOW_PCT).map_or(0.0, |found| found.value)
        };
        let made = largest(&travel, &deviation);
        if made <= 0.0 {
            return 0.0;
        }
        // Where the place is known worse than a pattern is fine, its misfit is taken for noise: never more than was seen.
        travel.clear();
        deviation.clear();
        for (cell, seen) in profile
            .iter()
            .enumerate()
            .filter(|(_, seen)| seen.count > 0)
        {
            travel.extend([(real(cell) + 0.5) * 100.0 / real(CELLS); 2]);
            deviation.extend([seen.low, seen.high]);
        }
        let seen = largest(&travel, &deviation).powi(2) - AT_REST_SD.powi(2) * self.rest;
        made.min(seen.max(0.0).sqrt())
    }
}

/// What the strokes show in one bin of travel.
struct Bin {
    /// Samples of all strokes.
    samples: usize,
    /// Variance about what repeats: the median of the strokes' own.
    variance: f64,
    /// The noise variance that it has with nothing moving.
    quiet: f64,
    /// Mean square of what the pattern rises from cell to cell.
    steepness: f64,
    /// Variance of a cell of the pattern by chance.
    by_chance: f64,
}

impl Bin {
    fn of(
        bin: usize,
        profiles: &[Vec<Cell>],
        repeats: &[f64],
        quiet: impl Fn(usize, usize) -> f64,
    ) -> Option<Self> {
        let range = cells_of(bin);
        let (mut each, mut samples) = (Vec::with_capacity(profiles.len()), 0);
        for profile in profiles {
            let (squares, count) = about(&profile[range.clone()], &repeats[range.clone()]);
            if count > 0 {
                let part = 2.0 / (9.0 * real(count));
                each.push(squares / real(count) / (1.0 - part).powi(3));
                samples += count;
            }
        }
        let strokes = each.len();
        let variance = median(&mut each)?;
        let rises = range.clone().map(|cell| {
            let (before, after) = (cell.saturating_sub(1), (cell + 1).min(CELLS - 1));
            ((repeats[after] - repeats[before]) / 2.0).powi(2)
        });
        let filled = range
            .clone()
            .filter(|&cell| profiles.iter().any(|p| p[cell].count > 0));
        let per_cell = (real(samples) / real(filled.count().max(1))).max(1.0);
        Some(Self {
            samples,
            variance,
            quiet: quiet(bin, samples / strokes.max(1)),
            steepness: rises.sum::<f64>() / real(range.len()),
            by_chance: std::f64::consts::FRAC_PI_2 * variance / per_cell,
        })
    }
}

/// How far samples lie from the middle of the cell that they are counted in: mean square, cells. Even in it: a twelfth.
///
/// The hand's tremor and the noise of the path put them further off. It shows where the track has a pattern nearly everywhere: what
/// they are off about it goes with its steepness then, as fresh noise does not.
fn misplaced(bins: &[Option<Bin>]) -> f64 {
    const EVEN: f64 = 1.0 / 12.0;
    let patterned = bins
        .iter()
        .flatten()
        .filter(|bin| bin.steepness > SIGNIFICANT * bin.by_chance);
    let mut ratios: Vec<f64> = patterned
        .map(|bin| (bin.variance - bin.quiet) / bin.steepness)
        .collect();
    if 2 * ratios.len() < BINS {
        return EVEN;
    }
    median(&mut ratios).map_or(EVEN, |ratio| ratio.max(EVEN))
}

fn cells_of(bin: usize) -> Range<usize> {
    bin * (CELLS / BINS)..(bin + 1) * (CELLS / BINS)
}

/// The usual deviation in a cell: the median of the strokes' own, where a quarter of them say something; 0 elsewhere.
fn usual(profiles: &[Vec<Cell>], cell: usize) -> f64 {
    let seen = profiles.iter().map(|profile| profile[cell]);
    let mut means: Vec<f64> = seen
        .filter(|cell| cell.count > 0)
        .map(|cell| cell.sum / f64::from(cell.count))
        .collect();
    if 4 * means.len() < profiles.len() {
        return 0.0;
    }
    median(&mut means).unwrap_or(0.0)
}

/// Sum of squares about what repeats, and samples, of some cells of one stroke.
fn about(cells: &[Cell], repeats: &[f64]) -> (f64, usize) {
    let mut sums = (0.0, 0);
    for (cell, repeats) in cells.iter().zip(repeats) {
        let n = f64::from(cell.count);
        sums.0 += cell.squares - 2.0 * repeats * cell.sum + n * repeats * repeats;
        sums.1 += cell.count as usize;
    }
    sums
}

/// Smoothness in % of span from the strokes' profiles (codes): how large the largest peak-to-peak in 1 % of travel is in one stroke.
/// `None` with fewer than three strokes, or when they do not show four fifths of the travel.
///
/// What repeats and how loud the rest is are estimated place by place over the strokes, what the signal does at rest is taken off,
/// and a contact that does just that is moved as the strokes moved (seeded): the mean over strokes of its largest is the figure.
/// Medians over strokes leave out what came once. Interval: the scatter over strokes, the uncertainty of both estimates, and
/// a share for the movement's own shape.
pub(crate) fn smoothness(
    profiles: &[Vec<Cell>],
    ends: Ends,
    board: &BoardFacts,
    quiet: impl Fn(usize, usize) -> f64,
) -> Option<Figure> {
    let shown = (0..BINS).filter(|&bin| {
        let bin = cells_of(bin);
        let seen = |profile: &&Vec<Cell>| profile[bin.clone()].iter().any(|cell| cell.count > 0);
        profiles.iter().filter(seen).count() >= FEWEST_STROKES
    });
    if real(shown.count()) < COVERED * real(BINS) {
        return None;
    }
    let noise = ContactNoise::of(profiles, quiet);
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let step = profiles.len().div_ceil(ENOUGH);
    let each: Vec<f64> = profiles
        .iter()
        .step_by(step)
        .map(|p| noise.largest(p, &mut random))
        .collect();
    let n = real(each.len());
    let mean = each.iter().sum::<f64>() / n;
    let variance = each.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / (n - 1.0).max(1.0);
    let scale = 100.0 / ends.span().abs();
    let u = [
        (variance / n).sqrt(),
        mean * noise.relative,
        (2.0 * noise.cell_variance).sqrt(),
        SHAPE * mean,
    ];
    let u = u.iter().map(|u| u * u).sum::<f64>().sqrt();
    let k = coverage_factor((n - 1.0).max(1.0));
    let range = 2.0_f64.powi(i32::from(board.scale.bits()));
    let method = format!(
        "mean over {} strokes of the largest peak-to-peak in {WINDOW_PCT} % of travel of the moving contact, noise at rest taken \
         off; {} % of the board's reference; from what is slower than some % of travel up to {} Hz (seed {SEED})",
        profiles.len(),
        fixed(100.0 * mean / range, 3),
        fixed(board.rate_hz / 2.0, 0),
    );
    let mut figure = Figure::symmetric(mean * scale, u * scale, k, profiles.len(), method);
    figure.shrink = Some(Shrink::pieces(
        Evidence::Strokes,
        profiles.len(),
        SHAPE * mean * scale,
    ));
    figure.low = figure.low.map(|low| low.max(0.0));
    // Of a contact that adds nothing, what the noise at rest may hide: some four standard deviations from top to bottom.
    let hidden = if mean > 0.0 {
        0.0
    } else {
        HIDDEN_SD * noise.hidden * scale
    };
    figure.high = figure.high.map(|high| high.max(hidden));
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

    /// Strokes of two samples a cell with these deviations, and so much noise variance at rest.
    fn figure(
        strokes: usize,
        span: f64,
        rest: f64,
        deviation: impl Fn(usize, usize) -> f64,
    ) -> Option<Figure> {
        let stroke = |stroke: usize| {
            let cell = |cell: usize| {
                let off = deviation(stroke, cell);
                Cell {
                    count: 2,
                    sum: 2.0 * off,
                    squares: 2.0 * off * off,
                    low: off,
                    high: off,
                }
            };
            (0..CELLS).map(cell).collect()
        };
        let profiles: Vec<Vec<Cell>> = (0..strokes).map(stroke).collect();
        let ends = Ends::from_holds(Some(100.0), Some(100.0 + span)).unwrap();
        let board = BoardFacts::new(crate::units::Scale::new(10, 5000.0).unwrap(), 1000.0);
        smoothness(&profiles, ends, &board, |_, _| rest)
    }

    #[test]
    fn what_the_contact_does_in_every_stroke_counts_and_what_came_once_does_not() {
        // Hand-worked: a step of 4 codes in every stroke of 400 codes of span is 1 %; nine codes more came in one stroke only.
        let step = |stroke: usize, cell: usize| {
            let step = if (500..560).contains(&cell) { 4.0 } else { 0.0 };
            step + if stroke == 1 && cell == 100 { 9.0 } else { 0.0 }
        };
        let found = figure(6, -400.0, 0.0, step).unwrap();
        assert!((found.value - 1.0).abs() < 1e-9, "{found:?}");
        // 4 of 1024 codes.
        assert!(
            found.method.contains("0.391 % of the board's reference"),
            "{}",
            found.method
        );
        assert!(figure(2, 400.0, 0.0, step).is_none());
        let none = figure(6, 400.0, 1.0 / 12.0, |_, _| 0.0).unwrap();
        assert!(
            none.value.abs() < 1e-12 && none.low == Some(0.0) && none.high.unwrap() < 1.0,
            "{none:?}"
        );
    }
}
