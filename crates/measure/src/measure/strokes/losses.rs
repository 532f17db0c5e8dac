//! Whose a lost contact is: the part's or the room's.
//!
//! A bad contact, of the part or of its plug, leaves the reading at an end of the scale until it is back ([`Reached`]): what
//! stands there is a loss, whenever it comes. Shorter ones lose the signal at a place, in one direction of movement, whenever it
//! moves, or while its cable is moved; each of these is tested against one null: that the excursions fall evenly over the time
//! that was recorded, so that a place has as many as the time spent there explains (binomial tail). What else comes at any place
//! and time is the room's: a spike on the supply, a motor that starts.

use crate::measure::recording::Recording;
use crate::measure::statistics::chances::beta;
use crate::measure::statistics::moments::real;
use crate::measure::strokes::defects::{Dropout, Towards};
use crate::measure::strokes::rail::Reached;
use crate::measure::strokes::segment::Direction;
use crate::measure::strokes::travel_map::BINS;
use crate::units::Step;
use std::collections::BTreeSet;

/// Excursions less than this after one another are one event: contact that chatters, or one burst; seconds.
const ONE_EVENT_S: f64 = 0.1;
/// Bins of 1 % of travel on each side of a place that belong to it.
const REACH: usize = 2;
/// Travel in bins at which nothing rests.
const BETWEEN: std::ops::Range<usize> = 5..95;
/// Places that can be told apart, of either direction: what a place's chance is to be multiplied by.
const PLACES: f64 = 60.0;
/// Fewest strokes for a place to recur, fewest events under a shake, fewest while it moves.
const FEWEST: [usize; 3] = [3, 2, 4];
/// Fewest events that went to one end of the scale from afar, and none as deep the other way: one in sixteen by the sign alone,
/// and what the room adds is seldom a third of the scale (own choice).
const FROM_AFAR: usize = 4;
/// Depth from which an excursion the other way says that the room is as loud as that, % of span.
const LOUD_PCT: f64 = 30.0;
/// Largest chance that a place, a shake, or movement is met so often by what comes at any time.
const CHANCE: [f64; 3] = [1e-3, 5e-3, 1e-4];

/// An excursion with what went on when it began.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ContactLoss {
    pub dropout: Dropout,
    pub step: Step,
    /// The stroke that it fell into, and its direction.
    pub stroke: Option<(usize, Direction)>,
    pub reached: Reached,
}

/// How many samples were taken of what.
#[derive(Debug, Clone, Default)]
pub(crate) struct Exposure {
    /// In all.
    pub all: usize,
    /// Under a shake.
    pub shaken: usize,
    /// In steps in which the control may move, strokes aside.
    pub loose: usize,
    /// In each bin of travel of the strokes up and down.
    pub bins: [Vec<usize>; 2],
}

impl Exposure {
    /// Of the steps of a recording; what was taken where in the strokes is not known yet.
    pub fn of_steps(recording: &Recording<'_>) -> Self {
        let of = |meets: &dyn Fn(Step) -> bool| {
            let passages = recording.passages.iter();
            let some = passages.filter(|passage| meets(passage.step));
            some.map(|passage| passage.range.len()).sum()
        };
        Self {
            all: recording.t_us.len(),
            shaken: of(&|step| step == Step::Shake),
            loose: of(&moves),
            ..Self::default()
        }
    }

    fn share(&self, samples: usize) -> f64 {
        (real(samples) / real(self.all.max(1))).min(1.0)
    }

    fn of(&self, way: Option<Direction>, bins: std::ops::Range<usize>) -> usize {
        let [up, down] = &self.bins;
        let sum =
            |counts: &Vec<usize>| counts.get(bins.clone()).map_or(0, |some| some.iter().sum());
        match way {
            None => sum(up) + sum(down),
            Some(Direction::Up) => sum(up),
            Some(Direction::Down) => sum(down),
        }
    }
}

/// Which of some excursions, in order of time, are the part's.
pub(crate) fn of_the_part(lost: &[ContactLoss], taken: &Exposure) -> Vec<bool> {
    let events = events(lost);
    let mut own = at_an_end(lost, &events);
    at_a_place(lost, &events, taken, &mut own);
    // What is no place's: under the shake, or whenever it moves.
    let shaken = |event: &usize| lost[events[*event]].step == Step::Shake;
    claim(&events, &mut own, taken.share(taken.shaken), 1, shaken);
    for way in [Some(Direction::Up), Some(Direction::Down), None] {
        let moving = |event: &usize| {
            let stroke = lost[events[*event]].stroke;
            stroke.is_some_and(|(_, of)| way.is_none_or(|way| way == of))
        };
        claim(
            &events,
            &mut own,
            taken.share(taken.of(way, 0..BINS)),
            2,
            moving,
        );
    }
    // Every excursion goes with the event that it belongs to.
    let of_event = |at: usize| events.partition_point(|&first| first <= at) - 1;
    (0..lost.len()).map(|at| own[of_event(at)]).collect()
}

/// Whether the control may move in a step, strokes aside.
fn moves(step: Step) -> bool {
    matches!(
        step,
        Step::Idle | Step::Release | Step::Stations | Step::Supply
    )
}

/// How many events some excursions are.
pub(crate) fn count_events(lost: impl Iterator<Item = f64>) -> usize {
    let (mut count, mut last) = (0, f64::NEG_INFINITY);
    for t_s in lost {
        count += usize::from(t_s - last > ONE_EVENT_S);
        last = t_s;
    }
    count
}

/// The first excursion of each event.
fn events(lost: &[ContactLoss]) -> Vec<usize> {
    let ends = |l: &ContactLoss| l.dropout.t_s + l.dropout.duration_ms / 1000.0;
    (0..lost.len())
        .filter(|&at| at == 0 || lost[at].dropout.t_s - ends(&lost[at - 1]) > ONE_EVENT_S)
        .collect()
}

/// Events with an excursion that stood at an end of the scale, and those that met one end from afar time after time.
fn at_an_end(lost: &[ContactLoss], events: &[usize]) -> Vec<bool> {
    let of = |event: usize| {
        let end = events.get(event + 1).copied().unwrap_or(lost.len());
        &lost[events[event]..end]
    };
    let any = |event: usize, meets: &dyn Fn(&ContactLoss) -> bool| of(event).iter().any(meets);
    let mut own: Vec<bool> = (0..events.len())
        .map(|event| any(event, &|lost| lost.reached.held))
        .collect();
    for towards in [Towards::Ground, Towards::Supply] {
        let far = |lost: &ContactLoss| lost.reached.far && lost.dropout.towards == towards;
        let other_way = lost
            .iter()
            .any(|lost| lost.dropout.towards != towards && lost.dropout.depth_pct > LOUD_PCT);
        let met: Vec<usize> = (0..events.len()).filter(|&e| any(e, &far)).collect();
        if met.len() >= FROM_AFAR && !other_way {
            for event in met {
                own[event] = true;
            }
        }
    }
    own
}

/// Gives the part those open events that meet a condition, where chance does not explain that so many do.
fn claim(
    events: &[usize],
    own: &mut [bool],
    share: f64,
    kind: usize,
    meets: impl Fn(&usize) -> bool,
) {
    let open: Vec<usize> = (0..events.len()).filter(|&event| !own[event]).collect();
    let hits: Vec<usize> = open.iter().copied().filter(|event| meets(event)).collect();
    if hits.len() >= FEWEST[kind] && tail(open.len(), share, hits.len()) < CHANCE[kind] {
        for event in hits {
            own[event] = true;
        }
    }
}

/// Events that recur at a place of the travel, in crossing after crossing, of both directions or of one.
fn at_a_place(lost: &[ContactLoss], events: &[usize], taken: &Exposure, own: &mut [bool]) {
    let bin = |event: usize| {
        let at = lost[events[event]].dropout.travel_pct?;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 0 .. 100
        Some((at.clamp(0.0, 99.9) as usize).min(BINS - 1))
    };
    let places: BTreeSet<usize> = (0..events.len()).filter_map(bin).collect();
    for centre in places {
        let place = centre.saturating_sub(REACH)..(centre + REACH + 1).min(BINS);
        let here = |event: usize| bin(event).is_some_and(|bin| place.contains(&bin));
        for way in [None, Some(Direction::Up), Some(Direction::Down)] {
            let crossed = |event: usize| {
                let lost = &lost[events[event]];
                match (lost.stroke, way) {
                    (Some((_, of)), way) => way.is_none_or(|way| way == of),
                    // On the way to another step, where nothing rests.
                    (None, None) => moves(lost.step) && BETWEEN.contains(&centre),
                    (None, Some(_)) => false,
                }
            };
            let hits: Vec<usize> = (0..events.len())
                .filter(|&e| here(e) && crossed(e))
                .collect();
            let mut crossings: Vec<Result<usize, usize>> = hits
                .iter()
                .map(|&event| {
                    lost[events[event]]
                        .stroke
                        .map_or(Err(event), |(at, _)| Ok(at))
                })
                .collect();
            crossings.dedup();
            let there = taken.of(way, place.clone());
            let elsewhere = match way {
                // As much of the other moving time as of the strokes'.
                None => real(taken.loose) * real(there) / real(taken.of(None, 0..BINS).max(1)),
                Some(_) => 0.0,
            };
            let share = (taken.share(there) + elsewhere / real(taken.all.max(1))).min(1.0);
            let chance = PLACES * tail(events.len(), share, crossings.len());
            if crossings.len() >= FEWEST[0] && chance < CHANCE[0] {
                for event in hits {
                    own[event] = true;
                }
            }
        }
    }
}

/// Chance of at least `hits` successes in `n` trials of chance `p` each (binomial tail as an incomplete beta function,
/// NIST DLMF 8.17.5).
fn tail(n: usize, p: f64, hits: usize) -> f64 {
    if hits == 0 || p >= 1.0 {
        return 1.0;
    }
    if hits > n || p <= 0.0 {
        return 0.0;
    }
    beta(real(hits), real(n - hits) + 1.0, p)
}

#[cfg(test)]
mod tests {
    use super::*;
    fn lost(t_s: f64, travel_pct: f64, step: Step, stroke: Option<usize>) -> ContactLoss {
        let dropout = Dropout {
            t_s,
            duration_ms: 3.0,
            depth_pct: 50.0,
            travel_pct: Some(travel_pct),
            towards: Towards::Ground,
        };
        let way = |k: usize| [Direction::Up, Direction::Down][k % 2];
        ContactLoss {
            dropout,
            step,
            stroke: stroke.map(|k| (k, way(k))),
            reached: Reached::default(),
        }
    }

    /// A minute at 1 kHz, ten strokes of a second, four seconds of shake.
    fn minute() -> Exposure {
        Exposure {
            all: 60_000,
            shaken: 4000,
            loose: 0,
            bins: [vec![50; BINS], vec![50; BINS]],
        }
    }

    #[test]
    fn the_tail_is_binomial() {
        // By hand: 2 of 3 or more with 1/2 each is 1/2; 3 of 3 with 0.1 is 0.001; none or more is certain.
        assert!((tail(3, 0.5, 2) - 0.5).abs() < 1e-12);
        assert!((tail(3, 0.1, 3) - 1e-3).abs() < 1e-12);
        assert!((tail(3, 0.1, 0) - 1.0).abs() < 1e-12 && tail(3, 0.1, 4).abs() < 1e-12);
        assert!((tail(3, 1.0, 3) - 1.0).abs() < 1e-12 && tail(3, 0.0, 1).abs() < 1e-12);
    }

    #[test]
    fn what_recurs_at_a_place_is_the_parts_and_what_comes_anywhere_is_not() {
        let at_place: Vec<ContactLoss> = (0..4)
            .map(|k| lost(10.0 + real(k), 63.0, Step::Strokes, Some(k)))
            .collect();
        assert_eq!(of_the_part(&at_place, &minute()), [true; 4]);
        // Hand-worked: 2 of 2 at a place of 1/120 of the time, 60 places: 4e-3, too likely.
        assert_eq!(of_the_part(&at_place[..2], &minute()), [false; 2]);
        let anywhere = [
            lost(1.0, 0.0, Step::Rest, None),
            lost(11.0, 20.0, Step::Strokes, Some(1)),
            lost(13.2, 80.0, Step::Strokes, Some(3)),
            lost(30.0, 0.0, Step::Release, None),
            lost(45.0, 0.0, Step::Shake, None),
        ];
        assert_eq!(of_the_part(&anywhere, &minute()), [false; 5]);
        assert!(of_the_part(&[], &minute()).is_empty());
    }

    #[test]
    fn what_stands_at_an_end_of_the_scale_is_a_lost_contact_whenever_it_comes() {
        let reached = |held, far| Reached { held, far };
        let at = |t_s: f64, reached: Reached| ContactLoss {
            reached,
            ..lost(t_s, 0.0, Step::Idle, None)
        };
        let held = [at(1.0, reached(true, false)), at(9.0, Reached::default())];
        assert_eq!(of_the_part(&held, &minute()), [true, false]);
        // Too short to be held: four from afar to one end are the part's, three are open, and none when the room is as loud.
        let mut far: Vec<ContactLoss> = (0..4)
            .map(|k| at(10.0 * real(k), reached(false, true)))
            .collect();
        assert_eq!(of_the_part(&far, &minute()), [true; 4]);
        assert_eq!(of_the_part(&far[..3], &minute()), [false; 3]);
        far.push(lost(50.0, 0.0, Step::Rest, None));
        far[4].dropout.towards = Towards::Supply;
        assert_eq!(of_the_part(&far, &minute()), [false; 5]);
    }

    #[test]
    fn under_the_shake_and_while_it_moves() {
        // 3 of 4 in 4 s of 60: 4 x (1/15)^3 = 1.2e-3.
        let shaken = [
            lost(2.0, 0.0, Step::Rest, None),
            lost(50.0, 0.0, Step::Shake, None),
            lost(51.0, 0.0, Step::Shake, None),
            lost(52.0, 0.0, Step::Shake, None),
        ];
        assert_eq!(of_the_part(&shaken, &minute()), [false, true, true, true]);
        // 6 of 6 anywhere in a sixth of the time: 2e-5.
        let moving: Vec<ContactLoss> = (0..6)
            .map(|k| lost(10.0 + real(k), 15.0 * real(k), Step::Strokes, Some(k)))
            .collect();
        assert_eq!(of_the_part(&moving, &minute()), [true; 6]);
        // A contact that chatters is one event.
        let chatter: Vec<ContactLoss> = (0..6)
            .map(|k| lost(50.0 + 0.02 * real(k), 0.0, Step::Shake, None))
            .collect();
        assert_eq!(of_the_part(&chatter, &minute()), [false; 6]);
        assert_eq!(count_events(chatter.iter().map(|l| l.dropout.t_s)), 1);
    }
}
