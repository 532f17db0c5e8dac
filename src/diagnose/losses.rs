//! Contact lost: which losses belong together, by place, by coming to an end, by shaking, or by none of these.

use super::arrivals::{END_PCT, End};
use super::evidence::{Evidence, Lost, Signal};
use super::predicted::Faulty;
use super::types::ActsTowards;
use super::weigh::Symptom;
use super::words::longest_ms;
use crate::wiring::{Fault, Wire};
use measure::Towards;
use measure::figure::FigureName;
use measure::units::Step;
use measure::units::maths;

/// Width of a place, % of travel: a bad spot is a wiper's width or two. Common practice, no source.
const WINDOW_PCT: f64 = 8.0;
const BETWEEN_PCT: f64 = 100.0 - 2.0 * END_PCT;
/// Most places of one channel.
const MOST_PLACES: usize = 3;
/// A reading this near to that of a broken wire is one, as a fraction of the reference.
const NEAR_RAIL: f64 = 0.06;
/// Moments closer than this are the same one, seconds.
const SAME_MOMENT_S: f64 = 0.005;

/// What losses have in common.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Common {
    /// From and to, % of travel.
    Place(f64, f64),
    /// They came as the control arrived there.
    Arriving(End),
    /// They came while the cable was moved.
    Shaken,
    Nothing,
}

/// Losses of one channel that belong together.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Group {
    pub common: Common,
    pub lost: Vec<Lost>,
    /// Of all losses of the channel that could have been in it.
    pub of: usize,
    /// The number by which a symptom names it, from 1.
    pub part: usize,
    /// Of the time spent between the ends, the share spent at its place; of all time, that spent arriving; 0 without either.
    pub share: f64,
}

impl Group {
    /// How much more likely the losses are where they are than scattered evenly, in log odds: the log-likelihood ratio of
    /// `k` of `n` in a share `p` (the G statistic halved), less `tries` places where it could have been found.
    pub fn stands_out(&self, share: f64, tries: f64) -> f64 {
        let (k, n) = (real(self.lost.len()), real(self.of));
        let term = |k: f64, p: f64| {
            if k > 0.0 {
                k * maths::ln(k / (n * p))
            } else {
                0.0
            }
        };
        term(k, share) + term(n - k, 1.0 - share) - maths::ln(tries)
    }

    /// Against losses that fall evenly in time, with the number of places where it could have been found.
    pub fn place_odds(&self) -> f64 {
        self.stands_out(self.share, BETWEEN_PCT / WINDOW_PCT)
    }

    /// The same of an end, of two.
    pub fn arriving_odds(&self) -> f64 {
        self.stands_out(self.share, 2.0)
    }

    pub fn one_way(&self) -> bool {
        let up = self.count(Towards::Supply);
        up == 0 || up == self.lost.len()
    }

    pub fn count(&self, towards: Towards) -> usize {
        let lost = self.lost.iter();
        lost.filter(|lost| lost.dropout.towards == towards).count()
    }
}

/// The fact: `contact lost 7 of 7 times as it came to rest, for up to 15 ms`.
pub(super) fn on_arriving(group: &Group, end: End) -> String {
    format!(
        "contact lost {} of {} times as it came to {}, for up to {}",
        group.lost.len(),
        group.of,
        end.word(),
        longest_ms(&group.lost)
    )
}

/// The losses of a channel in groups: places first, the most crowded one first.
pub(super) fn groups(signal: &Signal<'_>) -> Vec<Group> {
    let (shaken, rest): (Vec<Lost>, Vec<Lost>) = signal
        .lost
        .iter()
        .partition(|lost| lost.step == Step::Shake);
    let place = |lost: &Lost| {
        let travel = lost.dropout.travel_pct?;
        (END_PCT..=100.0 - END_PCT)
            .contains(&travel)
            .then_some(travel)
    };
    let all_steady = rest.len();
    let (mut moving, mut other): (Vec<Lost>, Vec<Lost>) =
        rest.into_iter().partition(|lost| place(lost).is_some());
    moving.sort_by(|a, b| {
        let at = |lost: &Lost| lost.dropout.travel_pct.unwrap_or_default();
        at(a).total_cmp(&at(b))
    });
    let all_moving = moving.len();
    let mut groups = Vec::new();
    for _ in 0..MOST_PLACES {
        let Some((from, count)) = most_crowded(&moving) else {
            break;
        };
        let share = share_of_time(signal, &moving[from..from + count]);
        if !crowded(count, all_moving, share) {
            break;
        }
        let lost: Vec<Lost> = moving.drain(from..from + count).collect();
        let ends = lost.iter().filter_map(place).map(|at| (at, at));
        let (low, high) = ends
            .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
            .unwrap_or((0.0, 100.0));
        groups.push((Common::Place(low, high), lost, all_moving, share));
    }
    for end in End::BOTH {
        let arrives = |lost: &Lost| signal.arrivals.at(&lost.dropout) == Some(end);
        let share = signal.arrivals.share(end);
        let count = other.iter().filter(|lost| arrives(lost)).count();
        if crowded(count, all_steady, share) {
            let (there, rest) = other.into_iter().partition(arrives);
            groups.push((Common::Arriving(end), there, all_steady, share));
            other = rest;
        }
    }
    other.extend(moving);
    let all = signal.lost.len();
    groups.push((Common::Shaken, shaken, all, 0.0));
    groups.push((Common::Nothing, other, all, 0.0));
    (1..)
        .zip(groups)
        .filter(|(_, (_, lost, ..))| !lost.is_empty())
        .map(|(part, (common, lost, of, share))| Group {
            common,
            lost,
            of,
            part,
            share,
        })
        .collect()
}

/// Whether so many of all are more than three times what falls into a share of the time, and more than one.
fn crowded(count: usize, all: usize, share: f64) -> bool {
    count >= 2 && real(count) >= 1.0 + 3.0 * real(all) * share
}

/// Share of the time between the ends that the control spent in the window about these losses, at least what an even movement spends
/// there. A hand dwells near the ends: what comes at any time comes there more often.
fn share_of_time(signal: &Signal<'_>, lost: &[Lost]) -> f64 {
    let even = WINDOW_PCT / BETWEEN_PCT;
    let travel = lost.iter().filter_map(|lost| lost.dropout.travel_pct);
    let (sum, n) = travel.fold((0.0, 0.0), |(sum, n), at| (sum + at, n + 1.0));
    let Some(map) = signal.measured.map.as_ref().filter(|_| n > 0.0) else {
        return even;
    };
    let middle = sum / n;
    let samples = |low: f64, high: f64| {
        let bins = map
            .bins
            .iter()
            .filter(|bin| bin.from_pct >= low - 0.5 && bin.to_pct <= high + 0.5);
        real(bins.map(|bin| bin.both.count).sum())
    };
    let all = samples(END_PCT, 100.0 - END_PCT);
    let low = (middle - WINDOW_PCT / 2.0).clamp(END_PCT, 100.0 - END_PCT - WINDOW_PCT);
    if all > 0.0 {
        (samples(low, low + WINDOW_PCT) / all).max(even)
    } else {
        even
    }
}

/// Where most losses lie within a window, and how many; by travel.
fn most_crowded(moving: &[Lost]) -> Option<(usize, usize)> {
    let at = |i: usize| moving[i].dropout.travel_pct.unwrap_or_default();
    let counts = (0..moving.len()).map(|from| {
        let count = (from..moving.len())
            .take_while(|&to| at(to) - at(from) <= WINDOW_PCT)
            .count();
        (from, count)
    });
    counts.max_by_key(|(from, count)| (*count, std::cmp::Reverse(*from)))
}

/// The symptom of a group: its part of the failed count of dropouts, if that failed.
pub(super) fn symptom(evidence: &Evidence<'_>, channel: &str, group: &Group) -> Option<Symptom> {
    let finding = evidence.findings.iter().position(|finding| {
        finding.outcome == evidence.broken
            && finding.channel == channel
            && finding.figure == FigureName::DropoutsCount
    })?;
    Some(Symptom {
        finding,
        part: group.part,
    })
}

/// Whether a loss went to where a broken wire of this wiring would take the reading; `None` when that is not known.
pub(super) fn to_the_rail(
    evidence: &Evidence<'_>,
    signal: &Signal<'_>,
    lost: &Lost,
) -> Option<bool> {
    let model = signal.model.as_ref()?;
    let [rest, full] = signal.ends(evidence.codes);
    let (rest, full) = (rest?, full?);
    let travel = lost.dropout.travel_pct? / 100.0;
    let depth = lost.dropout.depth_pct / 100.0 * (full - rest).abs();
    let level = rest + travel * (full - rest);
    let reached = match lost.dropout.towards {
        Towards::Ground => level - depth,
        Towards::Supply => level + depth,
    };
    let wires = [Wire::Signal, Wire::Supply, Wire::Ground];
    let broken = wires.map(|wire| model.with(Fault::Open(wire)));
    let reads = broken.iter().any(|reads| match reads {
        Some(Faulty::Reads([rest, full])) => {
            let low = rest.nominal.min(full.nominal) - NEAR_RAIL;
            let high = rest.nominal.max(full.nominal) + NEAR_RAIL;
            (low..=high).contains(&reached)
        }
        _ => false,
    });
    // Where a broken wire leaves the input to itself, it may go anywhere.
    let anywhere = broken.contains(&Some(Faulty::Floats));
    (reads || !anywhere).then_some(reads)
}

/// Whether most losses of a group went to where a broken wire would take the reading.
pub(super) fn mostly_to_the_rail(
    evidence: &Evidence<'_>,
    signal: &Signal<'_>,
    group: &Group,
) -> Option<bool> {
    let told: Vec<bool> = group
        .lost
        .iter()
        .filter_map(|lost| to_the_rail(evidence, signal, lost))
        .collect();
    let yes = told.iter().filter(|yes| **yes).count();
    (!told.is_empty()).then(|| 2 * yes > told.len())
}

/// Whether the other track lost contact at the same moments.
pub(super) fn at_once(group: &Group, other: &Signal<'_>) -> bool {
    let both = group.lost.iter().filter(|lost| {
        let mut others = other.lost.iter();
        others.any(|other| (other.dropout.t_s - lost.dropout.t_s).abs() < SAME_MOMENT_S)
    });
    2 * both.count() > group.lost.len()
}

/// Which way the command went: as it was seen.
pub(super) fn acts(signal: &Signal<'_>, group: &Group) -> ActsTowards {
    let Some(model) = &signal.model else {
        return ActsTowards::Either;
    };
    if !group.one_way() {
        return ActsTowards::Either;
    }
    let rail = if group.count(Towards::Supply) > 0 {
        1.0
    } else {
        0.0
    };
    model.towards(rail)
}

#[allow(clippy::cast_precision_loss)] // counts of losses
fn real(n: usize) -> f64 {
    n as f64
}
