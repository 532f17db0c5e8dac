//! Contact loss as figures: what was found, whose it is, and how often the rest comes.

use crate::figure::Figure;
use crate::measure::recording::Recording;
use crate::measure::statistics::interval::chi_square_quantile;
use crate::measure::statistics::moments::real;
use crate::measure::strokes::defects::{Dropout, WornZone};
use crate::measure::strokes::dropouts::{DEPTH_PCT, DEPTH_SIGMA};
use crate::measure::strokes::excursions::{LocatedExcursion, step_at};
use crate::measure::strokes::losses::{self, ContactLoss};
use crate::measure::strokes::segment::{Ends, Stroke};
use crate::units::{Step, seconds_from_us};

/// Travel on both sides of a worn zone that is as loud, %.
const ZONE_EDGE_PCT: f64 = 1.0;
/// Fewest minutes that say how often spikes come.
const LEAST_MINUTES: f64 = 0.05;

/// Excursions without those that the noise of a worn zone explains; `quiet` is the noise of quiet contact in codes.
pub(crate) fn without_wear(
    mut found: Vec<LocatedExcursion>,
    zones: &[WornZone],
    quiet: f64,
    ends: Ends,
) -> Vec<LocatedExcursion> {
    let noise_of = |dropout: &Dropout, zone: &WornZone| {
        let near = zone.from_pct - ZONE_EDGE_PCT..zone.to_pct + ZONE_EDGE_PCT;
        let depth = dropout.depth_pct / 100.0 * ends.span().abs();
        dropout.travel_pct.is_some_and(|at| near.contains(&at))
            && depth < DEPTH_SIGMA * zone.noise_ratio * quiet
    };
    found.retain(|found| !zones.iter().any(|zone| noise_of(&found.dropout, zone)));
    found
}

/// Excursions with the step and the stroke that they fell into.
pub(crate) fn in_steps(
    recording: &Recording<'_>,
    found: &[LocatedExcursion],
    strokes: &[Stroke],
) -> Vec<ContactLoss> {
    let lost = |found: &LocatedExcursion| {
        let begins = found.range.start;
        let after = strokes.partition_point(|stroke| stroke.turns.end <= begins);
        let of = strokes
            .get(after)
            .filter(|stroke| stroke.turns.contains(&begins));
        ContactLoss {
            dropout: found.dropout,
            step: step_at(recording.passages, begins).unwrap_or(Step::Idle),
            stroke: of.map(|stroke| (after, stroke.direction)),
            reached: found.reached,
        }
    };
    found.iter().map(lost).collect()
}

/// All that was found, of which those are certain that are the part's: the others may be the room's. Pauses without a sample that come as
/// lost contacts of the part do may be as many more.
pub(crate) fn dropouts_count(
    (own, silent): (&[bool], usize),
    strokes: usize,
    ends: Ends,
) -> Figure {
    let part = own.iter().filter(|own| **own).count();
    let whose = if part == own.len() {
        String::new()
    } else {
        format!(
            "; {part} at a place of the travel, in one direction, only while it moves, under the shake, or to an end of the scale and held \
             there: the part's; {} at any place and time: perhaps the room's",
            own.len() - part
        )
    };
    let silence = match silent {
        0 => String::new(),
        silent => format!(
            "; {silent} times samples are missing at one place of the travel, while it moves or under the shake, as if contact were lost there"
        ),
    };
    Figure {
        low: Some(real(part)),
        high: Some(real(own.len() + silent)),
        ..Figure::counted(
            real(own.len()),
            strokes,
            format!(
                "excursions above {DEPTH_PCT} % of span and {DEPTH_SIGMA} sigma that return to the path, and stands beyond the travel, in every \
                 sample{whose}{silence}; {}",
                ends.describe()
            ),
        )
    }
}

/// Events that are not the part's in a minute: a count and its Poisson interval (Garwood 1936, by chi-square).
pub(crate) fn spikes_per_min(
    recording: &Recording<'_>,
    lost: &[ContactLoss],
    own: &[bool],
) -> Option<Figure> {
    let others = lost.iter().zip(own).filter(|(_, own)| !**own);
    let events = losses::count_events(others.map(|(lost, _)| lost.dropout.t_s));
    let (first, last) = (recording.t_us.first()?, recording.t_us.last()?);
    let minutes = seconds_from_us(last.saturating_sub(*first)) / 60.0;
    if minutes < LEAST_MINUTES {
        return None;
    }
    let n = real(events);
    let low = if events == 0 {
        0.0
    } else {
        chi_square_quantile(0.025, 2.0 * n) / 2.0
    };
    let high = chi_square_quantile(0.975, 2.0 * n + 2.0) / 2.0;
    Some(Figure {
        value: n / minutes,
        u: Some(n.max(1.0).sqrt() / minutes),
        low: Some(low / minutes),
        high: Some(high / minutes),
        n: recording.t_us.len() as u64,
        method: format!(
            "excursions above {DEPTH_PCT} % of span and {DEPTH_SIGMA} sigma at any place and time, in every sample; Poisson interval"
        ),
        shrink: None,
    })
}
