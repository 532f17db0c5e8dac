//! Smoothness: how far the output of the moving contact is off within 1 % of travel.
//!
//! Output smoothness is the largest instantaneous variation from the ideal output while the wiper moves, and what makes the contact's
//! resistance vary belongs to it (`tests/reference/36`); here it is the largest peak-to-peak inside a short window of travel. The
//! noise of the moving contact belongs to it and its bumps of any height; the noise that the same signal has at rest does not.

mod uneven;

pub(crate) use uneven::UnevenCodes;

use crate::figure::numbers::fixed;
use crate::figure::{Evidence, Figure, Shrink};
use crate::measure::recording::BoardFacts;
use crate::measure::statistics::interval::{chi_square_quantile, coverage_factor, t_quantile};
use crate::measure::statistics::moments::real;
use crate::measure::statistics::robust::median;
use crate::measure::statistics::smooth::LocalQuadratic;
use crate::measure::strokes::path::{Path, Piece, nearest};
use crate::measure::strokes::segment::Ends;
use crate::measure::strokes::travel_map::BINS;
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
/// Share of good contacts of which some bin may seem to repeat something by chance.
const BY_CHANCE: f64 = 0.01;
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

/// A sample of a stroke: the cell of travel that it lies in, and how far it is off there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Deviation {
    cell: u16,
    code: f64,
}

impl Deviation {
    fn cell(self) -> usize {
        usize::from(self.cell)
    }

    fn bin(self) -> usize {
        self.cell() * BINS / CELLS
    }

    /// Middle of the cell, % of travel.
    fn travel_pct(self) -> f64 {
        (f64::from(self.cell) + 0.5) * 100.0 / real(CELLS)
    }
}

/// The samples of one stroke in order of travel.
pub(crate) type Profile = Vec<Deviation>;

/// A profile cell by cell, those without samples left out.
fn cells(profile: &[Deviation]) -> impl Iterator<Item = &[Deviation]> {
    profile.chunk_by(|a, b| a.cell == b.cell)
}

/// A stroke at even times.
struct Even {
    /// Codes of its path.
    value: Vec<f64>,
    /// Codes as they came; `None` of a sample that never arrived.
    code: Vec<Option<f64>>,
    /// The parts between long gaps.
    runs: Vec<Range<usize>>,
}

impl Even {
    /// Of at most so many samples that never arrived the path is the straight line between those around them. Each gap would cost
    /// half a window of travel on both of its sides, and with it what the contact does there.
    fn of(path: &Path<'_>, range: Range<usize>, piece: &Piece, most: usize) -> Self {
        let codes = &path.codes()[range.clone()];
        let mut even = Self {
            value: Vec::with_capacity(codes.len()),
            code: Vec::with_capacity(codes.len()),
            runs: Vec::new(),
        };
        let mut start = 0;
        for run in path.runs(range.clone()) {
            if let Some(before) = even.value.last().copied() {
                let missing = path.missing_before(range.start + run.start);
                if missing > most {
                    even.runs.push(start..even.value.len());
                    start = even.value.len();
                } else {
                    let rise = (piece.value[run.start] - before) / real(missing + 1);
                    let between = (1..=missing).map(|k| before + rise * real(k));
                    even.value.extend(between);
                    even.code.resize(even.value.len(), None);
                }
            }
            even.value.extend_from_slice(&piece.value[run.clone()]);
            even.code
                .extend(codes[run].iter().map(|code| Some(code.as_f64())));
        }
        even.runs.push(start..even.value.len());
        even
    }
}

/// Local deviation of one stroke over the travel: what the codes do about the hand's movement, lost contact and all.
///
/// The movement is a parabola over some percent of travel on both sides of each sample, of the path without what left it. Where
/// the hand is slow the window is three times as long. `None` for a stroke that is too short.
pub(crate) fn profile(path: &Path<'_>, range: Range<usize>, ends: Ends) -> Option<Profile> {
    let (samples, piece) = (range.len(), path.piece(range.clone()));
    let rough = LocalQuadratic::new((samples / 24).max(2));
    let fastest = rough
        .slope(&piece.value)?
        .iter()
        .fold(0.0, |most: f64, slope| most.max(slope.abs()));
    let per_pct = ends.span().abs() / 100.0;
    let half = nearest(HALF_WINDOW_PCT * per_pct / fastest).clamp(2, (samples / 8).max(2));
    let even = Even::of(path, range, &piece, half / 2);
    let slopes = rough.slope(&even.value)?;
    let (close, wide) = (LocalQuadratic::new(half), LocalQuadratic::new(SLOW * half));
    let mut profile = Profile::with_capacity(samples);
    for run in &even.runs {
        let values = &even.value[run.clone()];
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
            if let (Some(cell), Some(code)) = (cell_of(ends.travel_pct(smooth)), even.code[at]) {
                let code = code - smooth;
                profile.push(Deviation { cell, code });
            }
        }
    }
    if profile.first()?.cell > profile.last()?.cell {
        profile.reverse();
    }
    profile.sort_by_key(|deviation| deviation.cell); // nearly in order: next to nothing
    profile.shrink_to_fit();
    Some(profile)
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // checked to be in 0 .. 100
fn cell_of(travel_pct: f64) -> Option<u16> {
    (0.0..100.0)
        .contains(&travel_pct)
        .then_some((travel_pct * real(CELLS) / 100.0) as u16)
        .filter(|cell| usize::from(*cell) < CELLS)
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
    /// Whether chance does not explain it all: some bin of a good contact looks like this once in a hundred parts.
    beyond_chance: bool,
}

impl ContactNoise {
    /// From the pattern that strokes repeat, cell by cell, and what they show besides in each bin.
    fn of(Contact { repeats, bins }: Contact) -> Self {
        let mut noise = Self {
            repeats,
            fresh: vec![0.0; BINS],
            relative: 0.0,
            cell_variance: 0.0,
            hidden: 0.0,
            rest: 0.0,
            beyond_chance: false,
        };
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
                noise.beyond_chance |= seen.variance > rest * seen.largest_by_chance();
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
        let explained = chi_square_quantile(1.0 - BY_CHANCE / real(BINS), n - 1.0) / (n - 1.0);
        if excess > by_chance * explained {
            self.cell_variance = self.cell_variance.max(by_chance);
            self.beyond_chance = true;
        } else {
            own.fill(0.0);
        }
    }

    /// The largest peak-to-peak in the window that such a contact makes on one stroke's samples, in codes.
    fn largest(&self, profile: &[Deviation], random: &mut ChaCha8Rng) -> f64 {
        let (mut travel, mut deviation) = (Vec::new(), Vec::new());
        for cell in cells(profile) {
            let (repeats, fresh) = (self.repeats[cell[0].cell()], self.fresh[cell[0].bin()]);
            // More than a few of one value add nothing.
            let draws = if fresh > 0.0 { cell.len() } else { 1 };
            for _ in 0..draws {
                let noise: f64 = if fresh > 0.0 {
                    StandardNormal.sample(random)
                } else {
                    0.0
                };
                travel.push(cell[0].travel_pct());
                deviation.push(repeats + fresh * noise);
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
        let travel: Vec<f64> = profile.iter().map(|seen| seen.travel_pct()).collect();
        let deviation: Vec<f64> = profile.iter().map(|seen| seen.code).collect();
        let seen = largest(&travel, &deviation).powi(2) - AT_REST_SD.powi(2) * self.rest;
        made.min(seen.max(0.0).sqrt())
    }
}

/// What the strokes show in one bin of travel.
#[derive(Debug, Clone, Copy)]
struct Bin {
    /// Strokes that crossed it.
    strokes: usize,
    /// Samples of all of them.
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
    /// The variance over that at rest which some bin of a good contact reaches by chance once in a hundred parts.
    ///
    /// The median of `m` strokes is below `x` where half of them are: a beta distribution with `(m + 1) / 2` twice, which is Student's t
    /// with `m + 1` degrees of freedom (both from memory). Each stroke's is chi-square, over its own median (Wilson and Hilferty 1931).
    fn largest_by_chance(&self) -> f64 {
        let dof = real(self.strokes) + 1.0;
        let t = t_quantile(1.0 - BY_CHANCE / real(BINS), dof);
        let below = 0.5 + 0.5 * t / (dof + t * t).sqrt();
        let dof = (real(self.samples) / real(self.strokes)).max(1.0);
        chi_square_quantile(below, dof) / (dof * (1.0 - 2.0 / (9.0 * dof)).powi(3))
    }

    /// The bins that strokes crossed; `quiet` is the noise variance that a bin has with nothing moving, its samples in one
    /// stroke given.
    fn all(
        profiles: &[Profile],
        repeats: &[f64],
        crossed: &[usize],
        quiet: impl Fn(usize, usize) -> f64,
    ) -> Vec<Option<Self>> {
        let mut each = vec![(Vec::new(), 0); BINS];
        for profile in profiles {
            for part in profile.chunk_by(|a, b| a.bin() == b.bin()) {
                let squares = part
                    .iter()
                    .map(|seen| (seen.code - repeats[seen.cell()]).powi(2));
                let n = real(part.len());
                let (variances, samples) = &mut each[part[0].bin()];
                variances.push(squares.sum::<f64>() / n / (1.0 - 2.0 / (9.0 * n)).powi(3));
                *samples += part.len();
            }
        }
        let each = each.into_iter().enumerate();
        each.map(|(bin, (mut variances, samples))| {
            let range = cells_of(bin);
            let strokes = variances.len();
            let variance = median(&mut variances)?;
            let rises = range.clone().map(|cell| {
                let (before, after) = (cell.saturating_sub(1), (cell + 1).min(CELLS - 1));
                ((repeats[after] - repeats[before]) / 2.0).powi(2)
            });
            let filled = crossed[range.clone()]
                .iter()
                .filter(|strokes| **strokes > 0);
            let per_cell = (real(samples) / real(filled.count().max(1))).max(1.0);
            let quiet = quiet(bin, samples / strokes);
            Some(Self {
                strokes,
                samples,
                variance,
                quiet,
                steepness: rises.sum::<f64>() / real(range.len()),
                by_chance: std::f64::consts::FRAC_PI_2 * variance.max(quiet) / per_cell,
            })
        })
        .collect()
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

/// The usual deviation in each cell: the median of the strokes' own means, where a quarter of them say something; 0 elsewhere.
/// And how many strokes say something.
fn usual(profiles: &[Profile]) -> (Vec<f64>, Vec<usize>) {
    let mut means = vec![Vec::new(); CELLS];
    for cell in profiles.iter().flat_map(|profile| cells(profile)) {
        let sum: f64 = cell.iter().map(|seen| seen.code).sum();
        means[cell[0].cell()].push(sum / real(cell.len()));
    }
    let usual = |means: &mut Vec<f64>| match means.len() {
        few if 4 * few < profiles.len() => (0.0, few),
        strokes => (median(means).unwrap_or(0.0), strokes),
    };
    means.iter_mut().map(usual).unzip()
}

/// What all strokes together show of the moving contact.
pub(crate) struct Contact {
    /// What repeats from stroke to stroke, per cell, codes.
    repeats: Vec<f64>,
    /// The bins that strokes crossed.
    bins: Vec<Option<Bin>>,
}

impl Contact {
    /// From the strokes' profiles (codes); `quiet` is the noise variance that a bin has with nothing moving, its samples in one
    /// stroke given.
    pub(crate) fn of(profiles: &[Profile], quiet: impl Fn(usize, usize) -> f64) -> Self {
        let (repeats, crossed) = usual(profiles);
        let bins = Bin::all(profiles, &repeats, &crossed, quiet);
        Self { repeats, bins }
    }
}

/// Smoothness in % of span from the strokes' profiles (codes): how large the largest peak-to-peak in 1 % of travel is in one stroke.
/// `None` with fewer than three strokes, or when they do not show four fifths of the travel.
///
/// What repeats and how loud the rest is are estimated place by place over the strokes, what the signal does at rest is taken off,
/// and a contact that does just that is moved as the strokes moved (seeded): the mean over strokes of its largest is the figure.
/// Medians over strokes leave out what came once. Interval: the scatter over strokes, the uncertainty of both estimates, and
/// a share for the movement's own shape; from 0 on where chance alone shows as much once in a hundred good parts.
pub(crate) fn smoothness(
    profiles: &[Profile],
    contact: Contact,
    ends: Ends,
    board: &BoardFacts,
) -> Option<Figure> {
    let shown = contact.bins.iter().flatten();
    let shown = shown.filter(|bin| bin.strokes >= FEWEST_STROKES).count();
    if real(shown) < COVERED * real(BINS) {
        return None;
    }
    let noise = ContactNoise::of(contact);
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
    let certain = noise.beyond_chance;
    figure.low = figure
        .low
        .map(|low| if certain { low.max(0.0) } else { 0.0 });
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

    /// Worked with the binomial sum for the fifth of nine and the closed forms of chi-square with two and four degrees of freedom.
    #[test]
    fn how_large_a_median_gets_by_chance() {
        let largest = |strokes: usize, samples: usize| {
            let bin = Bin {
                strokes,
                samples,
                variance: 1.0,
                quiet: 1.0,
                steepness: 0.0,
                by_chance: 0.0,
            };
            bin.largest_by_chance()
        };
        for (strokes, samples, want) in [(1, 4, 6.977_728_2), (9, 18, 3.938_827_8)] {
            let found = largest(strokes, samples);
            assert!(
                (found / want - 1.0).abs() < 1e-6,
                "{strokes}: {found} {want}"
            );
        }
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
            let deviation = &deviation;
            let two = |cell: u16| {
                let code = deviation(stroke, usize::from(cell));
                [Deviation { cell, code }; 2]
            };
            (0..1000).flat_map(two).collect()
        };
        let profiles: Vec<Profile> = (0..strokes).map(stroke).collect();
        let ends = Ends::from_holds(Some(100.0), Some(100.0 + span)).unwrap();
        let board = BoardFacts::new(crate::units::Scale::new(10, 5000.0).unwrap(), 1000.0);
        let contact = Contact::of(&profiles, |_, _| rest);
        smoothness(&profiles, contact, ends, &board)
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
