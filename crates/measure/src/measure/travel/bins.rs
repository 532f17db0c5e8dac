//! From samples with reference travel to visits: one mean code at one position, reached from one side.
//!
//! Which samples count: those of `stations` passages when they hold three different positions or more (the control
//! stands still there), otherwise the strokes, cut into bins of 1 % of travel. A sample without a finite reference
//! position is left out.
//!
//! Direction: a station is reached upwards (towards full) or downwards, seen from the station before it. How the
//! first one was reached nobody knows, and just after a turn the slack of the mechanism is not yet taken up: such
//! visits are marked `slack` and are used only where nothing else was measured.

use crate::measure::holds::hold as holds;
use crate::measure::recording::{Channel, Recording, Reference};
use crate::measure::statistics::moments::{mean, real};
use crate::measure::statistics::quantise::{least_input_sd, mean_error_bound};
use crate::units::Step;

/// Width of a travel bin, and of the stretch after a turn that counts as slack, % of travel.
pub(crate) const BIN_PCT: f64 = 1.0;

/// Positions closer than this are one station, % of travel.
pub(crate) const STATION_PCT: f64 = 0.5;

/// A movement has turned when it came back by this much, % of travel.
const TURN_PCT: f64 = 2.0;

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
pub enum TravelMode {
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
}

/// The visits of one channel, in the order of time.
#[derive(Debug, Clone, PartialEq)]
pub struct Visits {
    /// In the order of time.
    pub in_order: Vec<Visit>,
    /// How the control was moved.
    pub mode: TravelMode,
    /// Standard uncertainty of a position, % of travel.
    pub u_travel_pct: f64,
    /// Standard uncertainty of the codes by rounding that no noise dithers.
    pub u_rounding: f64,
}

/// Travel at each end, %, that the outermost position may leave out.
const LEFT_OUT_PCT: f64 = 10.0;
/// Widest gap between two positions, % of travel: a quarter, and what a hand misses it by.
const GAP_PCT: f64 = 27.5;

impl Visits {
    /// Whether they tell of the whole travel: what is largest anywhere may lie in a gap, or beyond the last position. Our own rule.
    pub fn whole(&self) -> bool {
        let mut travel: Vec<f64> = self.in_order.iter().map(|visit| visit.travel_pct).collect();
        travel.sort_by(f64::total_cmp);
        let (Some(first), Some(last)) = (travel.first(), travel.last()) else {
            return false;
        };
        *first <= LEFT_OUT_PCT
            && *last >= 100.0 - LEFT_OUT_PCT
            && travel.windows(2).all(|pair| pair[1] - pair[0] <= GAP_PCT)
    }
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
pub fn visits(
    recording: &Recording<'_>,
    channel: &Channel<'_>,
    ends: Option<(f64, f64)>,
) -> Option<Visits> {
    let reference = recording.reference?;
    let stations = samples(recording, channel, &reference, Step::Stations);
    let strokes = samples(recording, channel, &reference, Step::Strokes);
    [
        (stations, TravelMode::Stations),
        (strokes, TravelMode::Moving),
    ]
    .into_iter()
    .find_map(|(runs, mode)| {
        let axis = axis(&reference, &runs, ends)?;
        let runs = on_axis(runs, axis);
        let visits = match mode {
            TravelMode::Stations => station_visits(recording, channel, &runs),
            TravelMode::Moving => runs.iter().flat_map(|run| moving_visits(run)).collect(),
        };
        let rounding = match mode {
            TravelMode::Stations => visits
                .iter()
                .map(|visit| visit.rounding)
                .fold(0.0, f64::max),
            TravelMode::Moving => {
                let noise = runs.iter().filter_map(|run| noise_of_moving(run));
                let least = noise.reduce(f64::min).unwrap_or(0.0);
                mean_error_bound(least_input_sd(least)) / 3.0_f64.sqrt()
            }
        };
        enough(&visits).then(|| Visits {
            in_order: visits,
            u_rounding: rounding,
            mode,
            u_travel_pct: (100.0 * reference.u / (axis.full - axis.rest)).abs(),
        })
    })
}

/// One sample.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Sample {
    /// Its index in the recording.
    index: usize,
    /// Reference position, later % of travel.
    at: f64,
    code: f64,
}

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
                .zip(passage.range.clone())
                .filter(|((position, _), _)| position.is_finite())
                .map(|((&at, code), index)| Sample {
                    index,
                    at,
                    code: code.as_f64(),
                })
                .collect();
            (!run.is_empty()).then_some(run)
        })
        .collect()
}

fn on_axis(mut runs: Vec<Vec<Sample>>, axis: Axis) -> Vec<Vec<Sample>> {
    for sample in runs.iter_mut().flatten() {
        sample.at = axis.pct(sample.at);
    }
    runs
}

/// Where rest and full lie on the reference.
fn axis(reference: &Reference<'_>, runs: &[Vec<Sample>], ends: Option<(f64, f64)>) -> Option<Axis> {
    let all = || runs.iter().flatten();
    let least = all()
        .map(|s| (s.at, s.code))
        .min_by(|a, b| a.0.total_cmp(&b.0))?;
    let most = all()
        .map(|s| (s.at, s.code))
        .max_by(|a, b| a.0.total_cmp(&b.0))?;
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
        if at - last > STATION_PCT {
            distinct += 1;
            last = at;
        }
    }
    distinct >= 3
}

/// Holds of the `stations` passages: a passage is cut where the reference leaves the station.
fn station_visits(
    recording: &Recording<'_>,
    channel: &Channel<'_>,
    runs: &[Vec<Sample>],
) -> Vec<Visit> {
    let mut holds: Vec<&[Sample]> = runs
        .iter()
        .flat_map(|run| {
            run.chunk_by(|a, b| (a.at - b.at).abs() <= STATION_PCT)
                .flat_map(still_parts)
        })
        .collect();
    let mut lengths: Vec<usize> = holds.iter().map(|hold| hold.len()).collect();
    lengths.sort_unstable();
    // On the way from one station to the next an encoder leaves short stretches: they are no holds.
    let usual = lengths.get(lengths.len() / 2).copied().unwrap_or(0);
    holds.retain(|hold| 4 * hold.len() >= usual);
    let mut visits: Vec<Visit> = Vec::with_capacity(holds.len());
    for visit in holds
        .into_iter()
        .filter_map(|hold| still_visit(recording, channel, hold))
    {
        let (direction, slack) = match visits.last() {
            None => (Direction::Up, true),
            Some(last) if visit.travel_pct - last.travel_pct > STATION_PCT => {
                (Direction::Up, false)
            }
            Some(last) if last.travel_pct - visit.travel_pct > STATION_PCT => {
                (Direction::Down, false)
            }
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
            .is_some_and(|first| (sample.at - first.at).abs() > STATION_PCT)
        {
            parts.push(&run[from..i]);
            from = i;
        }
    }
    parts.push(&run[from..]);
    parts
}

fn still_visit(recording: &Recording<'_>, channel: &Channel<'_>, part: &[Sample]) -> Option<Visit> {
    let range = part.first()?.index..part.last()?.index + 1;
    let hold = holds::measure(recording.t_us, channel.codes, range, recording.board.scale)?;
    let travel: Vec<f64> = part.iter().map(|s| s.at).collect();
    Some(Visit {
        travel_pct: mean(&travel),
        code: hold.mean,
        direction: Direction::Up,
        slack: false,
        se: hold.u_mean,
        rounding: hold.rounding_bound() / 3.0_f64.sqrt(),
    })
}

/// The bins that one passage of strokes crossed, one visit a bin and crossing.
fn moving_visits(run: &[Sample]) -> Vec<Visit> {
    let noise = noise_of_moving(run);
    let mut visits = Vec::new();
    for (direction, crossing) in crossings(run) {
        let begun = crossing.first().map_or(0.0, |s| s.at);
        let bin = |s: &Sample| (s.at / BIN_PCT).floor();
        for part in crossing.chunk_by(|a, b| bin(a).total_cmp(&bin(b)).is_eq()) {
            let travel: Vec<f64> = part.iter().map(|s| s.at).collect();
            let codes: Vec<f64> = part.iter().map(|s| s.code).collect();
            let travel_pct = mean(&travel);
            visits.push(Visit {
                travel_pct,
                code: mean(&codes),
                direction,
                slack: (travel_pct - begun).abs() <= BIN_PCT,
                se: noise.map(|sd| sd / real(part.len()).sqrt()),
                rounding: 0.0, // the movement itself dithers: it crosses many codes
            });
        }
    }
    visits
}

/// Cuts a movement at its turning points: a turn is certain once it has come back by `TURN_PCT`.
fn crossings(run: &[Sample]) -> Vec<(Direction, &[Sample])> {
    let mut out = Vec::new();
    let Some(start) = run.first().map(|s| s.at) else {
        return out;
    };
    let mut direction = None;
    let mut from = 0;
    // Indices of the furthest points up and down since the last turn.
    let (mut top, mut bottom) = ((0, start), (0, start));
    for (i, &Sample { at, .. }) in run.iter().enumerate() {
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
        .map(|w| (w[0].code - 2.0 * w[1].code + w[2].code).powi(2))
        .sum();
    let n = run.len().checked_sub(2)?;
    (n > 0).then(|| (squares / (6.0 * real(n))).sqrt())
}
