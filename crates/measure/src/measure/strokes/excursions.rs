//! Excursions of one channel in every sample that was taken: in strokes, where the signal stands still, and in between.

use crate::measure::recording::{Channel, Recording};
use crate::measure::strokes::bounce::Bounces;
use crate::measure::strokes::defects::{Dropout, Towards};
use crate::measure::strokes::dropouts::behind::behind;
use crate::measure::strokes::dropouts::shifts::shifts;
use crate::measure::strokes::dropouts::{self, DEPTH_PCT, DEPTH_SIGMA, Motion};
use crate::measure::strokes::path::Path;
use crate::measure::strokes::rail::{self, Reached, reached};
use crate::measure::strokes::segment::Ends;
use crate::units::{Code, Passage, Step};
use std::collections::BTreeMap;
use std::ops::Range;

/// Least pause between two samples that parts a recording, in sample periods.
const PAUSE: f64 = 20.0;
/// Samples at the ends of a passage that it alone cannot tell: their path began in the passage before.
const EDGE: usize = 24;
/// Fewest samples of a stand at an end of the scale.
const FEWEST_STOOD: usize = 2;
/// Samples within which what is no stand lies beside one.
const BESIDE: usize = 2;
/// A spring that brings the control back against its stop bounces: less than this travel, %, towards full and as near to it, is no
/// lost contact in a release.
const BOUNCE_PCT: f64 = 20.0;

/// An excursion and its samples in the recording.
#[derive(Debug, Clone)]
pub(crate) struct LocatedExcursion {
    pub range: Range<usize>,
    pub dropout: Dropout,
    pub reached: Reached,
}

/// What excursions are looked for with.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Scale {
    pub ends: Ends,
    /// Noise in codes.
    pub sigma: f64,
    /// The board's largest code.
    pub top: Code,
}

impl Scale {
    /// Least depth of an excursion, codes.
    fn least_depth(self) -> f64 {
        (DEPTH_PCT / 100.0 * self.ends.span().abs()).max(DEPTH_SIGMA * self.sigma)
    }
}

/// The excursions of one path, which are bridged there.
pub(crate) fn of_path(path: &mut Path<'_>, scale: Scale, motion: Motion) -> Vec<LocatedExcursion> {
    of_unknown(path, scale, motion, |_| false)
}

/// The same, where samples of the recording that are `known` need not be searched.
fn of_unknown(
    path: &mut Path<'_>,
    scale: Scale,
    motion: Motion,
    known: impl Fn(&Range<usize>) -> bool,
) -> Vec<LocatedExcursion> {
    let Scale { ends, sigma, top } = scale;
    let first = path.first;
    let known = |range: &Range<usize>| known(&(first + range.start..first + range.end));
    let threshold = scale.least_depth();
    let found = dropouts::find(path, threshold, sigma, motion, known);
    let excursions = found.into_iter().map(|found| {
        let reached = reached(&path.codes()[found.range.clone()], found.depth, top);
        let dropout = dropout(path, &found.range, found.depth, found.level, ends);
        LocatedExcursion {
            range: path.first + found.range.start..path.first + found.range.end,
            dropout,
            reached,
        }
    });
    excursions.collect()
}

/// An excursion in the units of a channel.
fn dropout(path: &Path<'_>, range: &Range<usize>, depth: f64, level: f64, ends: Ends) -> Dropout {
    let (start, end) = (range.start, range.end);
    let back = if end < path.len() {
        path.time(end)
    } else {
        path.time(end - 1) + path.period
    };
    Dropout {
        t_s: path.time(start),
        duration_ms: (back - path.time(start)) * 1000.0,
        depth_pct: 100.0 * depth.abs() / ends.span().abs(),
        travel_pct: Some(ends.travel_pct(level)),
        towards: if depth < 0.0 {
            Towards::Ground
        } else {
            Towards::Supply
        },
    }
}

/// Contact lost for so long, or while the control moved on so far, that no path leads across; or for good.
fn stands(path: &Path<'_>, scale: Scale) -> Vec<LocatedExcursion> {
    let Scale { ends, top, .. } = scale;
    let least = scale.least_depth();
    let travel = [ends.code(0.0), ends.code(100.0)];
    let found = rail::stands(path.codes(), top, FEWEST_STOOD, travel, least);
    held(path, ends, found)
}

/// Samples, depth and level of what stood off the path.
fn held(
    path: &Path<'_>,
    ends: Ends,
    found: Vec<(Range<usize>, f64, f64)>,
) -> Vec<LocatedExcursion> {
    let stood = |(range, depth, level): (Range<usize>, f64, f64)| LocatedExcursion {
        dropout: dropout(path, &range, depth, level, ends),
        range: path.first + range.start..path.first + range.end,
        reached: Reached::HELD,
    };
    found.into_iter().map(stood).collect()
}

/// The excursions outside strokes: in shakes and holds, where they may last longer, and in all other samples but those of a
/// board that reads itself. Those of the strokes are given.
pub(crate) fn elsewhere(
    recording: &Recording<'_>,
    channel: &Channel<'_>,
    scale: Scale,
    in_strokes: Vec<LocatedExcursion>,
) -> Vec<LocatedExcursion> {
    let mut found = in_strokes;
    let mut known: Vec<Range<usize>> = Vec::new();
    for passage in recording.passages {
        let still = matches!(passage.step, Step::Shake | Step::Rest | Step::Full);
        if still && let Some(mut path) = Path::new(recording, channel, passage) {
            let sigma = path.noise_sd().max(scale.sigma);
            let scale = Scale { sigma, ..scale };
            let mut here = of_path(&mut path, scale, Motion::Still);
            if passage.step == Step::Shake {
                let lasting = shifts(&path, scale.ends.span(), sigma);
                here.extend(held(&path, scale.ends, lasting));
            }
            if passage.step == Step::Shake && recording.rests_at_a_stop {
                let behind = held(
                    &path,
                    scale.ends,
                    behind(&path, scale.ends, scale.least_depth()),
                );
                let new = |one: &LocatedExcursion| !here.iter().any(|known| overlap(known, one));
                let behind: Vec<_> = behind.into_iter().filter(new).collect();
                here.extend(behind);
            }
            found.extend(here);
        }
        if still || passage.step == Step::Strokes {
            known.push(passage.range.start + EDGE..passage.range.end.saturating_sub(EDGE));
        }
    }
    // First samples and ends of what was found, none of which overlap.
    let range_of = |found: &LocatedExcursion| (found.range.start, found.range.end);
    let mut taken: BTreeMap<usize, usize> = found.iter().map(range_of).collect();
    let searched = |range: &Range<usize>| {
        let at = known.partition_point(|known| known.end < range.end);
        known
            .get(at)
            .is_some_and(|known| known.start <= range.start)
    };
    for range in stretches(recording) {
        for one in in_stretch(recording, channel, scale, range, searched) {
            let before = taken.range(..one.range.end).next_back();
            if before.is_none_or(|(_, end)| *end <= one.range.start) {
                taken.insert(one.range.start, one.range.end);
                found.push(one);
            }
        }
    }
    found.sort_by_key(|found| found.range.start);
    found
}

fn overlap(one: &LocatedExcursion, other: &LocatedExcursion) -> bool {
    one.range.start < other.range.end && other.range.start < one.range.end
}

/// The excursions in samples without a pause, but for those among what was searched before, and stands at an end behind them.
fn in_stretch(
    recording: &Recording<'_>,
    channel: &Channel<'_>,
    scale: Scale,
    range: Range<usize>,
    searched: impl Fn(&Range<usize>) -> bool,
) -> Vec<LocatedExcursion> {
    let whole = Passage {
        step: Step::Idle,
        range,
    };
    let Some(mut path) = Path::new(recording, channel, &whole) else {
        return Vec::new();
    };
    let mut others = of_unknown(&mut path, scale, Motion::Moving, &searched);
    others.retain(|one| !searched(&one.range) && !bounces(recording, one, scale.ends));
    if !others.is_empty() {
        let off_stops = Bounces::of(&path, scale.ends);
        others.retain(|one| !off_stops.hold(&path, scale.ends, &one.range));
    }
    let mut stands = stands(&path, scale);
    stands.retain(|stand| !by_intent(recording.passages, &stand.range));
    stands.sort_by_key(|stand| stand.range.start);
    // What lies between two stands is where the signal belongs.
    let between = |one: &LocatedExcursion| {
        let near = stands.partition_point(|s| s.range.end + BESIDE < one.range.start);
        let mut near = stands[near..]
            .iter()
            .take_while(|s| s.range.start <= one.range.end + BESIDE);
        near.any(|stand| {
            let (from, to) = (stand.range.start, stand.range.end);
            one.range.end <= from || to <= one.range.start
        })
    };
    others.retain(|one| !between(one));
    others.extend(stands);
    others
}

/// The step that a sample was taken in.
pub(crate) fn step_at(passages: &[Passage], sample: usize) -> Option<Step> {
    let at = passages.partition_point(|passage| passage.range.end <= sample);
    passages
        .get(at)
        .filter(|passage| passage.range.contains(&sample))
        .map(|passage| passage.step)
}

/// Whether a signal that stands somewhere was brought there: where the supply is changed it may follow at once, and an input is tied
/// before the step begins that says so.
fn by_intent(passages: &[Passage], range: &Range<usize>) -> bool {
    let supply = |at: usize| step_at(passages, at) == Some(Step::Supply);
    let tied = matches!(
        step_at(passages, range.end),
        Some(Step::Ground | Step::Reference)
    );
    supply(range.start) || supply(range.end) || tied
}

/// Whether it is the stop that a released control bounces from.
fn bounces(recording: &Recording<'_>, found: &LocatedExcursion, ends: Ends) -> bool {
    let towards_full = (found.dropout.towards == Towards::Supply) == (ends.span() > 0.0);
    step_at(recording.passages, found.range.start) == Some(Step::Release)
        && towards_full
        && !found.reached.held
        && found.dropout.depth_pct < BOUNCE_PCT
        && found.dropout.travel_pct.is_some_and(|at| at < BOUNCE_PCT)
}

/// Samples in a row without a pause in which the board read the control: not while its input was tied, nor while it was
/// changed over.
fn stretches(recording: &Recording<'_>) -> Vec<Range<usize>> {
    let mut stretches: Vec<Range<usize>> = Vec::new();
    let passages = recording.passages;
    let tied = |at: usize| {
        let step = passages.get(at).map(|passage| passage.step);
        matches!(step, Some(Step::Ground | Step::Reference))
    };
    let changed_over = |at: usize| {
        passages[at].step == Step::Idle && (at.checked_sub(1).is_some_and(tied) || tied(at + 1))
    };
    let read = (0..passages.len()).filter(|at| !tied(*at) && !changed_over(*at));
    for passage in read.map(|at| &passages[at]) {
        match stretches.last_mut() {
            Some(last) if last.end == passage.range.start && !pauses(recording, last.end) => {
                last.end = passage.range.end;
            }
            _ => stretches.push(passage.range.clone()),
        }
    }
    stretches
}

/// Whether nothing was taken for a while before a sample.
fn pauses(recording: &Recording<'_>, at: usize) -> bool {
    let t_us = |at: usize| recording.t_us.get(at).copied();
    let gap = at.checked_sub(1).and_then(t_us).zip(t_us(at));
    #[allow(clippy::cast_precision_loss)] // a pause of minutes is exact
    gap.is_none_or(|(before, after)| {
        after.saturating_sub(before) as f64 * recording.board.rate_hz > 1e6 * PAUSE
    })
}
