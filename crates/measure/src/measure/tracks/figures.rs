//! Two tracks of one control against each other: gain, offset, disagreement, lag.
//!
//! The lag comes first: a delay alone lowers the gain and makes the tracks disagree (`tests/reference/26`). Gain and offset
//! are those of the aligned tracks; disagreement is of the codes as they come, at the same instant, because that is what a
//! board that compares tracks will see.

use crate::figure::{Evidence, Figure, FigureName, Figures, Scope, Shrink};
use crate::measure::recording::{Channel, Recording};
use crate::measure::statistics::interval::coverage_factor;
use crate::measure::statistics::least_squares::Moments;
use crate::measure::statistics::moments::real;
use crate::measure::strokes::figures::{HoldEvidence, PreparedStrokes, stroke_paths};
use crate::measure::strokes::path::{Path, noise_sd_of};
use crate::measure::strokes::segment::Ends;
use crate::measure::tracks::lag::{self, Delay, STRETCH, Tracks};
use crate::units::maths;
use std::borrow::Cow;

/// Least correlation of two tracks for a gain or a lag to mean anything.
const TOGETHER: f64 = 0.5;
/// Travel of track a over which track b is averaged before it may be the largest departure, %.
const BLOCK_PCT: f64 = 1.0;
/// Least time of such a block in seconds, and fewest samples.
const BLOCK_S: f64 = 0.01;
const BLOCK_SAMPLES: usize = 4;
/// Most seconds of a block while a stands, so that what b does meanwhile is not averaged out (own choice).
const LONGEST_BLOCK_S: f64 = 0.05;

/// Measures track b against track a from strokes. Figures without evidence are absent.
///
/// Needs at least two strokes. `holds_b` says what the holds of the same capture gave; `ready_a` and `ready_b` are what
/// [`ready`](crate::parts::ready) gave for each channel.
#[must_use]
pub fn pair_part(
    recording: &Recording<'_>,
    (a, ready_a): (&Channel<'_>, Option<&PreparedStrokes<'_>>),
    (b, ready_b): (&Channel<'_>, Option<&PreparedStrokes<'_>>),
    holds_b: HoldEvidence,
) -> Figures {
    let mut figures = Figures::new(Scope::Pair);
    let both = ChannelPair {
        paths_a: paths(ready_a, recording, a),
        paths_b: paths(ready_b, recording, b),
        ends_b: ready_b
            .map(|ready| ready.ends)
            .or_else(|| Ends::from_holds(holds_b.rest, holds_b.full)),
    };
    let Some(moving) = ready_a.or(ready_b) else {
        return figures;
    };
    let Some(tracks) = both.tracks(moving) else {
        return figures;
    };
    let strokes = tracks.iter().map(|t| t.strokes.len()).sum::<usize>();
    if strokes < 2 || !together(&tracks) {
        return figures;
    }
    let delay = lag::delay(&tracks);
    let Some(line) = Line::of(&tracks, delay.as_ref(), both.noise_ratio()) else {
        return figures;
    };
    figures.set(FigureName::TrackGain, line.gain());
    figures.set(FigureName::TrackOffset, line.offset());
    figures.set(
        FigureName::TrackLag,
        delay.as_ref().and_then(|delay| lag_figure(delay, &tracks)),
    );
    let fastest = tracks
        .iter()
        .flat_map(|t| &t.slope)
        .fold(0.0, |most: f64, slope| most.max(slope.abs()));
    let by_delay = delay.map_or(0.0, |delay| delay.samples * fastest * line.slope);
    figures.set(
        FigureName::TrackDisagreement,
        both.disagreement(&tracks, &line, moving.ends, by_delay),
    );
    figures
}

fn paths<'r, 'a>(
    ready: Option<&'r PreparedStrokes<'a>>,
    recording: &Recording<'a>,
    channel: &Channel<'a>,
) -> Cow<'r, [Path<'a>]> {
    ready.map_or_else(
        || stroke_paths(recording, channel).into(),
        |ready| ready.paths.as_slice().into(),
    )
}

/// Both channels over the strokes passages.
struct ChannelPair<'r, 'a> {
    paths_a: Cow<'r, [Path<'a>]>,
    paths_b: Cow<'r, [Path<'a>]>,
    ends_b: Option<Ends>,
}

impl ChannelPair<'_, '_> {
    /// Variance of b's noise over that of a's.
    fn noise_ratio(&self) -> f64 {
        let sd = |paths: &[Path<'_>]| {
            let sum: f64 = paths.iter().map(|path| path.noise_sd().powi(2)).sum();
            sum / real(paths.len().max(1))
        };
        let (a, b) = (sd(&self.paths_a), sd(&self.paths_b));
        if a > 0.0 { b / a } else { 1.0 }
    }

    /// Both smoothed alike, one entry a run of a passage without missing samples.
    fn tracks(&self, moving: &PreparedStrokes<'_>) -> Option<Vec<Tracks>> {
        let mut all = Vec::new();
        let paths = self.paths_a.iter().zip(&*self.paths_b);
        for (passage, ((a, b), strokes)) in paths.zip(&moving.strokes).enumerate() {
            if a.len() != b.len() {
                return None;
            }
            let runs = a.runs(0..a.len()).into_iter();
            all.extend(runs.filter_map(|run| Tracks::of(passage, a, b, run, strokes)));
        }
        Some(all)
    }

    /// Largest departure of b from the line, in % of b's span.
    ///
    /// Samples are averaged while a moves by 1 %, or for 50 ms. The block with the largest departure is chosen by its even samples and
    /// read from its odd ones, and the other way round: noise then does not make it larger. `by_delay` is what the lag alone
    /// makes at most, in codes.
    fn disagreement(
        &self,
        tracks: &[Tracks],
        line: &Line,
        ends_a: Ends,
        by_delay: f64,
    ) -> Option<Figure> {
        let span = self.ends_b?.span().abs();
        let mut blocks = Vec::new();
        let mut noise = 0.0_f64;
        for (passage, (a, b)) in self.paths_a.iter().zip(&*self.paths_b).enumerate() {
            let whole = tracks
                .iter()
                .find(|track| track.passage == passage && track.a.len() == a.len());
            let smooth = whole.map_or_else(
                || {
                    lag::smoothed(a, 0..a.len())
                        .unwrap_or_else(|| a.piece(0..a.len()).value)
                        .into()
                },
                |track| Cow::from(&track.a),
            );
            let found = blocks_of(a, b, &smooth, line, ends_a);
            noise = noise.max(found.1);
            blocks.extend(found.0);
        }
        let by = |pick: fn(&Block) -> f64, read: fn(&Block) -> f64| -> Option<(f64, usize)> {
            let at = (0..blocks.len())
                .max_by(|&x, &y| pick(&blocks[x]).abs().total_cmp(&pick(&blocks[y]).abs()))?;
            Some((read(&blocks[at]) * pick(&blocks[at]).signum(), at))
        };
        let (odd, at) = by(|b| b.even, |b| b.odd)?;
        let (even, other) = by(|b| b.odd, |b| b.even)?;
        let half = |block: &Block| noise * noise * 2.0 / real(block.count);
        let random = (half(&blocks[at]) + half(&blocks[other])) / 4.0;
        let line_u = line.uncertainty_at(blocks[at].a);
        // The block that noise chose need not be the very largest: half a half-block's uncertainty.
        let chosen = half(&blocks[at]).sqrt() / 2.0;
        let u = [line_u, rounded_off(&blocks, at), chosen]
            .into_iter()
            .fold(random.sqrt(), maths::hypot);
        let degrees = if line_u > 0.0 {
            (line.strokes() - 1.0) * (u / line_u).powi(4)
        } else {
            f64::INFINITY
        };
        let scale = 100.0 / span;
        let k = student(degrees)?;
        let raw = f64::midpoint(odd, even);
        let by_delay = by_delay.abs() * scale;
        let mut figure = Figure::symmetric(
            raw.max(0.0) * scale,
            u * scale,
            k,
            blocks.len(),
            format!(
                "largest departure of b from gain x a + offset at the same instant, averaged over {BLOCK_PCT} % of travel or \
                 10 ms (at least {BLOCK_SAMPLES} samples; while it stands over 50 ms); the lag alone makes up to {by_delay:.2} %"
            ),
        );
        figure.shrink = Some(Shrink::mean(Evidence::Strokes, line.strokes(), 0.0));
        figure.low = Some((raw * scale - k * u * scale).max(0.0));
        figure.high = Some((raw * scale + k * u * scale).max(0.0));
        Some(figure)
    }
}

/// Samples of the two tracks while a stays within 1 % of travel.
#[derive(Debug, Clone, Copy, Default)]
struct Block {
    /// Mean code of a.
    a: f64,
    /// Mean departure of b over the samples with an even index.
    even: f64,
    /// The same with an odd one.
    odd: f64,
    count: usize,
}

/// What averaging over a block may take off a peak, in codes: an eighth of how far it stands above its neighbours (a
/// parabola loses a twelfth).
fn rounded_off(blocks: &[Block], at: usize) -> f64 {
    let mean = |block: &Block| f64::midpoint(block.even, block.odd);
    if at == 0 || at + 1 >= blocks.len() {
        return 0.0;
    }
    let around = f64::midpoint(mean(&blocks[at - 1]), mean(&blocks[at + 1]));
    (mean(&blocks[at]) - around).abs() / 8.0
}

/// The blocks of one passage, whose smoothed codes of a are given, and the noise of the departure in codes.
fn blocks_of(
    a: &Path<'_>,
    b: &Path<'_>,
    smooth: &[f64],
    line: &Line,
    ends_a: Ends,
) -> (Vec<Block>, f64) {
    let noise = noise_sd_of(a.len(), |i| b.value(i) - line.at(a.value(i)));
    let mut blocks = Vec::new();
    let mut sums = [(0.0, 0_usize); 3];
    let mut bin = f64::NAN;
    let fewest = a.samples(BLOCK_S).max(BLOCK_SAMPLES);
    let most = a.samples(LONGEST_BLOCK_S).max(fewest);
    for start in (0..a.len()).step_by(STRETCH) {
        let stretch = start..(start + STRETCH).min(a.len());
        let (a, b) = (a.piece(stretch.clone()), b.piece(stretch.clone()));
        for (at, i) in stretch.enumerate() {
            let here = (ends_a.travel_pct(smooth[i]) / BLOCK_PCT).floor();
            if (here - bin).abs() > 0.0 || bin.is_nan() || sums[2].1 >= most {
                let enough = sums[2].1 >= fewest;
                if enough {
                    blocks.extend(block(&sums));
                }
                if enough || bin.is_nan() {
                    sums = [(0.0, 0); 3];
                }
                bin = here;
            }
            if !(a.off[at] || b.off[at]) {
                let departure = b.value[at] - line.at(a.value[at]);
                for (place, value) in [(i % 2, departure), (2, a.value[at])] {
                    sums[place].0 += value;
                    sums[place].1 += 1;
                }
            }
        }
    }
    blocks.extend(block(&sums));
    (blocks, noise)
}

fn block(&[even, odd, a]: &[(f64, usize); 3]) -> Option<Block> {
    (even.1 >= 2 && odd.1 >= 2).then(|| Block {
        a: a.0 / real(a.1),
        even: even.0 / real(even.1),
        odd: odd.0 / real(odd.1),
        count: a.1,
    })
}

/// Whether the tracks move together at all, once the best guess of the delay is taken out.
fn together(tracks: &[Tracks]) -> bool {
    let moments = tracks
        .iter()
        .map(|t| Moments::of(t.a.iter().copied().zip(t.b.iter().copied())))
        .fold(Moments::default(), Moments::with);
    moments.correlation().is_some_and(|r| r.abs() > TOGETHER)
}

/// The line between aligned tracks, and the same with each stroke left out.
struct Line {
    slope: f64,
    intercept: f64,
    without: Vec<(f64, f64)>,
    words: String,
}

impl Line {
    fn of(tracks: &[Tracks], delay: Option<&Delay>, ratio: f64) -> Option<Self> {
        let shift = delay.map_or(0.0, |delay| delay.samples);
        let each: Vec<Moments> = tracks
            .iter()
            .flat_map(|track| {
                track.strokes.iter().map(move |(stroke, _)| {
                    Moments::of(lag::aligned(track, stroke, shift).into_iter())
                })
            })
            .collect();
        // All strokes before each one, and all behind it: leaving one out costs one step.
        let before = running(each.iter());
        let mut behind = running(each.iter().rev());
        behind.reverse();
        let (slope, intercept) = before.last()?.deming(ratio)?;
        let without = before
            .iter()
            .zip(behind.iter().skip(1))
            .filter_map(|(before, behind)| before.with(*behind).deming(ratio))
            .collect();
        let lag = if delay.is_some() {
            "lag taken out first"
        } else {
            "no lag could be found"
        };
        Some(Self {
            slope,
            intercept,
            without,
            words: format!(
                "line with errors in both tracks (noise variance b over a {ratio:.2}) through the strokes, {lag}; u by leaving \
                 out one stroke at a time"
            ),
        })
    }

    fn at(&self, a: f64) -> f64 {
        self.slope * a + self.intercept
    }

    fn strokes(&self) -> f64 {
        real(self.without.len())
    }

    fn uncertainty_at(&self, a: f64) -> f64 {
        jackknife_u(self.without.iter().map(|(slope, rest)| slope * a + rest))
    }

    fn gain(&self) -> Option<Figure> {
        let u = jackknife_u(self.without.iter().map(|(slope, _)| *slope));
        self.figure(self.slope, u)
    }

    fn offset(&self) -> Option<Figure> {
        let u = jackknife_u(self.without.iter().map(|(_, intercept)| *intercept));
        self.figure(self.intercept, u)
    }

    fn figure(&self, value: f64, u: f64) -> Option<Figure> {
        let k = student(self.strokes() - 1.0)?;
        Some(
            Figure::symmetric(value, u, k, self.without.len(), self.words.clone())
                .shrinking(Shrink::pieces(Evidence::Strokes, self.without.len(), 0.0)),
        )
    }
}

/// The moments of none, the first, the first two, ... of some strokes.
fn running<'a>(each: impl Iterator<Item = &'a Moments>) -> Vec<Moments> {
    let mut all = vec![Moments::default()];
    for own in each {
        let before = all.last().copied().unwrap_or_default();
        all.push(before.with(*own));
    }
    all
}

fn lag_figure(delay: &Delay, tracks: &[Tracks]) -> Option<Figure> {
    let ms = tracks.first()?.period * 1000.0;
    let k = student(real(delay.without.len()) - 1.0)?;
    Some(Figure::symmetric(
        delay.samples * ms,
        jackknife_u(delay.without.iter().copied()) * ms,
        k,
        delay.without.len(),
        "delay of b behind a at least squares, begun at the best normalised overlap correlation; play between the tracks \
         kept apart by direction; u by leaving out one stroke at a time",
    )
    .shrinking(Shrink::pieces(Evidence::Strokes, delay.without.len(), 0.0)))
}

/// Standard uncertainty from values with one stroke left out each (jackknife, Tukey 1958).
fn jackknife_u(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let n = real(values.clone().count());
    let mean = values.clone().sum::<f64>() / n;
    let squares: f64 = values.map(|v| (v - mean).powi(2)).sum();
    ((n - 1.0) / n * squares).sqrt()
}

/// Student's factor of a 95 % interval; `None` below one degree of freedom.
fn student(degrees: f64) -> Option<f64> {
    (degrees >= 1.0).then(|| coverage_factor(degrees))
}

#[cfg(test)]
mod tests;
