//! From samples with reference travel to visits: one mean code at one position, reached from one side.
//!
//! Belongs here: the travel axis, holds at stations, travel bins of a moving control, turning points, the standard
//! error of each mean. Does not belong here: joining visits to a curve (`curve`), lines (`line`).
//!
//! Which samples count: those of `stations` passages when they hold three different positions or more (the control
//! stands still there), otherwise the strokes, cut into bins of 1 % of travel. A sample without a finite reference
//! position is left out.
//!
//! Direction: a station is reached upwards (towards full) or downwards, seen from the station before it. How the
//! first one was reached nobody knows, and just after a turn the slack of the mechanism is not yet taken up: such
//! visits are marked `slack` and are used only where nothing else was measured.

use super::line::{mean, real};
use super::recording::{Channel, Recording, Reference};
use crate::units::Step;

/// Width of a travel bin, and of the stretch after a turn that counts as slack, % of travel.
pub(super) const BIN_PCT: f64 = 1.0;

/// Positions closer than this are one station, % of travel.
pub(super) const SAME_PCT: f64 = 0.5;

/// A movement has turned when it came back by this much, % of travel.
const TURN_PCT: f64 = 2.0;

/// Series longer than this are averaged in stretches before their correlation is looked at.
const STRETCHES: usize = 512;

/// From which side a position was reached.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// Moving from rest towards full.
    Up,
    /// Moving from full towards rest.
    Down,
}

/// How the control was moved past the reference.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Manner {
    /// Held still at stations.
    Stations,
    /// Moving, averaged in travel bins.
    Moving,
}

/// One mean at one position.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Visit {
    /// Mean position, % of travel: 0 at rest, 100 at full.
    pub travel_pct: f64,
    /// Mean code.
    pub code: f64,
    /// Reached from which side.
    pub direction: Direction,
    /// Whether the side is not certain: the first station, or just after a turn.
    pub slack: bool,
    /// Standard error of the mean code from the noise within the visit, effective number of samples; `None` when
    /// one visit alone cannot tell.
    pub se: Option<f64>,
    /// Standard uncertainty left by rounding to whole codes, in codes: almost 0 when noise dithers it.
    pub rounding: f64,
    /// Samples averaged.
    pub n: usize,
}

/// The visits of one channel, in the order of time.
#[derive(Debug, Clone, PartialEq)]
pub struct Visits {
    /// In the order of time.
    pub in_order: Vec<Visit>,
    /// How the control was moved.
    pub manner: Manner,
    /// Standard uncertainty of a position, % of travel.
    pub u_travel_pct: f64,
}

/// Turns reference positions into % of travel.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Axis {
    rest: f64,
    full: f64,
}

impl Axis {
    fn pct(&self, position: f64) -> f64 {
        100.0 * (position - self.rest) / (self.full - self.rest)
    }
}

/// The visits that the recording's reference supports for a channel; `None` without a reference or with fewer than
/// three different positions.
///
/// `ends` are the rest and full codes, if holds gave them: where the reference does not say which of its ends is rest,
/// the code there does; without both the smallest position is taken as rest.
#[must_use]
pub fn visits(
    recording: &Recording<'_>,
    channel: &Channel<'_>,
    ends: Option<(f64, f64)>,
) -> Option<Visits> {
    let reference = recording.reference?;
    let stations = samples(recording, channel, &reference, Step::Stations);
    let strokes = samples(recording, channel, &reference, Step::Strokes);
    [(stations, Manner::Stations), (strokes, Manner::Moving)]
        .into_iter()
        .find_map(|(runs, manner)| {
            let axis = axis(&reference, &runs, ends)?;
            let runs = on_axis(runs, axis);
            let visits = match manner {
                Manner::Stations => station_visits(&runs),
                Manner::Moving => runs.iter().flat_map(|run| moving_visits(run)).collect(),
            };
            enough(&visits).then(|| Visits {
                in_order: visits,
                manner,
                u_travel_pct: (100.0 * reference.u / (axis.full - axis.rest)).abs(),
            })
        })
}

/// One sample: position (later % of travel) and code.
type Sample = (f64, f64);

/// The samples of each passage of a step that have a finite reference position.
fn samples(
    recording: &Recording<'_>,
    channel: &Channel<'_>,
    reference: &Reference<'_>,
    step: Step,
) -> Vec<Vec<Sample>> {
    recording
        .passages
        .iter()
        .filter(|passage| passage.step == step)
        .filter_map(|passage| {
            let positions = reference.position.get(passage.range.clone())?;
            let codes = channel.codes.get(passage.range.clone())?;
            let run: Vec<_> = positions
                .iter()
                .zip(codes)
                .filter(|(position, _)| position.is_finite())
                .map(|(&position, code)| (position, code.as_f64()))
                .collect();
            (!run.is_empty()).then_some(run)
        })
        .collect()
}

fn on_axis(mut runs: Vec<Vec<Sample>>, axis: Axis) -> Vec<Vec<Sample>> {
    for sample in runs.iter_mut().flatten() {
        sample.0 = axis.pct(sample.0);
    }
    runs
}

/// Where rest and full lie on the reference.
fn axis(reference: &Reference<'_>, runs: &[Vec<Sample>], ends: Option<(f64, f64)>) -> Option<Axis> {
    let all = || runs.iter().flatten();
    let least = all().min_by(|a, b| a.0.total_cmp(&b.0))?;
    let most = all().max_by(|a, b| a.0.total_cmp(&b.0))?;
    let mut axis = Axis {
        rest: reference.low.unwrap_or(least.0),
        full: reference.high.unwrap_or(most.0),
    };
    let stated = reference.low.is_some() || reference.high.is_some();
    if let (false, Some((rest, full))) = (stated, ends)
        && (full - rest) * (most.1 - least.1) < 0.0
    {
        axis = Axis {
            rest: axis.full,
            full: axis.rest,
        };
    }
    let length = (axis.full - axis.rest).abs();
    (length.is_finite() && length > 0.0).then_some(axis)
}

/// Whether there are three different positions.
fn enough(visits: &[Visit]) -> bool {
    let mut travel: Vec<f64> = visits.iter().map(|v| v.travel_pct).collect();
    travel.sort_by(f64::total_cmp);
    let mut distinct = 0;
    let mut last = f64::NEG_INFINITY;
    for at in travel {
        if at - last > SAME_PCT {
            distinct += 1;
            last = at;
        }
    }
    distinct >= 3
}

/// Holds of the `stations` passages: a passage is cut where the reference leaves the station.
fn station_visits(runs: &[Vec<Sample>]) -> Vec<Visit> {
    let mut holds: Vec<&[Sample]> = runs
        .iter()
        .flat_map(|run| {
            run.chunk_by(|a, b| (a.0 - b.0).abs() <= SAME_PCT)
                .flat_map(still_parts)
        })
        .collect();
    let mut lengths: Vec<usize> = holds.iter().map(|hold| hold.len()).collect();
    lengths.sort_unstable();
    // On the way from one station to the next an encoder leaves short stretches: they are no holds.
    let usual = lengths.get(lengths.len() / 2).copied().unwrap_or(0);
    holds.retain(|hold| 4 * hold.len() >= usual);
    let mut visits: Vec<Visit> = Vec::with_capacity(holds.len());
    for hold in holds {
        let visit = still_visit(hold);
        let (direction, slack) = match visits.last() {
            None => (Direction::Up, true),
            Some(last) if visit.travel_pct - last.travel_pct > SAME_PCT => (Direction::Up, false),
            Some(last) if last.travel_pct - visit.travel_pct > SAME_PCT => (Direction::Down, false),
            Some(last) => (last.direction, last.slack),
        };
        visits.push(Visit {
            direction,
            slack,
            ..visit
        });
    }
    // The first station begins the movement that follows it.
    if let Some(next) = visits.iter().find(|v| !v.slack).map(|v| v.direction) {
        for visit in visits.iter_mut().take_while(|v| v.slack) {
            visit.direction = next;
        }
    }
    visits
}

/// Cuts a run without jumps wherever it has crept further than one station reaches.
fn still_parts(run: &[Sample]) -> Vec<&[Sample]> {
    let mut parts = Vec::new();
    let mut from = 0;
    for (i, sample) in run.iter().enumerate() {
        if run
            .get(from)
            .is_some_and(|first| (sample.0 - first.0).abs() > SAME_PCT)
        {
            parts.push(&run[from..i]);
            from = i;
        }
    }
    parts.push(&run[from..]);
    parts
}

fn still_visit(hold: &[Sample]) -> Visit {
    let travel: Vec<f64> = hold.iter().map(|s| s.0).collect();
    let codes: Vec<f64> = hold.iter().map(|s| s.1).collect();
    let (code, spread) = mean_and_error(&codes);
    Visit {
        travel_pct: mean(&travel),
        code,
        direction: Direction::Up,
        slack: false,
        se: spread.map(|s| s.se),
        rounding: rounding_left(spread.map_or(0.0, |s| s.sd)),
        n: hold.len(),
    }
}

/// The bins that one passage of strokes crossed, one visit a bin and crossing.
fn moving_visits(run: &[Sample]) -> Vec<Visit> {
    let noise = noise_of_moving(run);
    let mut visits = Vec::new();
    for (direction, crossing) in crossings(run) {
        let begun = crossing.first().map_or(0.0, |s| s.0);
        let bin = |s: &Sample| (s.0 / BIN_PCT).floor();
        for part in crossing.chunk_by(|a, b| bin(a).total_cmp(&bin(b)).is_eq()) {
            let travel: Vec<f64> = part.iter().map(|s| s.0).collect();
            let codes: Vec<f64> = part.iter().map(|s| s.1).collect();
            let travel_pct = mean(&travel);
            visits.push(Visit {
                travel_pct,
                code: mean(&codes),
                direction,
                slack: (travel_pct - begun).abs() <= BIN_PCT,
                se: noise.map(|sd| sd / real(part.len()).sqrt()),
                rounding: 0.0, // the movement itself dithers: it crosses many codes
                n: part.len(),
            });
        }
    }
    visits
}

/// Cuts a movement at its turning points: a turn is certain once it has come back by `TURN_PCT`.
fn crossings(run: &[Sample]) -> Vec<(Direction, &[Sample])> {
    let mut out = Vec::new();
    let Some(&(start, _)) = run.first() else {
        return out;
    };
    let mut direction = None;
    let mut from = 0;
    // Indices of the furthest points up and down since the last turn.
    let (mut top, mut bottom) = ((0, start), (0, start));
    for (i, &(at, _)) in run.iter().enumerate() {
        if at > top.1 {
            top = (i, at);
        }
        if at < bottom.1 {
            bottom = (i, at);
        }
        let (turned, turn) = match direction {
            Some(Direction::Up) | None if top.1 - at > TURN_PCT => (Direction::Down, top.0),
            Some(Direction::Down) | None if at - bottom.1 > TURN_PCT => (Direction::Up, bottom.0),
            _ => continue,
        };
        if let Some(before) = direction {
            out.push((before, &run[from..turn]));
        }
        from = turn;
        direction = Some(turned);
        top = (i, at);
        bottom = (i, at);
    }
    if let Some(direction) = direction {
        out.push((direction, &run[from..]));
    }
    out
}

/// Noise of a moving signal from its second differences, which no steady movement has: for white noise their
/// variance is six times that of the noise. `None` below three samples.
fn noise_of_moving(run: &[Sample]) -> Option<f64> {
    let squares: f64 = run
        .windows(3)
        .map(|w| (w[0].1 - 2.0 * w[1].1 + w[2].1).powi(2))
        .sum();
    let n = run.len().checked_sub(2)?;
    (n > 0).then(|| (squares / (6.0 * real(n))).sqrt())
}

/// Scatter of a hold.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Spread {
    sd: f64,
    se: f64,
}

/// Mean, standard deviation and standard error of the mean of a correlated series: s^2/n times
/// `1 + 2 sum(acf)`, summed while neighbouring pairs stay positive (Geyer 1992, initial positive sequence).
/// No spread below three values.
fn mean_and_error(values: &[f64]) -> (f64, Option<Spread>) {
    let n = values.len();
    let centre = mean(values);
    if n < 3 {
        return (centre, None);
    }
    let square = |v: &f64| (v - centre).powi(2);
    let variance = values.iter().map(square).sum::<f64>() / real(n - 1);
    let stretch = n.div_ceil(STRETCHES);
    let means: Vec<f64> = values.chunks_exact(stretch).map(mean).collect();
    let m = means.len();
    let power = means.iter().map(square).sum::<f64>();
    let mut inflation = 1.0;
    if power > 0.0 {
        let acf = |lag: usize| -> f64 {
            let products = means
                .iter()
                .zip(means.get(lag..).unwrap_or(&[]))
                .map(|(a, b)| (a - centre) * (b - centre));
            products.sum::<f64>() / power
        };
        for pair in 0..m / 6 {
            let both = acf(2 * pair + 1) + acf(2 * pair + 2);
            if both <= 0.0 {
                break;
            }
            inflation += 2.0 * both;
        }
    }
    let of_means = power / real(m.saturating_sub(1).max(1)) / real(m) * inflation;
    let se = of_means.max(variance / real(n)).sqrt();
    (
        centre,
        Some(Spread {
            sd: variance.sqrt(),
            se,
        }),
    )
}

/// Standard deviation of the error that rounding leaves in the mean of many samples, in codes, for a mean that may
/// lie anywhere between two codes and gaussian noise that reads `sd` after rounding.
///
/// Fourier series of the rounding error (Widrow): harmonic k has amplitude `exp(-2 pi^2 k^2 sd^2) / (pi k)`.
/// 0.289 without noise, 0.01 from 0.4 codes on.
fn rounding_left(sd: f64) -> f64 {
    use std::f64::consts::PI;
    let variance = (sd * sd - 1.0 / 12.0).max(0.0);
    if variance <= 0.0 {
        return 1.0 / 12.0_f64.sqrt();
    }
    let power: f64 = (1..=50)
        .map(|k| {
            let k = f64::from(k);
            (-4.0 * PI * PI * k * k * variance).exp() / (2.0 * PI * PI * k * k)
        })
        .sum();
    power.sqrt()
}
