//! The cheapest change of the wiring that exposes a fault, found by trying and judged by the same analysis.
//!
//! Belongs here: the changes, their order of cost, the search. Does not belong here: how a fault is judged (`faults`).
//!
//! Values come from E12 for pulls (largest first: least loading) and E24 for end resistors (smallest first: least span
//! lost). A change counts only when it leaves fewer faults missed and no more unsafe ones than there were, and when the
//! faults of its own new resistors ask for at most [`SMALL_PCT`] too much.

use super::e_series::Series;
use super::faults::{Bench, Class, Direction, FaultRow};
use super::valid::{EndLimits, GAP};
use super::{Fault, Hookup, NetworkKind, Wiring};
use serde::{Serialize, Serializer};
use std::fmt;

/// Most leakage of an ADC pin, in amperes: what an open wire's pull must still overcome.
///
/// 1 microampere: a common data-sheet figure, no standard.
pub const PIN_LEAKAGE_A: f64 = 1e-6;

/// Room that an advised change must leave between valid readings and the fault, as a fraction of the reference.
///
/// Twice [`GAP`]: whoever solders a resistor for it should get more than the least. Common practice, no source.
pub const ADVISED_GAP: f64 = 2.0 * GAP;

/// Departure from the command asked, in percent, that a hidden fault may have to be called small: no change is sought for
/// it, and a new resistor may bring such a fault along.
///
/// Common practice, no source: about what the tolerance of a track already does.
pub const SMALL_PCT: f64 = 5.0;

/// One step of a change.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// Another resistor from signal to ground.
    PullDown(f64),
    /// Another resistor from signal to supply.
    PullUp(f64),
    /// A pull-down of another value than the present one.
    OtherPullDown(f64),
    /// A pull-up of another value than the present one.
    OtherPullUp(f64),
    /// A fixed resistor in the control at the track's ground end.
    EndLow(f64),
    /// A fixed resistor in the control at the track's supply end.
    EndHigh(f64),
    /// Supply and ground wires of a three-wire control changed over.
    SwapRails,
    /// The other end of a rheostat's track to ground.
    OtherEnd,
}

impl fmt::Display for Step {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::PullDown(ohm) => write!(f, "pull-down of {}", Ohms(*ohm)),
            Self::PullUp(ohm) => write!(f, "pull-up of {}", Ohms(*ohm)),
            Self::OtherPullDown(ohm) => {
                write!(f, "pull-down of {} in place of the present one", Ohms(*ohm))
            }
            Self::OtherPullUp(ohm) => {
                write!(f, "pull-up of {} in place of the present one", Ohms(*ohm))
            }
            Self::EndLow(ohm) => {
                write!(f, "{} in the control at the track's ground end", Ohms(*ohm))
            }
            Self::EndHigh(ohm) => {
                write!(f, "{} in the control at the track's supply end", Ohms(*ohm))
            }
            Self::SwapRails => f.write_str("supply and ground changed over at the control"),
            Self::OtherEnd => f.write_str("the other end of the track to ground"),
        }
    }
}

/// A resistance for people: `470 ohm`, `4.7 kohm`.
#[derive(Debug, Clone, Copy)]
pub struct Ohms(pub f64);

impl fmt::Display for Ohms {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let three = |x: f64| {
            let text = format!("{x:.2}");
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        };
        let text = match self.0 {
            ohm if ohm >= 1e6 => format!("{} Mohm", three(ohm / 1e6)),
            ohm if ohm >= 1e3 => format!("{} kohm", three(ohm / 1e3)),
            ohm => format!("{} ohm", three(ohm)),
        };
        f.pad(&text)
    }
}

/// What to do about a fault that is missed.
#[derive(Debug, Clone, PartialEq)]
pub enum Advice {
    /// Change the wiring; then it is caught at every travel.
    Expose(Vec<Step>),
    /// Change the wiring; it stays hidden but asks for no more than the true command.
    MakeSafe(Vec<Step>),
    /// Nothing on this track shows it: compare two tracks.
    SecondTrack,
    /// Reads within so many percent of the command asked: below and above.
    Small([f64; 2]),
}

impl fmt::Display for Advice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Expose(steps) => write!(f, "caught with {}", joined(steps)),
            Self::MakeSafe(steps) => write!(f, "safe, though hidden, with {}", joined(steps)),
            Self::SecondTrack => {
                f.write_str("no resistor on this track shows it everywhere: compare two tracks")
            }
            Self::Small([low, high]) => write!(
                f,
                "small, {low:+.1} to {high:+.1} % off the true command: allow for it in the dead bands"
            ),
        }
    }
}

impl Serialize for Advice {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

fn joined(steps: &[Step]) -> String {
    let words: Vec<String> = steps.iter().map(Step::to_string).collect();
    words.join(" and ")
}

/// The one change that leaves fewest faults missed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Recommendation {
    /// What to do, in words.
    pub change: String,
    /// The wiring then.
    pub wiring: Wiring,
    /// Faults missed as wired.
    pub missed_before: usize,
    /// Faults missed then.
    pub missed_after: usize,
    /// Of these unsafe, as wired.
    pub unsafe_before: usize,
    /// Of these unsafe, then.
    pub unsafe_after: usize,
    /// Span then, percent of the span as wired.
    pub span_kept_pct: f64,
}

/// How many faults are missed, unsafe ones first: less is better, in this order.
type Score = (usize, usize);

fn score(rows: &[FaultRow]) -> Score {
    let missed = rows.iter().filter(|row| row.missed());
    let unsafe_ones = missed
        .clone()
        .filter(|row| row.direction != Some(Direction::Safe));
    (unsafe_ones.count(), missed.count())
}

/// The search around one track as wired.
pub struct Search<'a> {
    bench: &'a Bench,
    rest: EndLimits,
    full: EndLimits,
    faults: Vec<Fault>,
    before: Score,
    families: Vec<Vec<Vec<Step>>>,
}

impl<'a> Search<'a> {
    /// A search around `bench`, whose faults as wired are `rows`, with the profile's limits on both ends.
    #[must_use]
    pub fn around(bench: &'a Bench, rows: &[FaultRow], rest: EndLimits, full: EndLimits) -> Self {
        Self {
            bench,
            rest,
            full,
            faults: rows.iter().map(|row| row.fault).collect(),
            before: score(rows),
            families: families(bench.hookup().wiring()),
        }
    }

    /// What to do about one missed fault.
    #[must_use]
    pub fn advise(&self, row: &FaultRow) -> Advice {
        if let (Class::Hidden | Class::CaughtInPart, Some([low, high])) = (row.class, row.error_pct)
            && low >= -SMALL_PCT
            && high <= SMALL_PCT
        {
            return Advice::Small([low, high]);
        }
        let fault = row.fault;
        for family in &self.families {
            let exposing = family.iter().find(|steps| {
                self.quick(steps, fault)
                    && self
                        .changed(steps)
                        .is_some_and(|bench| self.exposes(&bench, steps, fault))
            });
            if let Some(steps) = exposing {
                return Advice::Expose(steps.clone());
            }
        }
        // A sensor's supply and ground must never be changed over.
        let turned = match self.bench.hookup().wiring().network {
            NetworkKind::ThreeWire => Some(vec![Step::SwapRails]),
            NetworkKind::Rheostat => Some(vec![Step::OtherEnd]),
            NetworkKind::Buffered => None,
        };
        let safe = turned.filter(|steps| {
            self.changed(steps).is_some_and(|bench| {
                bench.judge(fault).direction == Some(Direction::Safe)
                    && self
                        .score_of(&bench)
                        .is_some_and(|after| after < self.before)
            })
        });
        safe.map_or(Advice::SecondTrack, Advice::MakeSafe)
    }

    /// The change that leaves fewest faults missed, of those already advised and the best looking ones of each family;
    /// `None` when none helps.
    #[must_use]
    pub fn recommend(&self, advised: &[Advice]) -> Option<Recommendation> {
        let mut tried: Vec<&Vec<Step>> = advised
            .iter()
            .filter_map(|advice| match advice {
                Advice::Expose(steps) | Advice::MakeSafe(steps) => Some(steps),
                Advice::SecondTrack | Advice::Small(_) => None,
            })
            .collect();
        // Of combinations only those already advised are weighed: trying all would take seconds and seldom finds better.
        let plain = |family: &&Vec<Vec<Step>>| family.first().is_some_and(|steps| steps.len() == 1);
        for family in self.families.iter().filter(plain) {
            let looks = family
                .iter()
                .filter_map(|steps| self.quick_score(steps).map(|score| (score, steps)));
            tried.extend(
                looks
                    .min_by_key(|(score, _)| *score)
                    .map(|(_, steps)| steps),
            );
        }
        tried.dedup();
        let (after, steps, bench) = tried
            .into_iter()
            .filter_map(|steps| {
                let bench = self.changed(steps)?;
                let after = self.score_of(&bench)?;
                Self::pull_wins(&bench, steps).then_some((after, steps, bench))
            })
            .filter(|(after, ..)| *after < self.before && after.1 <= self.before.1)
            .min_by_key(|(after, steps, _)| (*after, steps.len()))?;
        Some(Recommendation {
            change: joined(steps),
            wiring: *bench.hookup().wiring(),
            missed_before: self.before.1,
            missed_after: after.1,
            unsafe_before: self.before.0,
            unsafe_after: after.0,
            span_kept_pct: (bench.curve().span() / self.bench.curve().span()).abs() * 100.0,
        })
    }

    fn exposes(&self, bench: &Bench, steps: &[Step], fault: Fault) -> bool {
        if !Self::pull_wins(bench, steps) || bench.misses(fault) {
            return false;
        }
        self.score_of(bench)
            .is_some_and(|after| after.0 <= self.before.0 && after.1 < self.before.1)
    }

    /// The score of a changed bench over the faults that it had before; `None` when one of its new faults hides too much.
    fn score_of(&self, bench: &Bench) -> Option<Score> {
        let (old, new): (Vec<FaultRow>, Vec<FaultRow>) = bench
            .judge_all()
            .into_iter()
            .partition(|row| self.faults.contains(&row.fault));
        let bears = |row: &FaultRow| {
            row.class != Class::Floats && row.error_pct.is_none_or(|[_, most]| most <= SMALL_PCT)
        };
        new.iter().all(bears).then(|| score(&old))
    }

    /// Whether a new pull still holds an open wire outside the valid range against the pin's leakage.
    fn pull_wins(bench: &Bench, steps: &[Step]) -> bool {
        let volts = bench.hookup().scale().vref_mv() / 1000.0;
        steps.iter().all(|step| match step {
            Step::PullDown(ohm) | Step::OtherPullDown(ohm) => {
                ohm * PIN_LEAKAGE_A / volts < bench.valid().low - ADVISED_GAP
            }
            Step::PullUp(ohm) => {
                ohm * PIN_LEAKAGE_A / volts < 1.0 - ADVISED_GAP - bench.valid().high
            }
            _ => true,
        })
    }

    /// The bench with a change made; limits of the profile move along with the ends of travel.
    fn changed(&self, steps: &[Step]) -> Option<Bench> {
        let hookup = self.hookup(steps)?;
        let (rest, full) = self.moved(&hookup)?;
        let bench = Bench::new(&hookup, self.bench.zero(), rest, full)?;
        let wide = bench.valid().at_distance(ADVISED_GAP);
        Some(bench.with_thresholds(wide))
    }

    /// The profile's limits, moved as far as the nominal ends of travel move with the change.
    fn moved(&self, hookup: &Hookup) -> Option<(EndLimits, EndLimits)> {
        let end = |limits: EndLimits, travel: f64| {
            let before = self.bench.curve().at(travel)?;
            let by = hookup.pin(travel, None).ratio()? - before;
            Some(EndLimits {
                min: limits.min.map(|x| x + by),
                max: limits.max.map(|x| x + by),
            })
        };
        Some((end(self.rest, 0.0)?, end(self.full, 1.0)?))
    }

    fn hookup(&self, steps: &[Step]) -> Option<Hookup> {
        let mut wiring = *self.bench.hookup().wiring();
        for step in steps {
            apply(&mut wiring, *step);
        }
        self.bench.hookup().with(wiring).ok()
    }

    /// A cheap look without tolerances at five travels: could this change expose the fault at all?
    fn quick(&self, steps: &[Step], fault: Fault) -> bool {
        let Some(bench) = self.nominal(steps) else {
            return false;
        };
        LOOKS
            .iter()
            .all(|travel| !quick_miss(&bench, fault, *travel))
    }

    /// Faults that the cheap look leaves missed.
    fn quick_score(&self, steps: &[Step]) -> Option<usize> {
        let bench = self.nominal(steps)?;
        let missed = super::faults::list(bench.hookup().wiring())
            .into_iter()
            .filter(|fault| LOOKS.iter().any(|t| quick_miss(&bench, *fault, *t)));
        Some(missed.count())
    }

    /// As [`Search::changed`] without tolerances.
    fn nominal(&self, steps: &[Step]) -> Option<Bench> {
        let hookup = self.hookup(steps)?;
        let (rest, full) = self.moved(&hookup)?;
        let bench = Bench::nominal(&hookup, self.bench.zero(), rest, full)?;
        let wide = bench.valid().at_distance(ADVISED_GAP);
        Some(bench.with_thresholds(wide))
    }
}

const LOOKS: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];

fn quick_miss(bench: &Bench, fault: Fault, travel: f64) -> bool {
    match bench.hookup().pin(travel, Some(fault)) {
        super::Pin::Floats => true,
        super::Pin::Collapsed => false,
        super::Pin::Ratio(ratio) => {
            !bench.thresholds().catch(ratio)
                && (bench.curve().travel_of(ratio) - travel).abs() > GAP
        }
    }
}

fn apply(wiring: &mut Wiring, step: Step) {
    match step {
        Step::PullDown(ohm) | Step::OtherPullDown(ohm) => wiring.pull_down_ohm = Some(ohm),
        Step::PullUp(ohm) | Step::OtherPullUp(ohm) => wiring.pull_up_ohm = Some(ohm),
        Step::EndLow(ohm) => wiring.end_low_ohm = Some(ohm),
        Step::EndHigh(ohm) => wiring.end_high_ohm = Some(ohm),
        Step::SwapRails | Step::OtherEnd => {
            wiring.rest_at = Some(1.0 - wiring.rest_position());
            wiring.full_at = Some(1.0 - wiring.full_position());
            wiring.back_at = wiring.back_at.map(|at| 1.0 - at);
            if step == Step::SwapRails {
                std::mem::swap(&mut wiring.end_low_ohm, &mut wiring.end_high_ohm);
            }
        }
    }
}

/// The changes that a wiring allows, cheapest family first, gentlest value first in each.
fn families(wiring: &Wiring) -> Vec<Vec<Vec<Step>>> {
    let pulls: Vec<f64> = Series::E12.between(1e3, 1e6).into_iter().rev().collect();
    let pull = |new: fn(f64) -> Step, other: fn(f64) -> Step, stated: Option<f64>| {
        let step = if stated.is_some() { other } else { new };
        let steps = pulls.iter().filter(|ohm| stated != Some(**ohm));
        steps.map(|ohm| step(*ohm)).collect::<Vec<Step>>()
    };
    let down = pull(Step::PullDown, Step::OtherPullDown, wiring.pull_down_ohm);
    // A rheostat's pull-up is chosen for its span, in `pull_up`.
    let up = match wiring.network {
        NetworkKind::Rheostat => Vec::new(),
        _ => pull(Step::PullUp, Step::OtherPullUp, wiring.pull_up_ohm),
    };
    let ends: Vec<f64> = match (wiring.network, wiring.track_ohm) {
        (NetworkKind::ThreeWire | NetworkKind::Rheostat, Some(track)) => {
            Series::E24.between(track * 0.01, track * 0.3)
        }
        _ => Vec::new(),
    };
    let end = |step: fn(f64) -> Step, stated: Option<f64>| -> Vec<Step> {
        match stated {
            Some(_) => Vec::new(),
            None => ends.iter().map(|ohm| step(*ohm)).collect(),
        }
    };
    let low = end(Step::EndLow, wiring.end_low_ohm);
    let high = match wiring.network {
        NetworkKind::ThreeWire => end(Step::EndHigh, wiring.end_high_ohm),
        _ => Vec::new(),
    };
    let both: Vec<Vec<Step>> = low.iter().zip(&high).map(|(a, b)| vec![*a, *b]).collect();
    let single = |list: &[Step]| list.iter().map(|step| vec![*step]).collect::<Vec<_>>();
    // In a combination the pull is tried coarsely, every third value (E3): the ends matter more.
    let with = |pulls: &[Step], others: &[Vec<Step>]| -> Vec<Vec<Step>> {
        others
            .iter()
            .flat_map(|other| {
                pulls.iter().step_by(4).map(move |pull| {
                    let mut steps = vec![*pull];
                    steps.extend(other);
                    steps
                })
            })
            .collect()
    };
    vec![
        single(&down),
        single(&up),
        single(&low),
        single(&high),
        both.clone(),
        with(&down, &single(&low)),
        with(&down, &single(&high)),
        with(&up, &single(&low)),
        with(&up, &single(&high)),
        with(&down, &both),
        with(&up, &both),
    ]
}

#[cfg(test)]
mod tests {
    use super::super::Wire;
    use super::super::faults::ZeroEnd;
    use super::*;

    fn bench(text: &str) -> Bench {
        let hookup = Hookup::new(serde_json::from_str(text).unwrap(), 5000.0, 10).unwrap();
        let none = EndLimits::default();
        Bench::new(&hookup, ZeroEnd::Rest, none, none).unwrap()
    }

    fn advise(text: &str, fault: Fault) -> Advice {
        let bench = bench(text);
        let rows = bench.judge_all();
        let none = EndLimits::default();
        let row = bench.judge(fault);
        Search::around(&bench, &rows, none, none).advise(&row)
    }

    #[test]
    fn an_end_resistor_exposes_a_rheostats_short_to_ground() {
        let text = r#"{"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700,"tolerance_pct":5,"track_tolerance_pct":20}"#;
        let short = Fault::Short(Wire::Signal, Wire::Ground);
        let advice = advise(text, short);
        let Advice::Expose(steps) = &advice else {
            panic!("{advice}")
        };
        let [Step::EndLow(ohm)] = steps[..] else {
            panic!("{advice}")
        };
        // Its lowest good reading must clear 2 %: 0.95 r/(0.95 r + 4935) > 0.02 needs r > 106 ohm: E24 110. By hand.
        assert!((ohm - 110.0).abs() < 1e-9, "{advice}");
        // Checked again by hand: the short reads 0, the lowest good reading is 104.5/(104.5 + 4935) = 2.07 %.
        let mut wiring = *bench(text).hookup().wiring();
        apply(&mut wiring, steps[0]);
        let again = bench(&serde_json::to_string(&wiring).unwrap());
        assert_eq!(again.judge(short).class, Class::Caught);
        assert!((again.valid().low - 104.5 / 5039.5).abs() < 1e-9);
    }

    #[test]
    fn a_pull_down_exposes_an_open_signal_wire_where_there_is_room() {
        let text = r#"{"network":"buffered","output_ohm":100,"low_ratio":0.16,"high_ratio":0.84}"#;
        let advice = advise(text, Fault::Open(Wire::Signal));
        // 1 uA x R must stay under (0.16 - 0.02) x 5 V = 0.7 V: 680 k is the largest E12 value below 700 k. By hand.
        assert_eq!(
            advice,
            Advice::Expose(vec![Step::PullDown(680e3)]),
            "{advice}"
        );
    }

    #[test]
    fn a_track_used_whole_needs_ends_and_a_pull() {
        let bench = bench(r#"{"network":"three-wire","track_ohm":20000}"#);
        let rows = bench.judge_all();
        let none = EndLimits::default();
        let search = Search::around(&bench, &rows, none, none);
        let advice = search.advise(&bench.judge(Fault::Open(Wire::Signal)));
        let Advice::Expose(steps) = &advice else {
            panic!("{advice}")
        };
        assert_eq!(steps.len(), 2, "{advice}");
        let change = search.recommend(std::slice::from_ref(&advice)).unwrap();
        assert!(change.missed_after < change.missed_before, "{change:?}");
        assert!(change.unsafe_after < change.unsafe_before, "{change:?}");
        assert!(change.span_kept_pct < 100.0);
    }

    #[test]
    fn resistances_read_well() {
        let cases = [
            (82.0, "82 ohm"),
            (4700.0, "4.7 kohm"),
            (1e6, "1 Mohm"),
            (1.02e5, "102 kohm"),
        ];
        for (ohm, text) in cases {
            assert_eq!(Ohms(ohm).to_string(), text);
        }
    }
}
