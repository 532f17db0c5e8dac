//! The cheapest change of the wiring that exposes a fault, found by trying and judged by the same analysis.
//!
//! Values come from E12 for pulls (largest first: least loading) and E24 for end resistors (smallest first: least span
//! lost). A change counts only when it leaves fewer faults missed and no more unsafe ones than there were, and when the
//! faults of its own new resistors ask for at most [`SMALL_PCT`] too much.

use super::analysis::FaultAnalysis;
use super::e_series::Series;
use super::faults::{Class, Direction, FaultRow, ZeroEnd, list};
use super::hookup::{Hookup, Pin};
use super::network::{Network, Wiring};
use super::parts::{Fault, Resistor};
use super::valid::{EndLimits, GAP};
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
pub enum Change {
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

impl fmt::Display for Change {
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
    Expose(Vec<Change>),
    /// Change the wiring; it stays hidden but asks for no more than the true command.
    MakeSafe(Vec<Change>),
    /// Nothing on this track shows it: compare two tracks.
    SecondTrack,
    /// Reads within so many percent of the command asked: below and above.
    Small([f64; 2]),
}

impl fmt::Display for Advice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Expose(changes) => write!(f, "caught with {}", joined(changes)),
            Self::MakeSafe(changes) => write!(f, "safe, though hidden, with {}", joined(changes)),
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

fn joined(changes: &[Change]) -> String {
    let words: Vec<String> = changes.iter().map(Change::to_string).collect();
    words.join(" and ")
}

/// The one change that leaves fewest faults missed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Recommendation {
    pub change: String,
    pub wiring: Wiring,
    pub missed_before: usize,
    pub missed_after: usize,
    pub unsafe_before: usize,
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
    analysis: &'a FaultAnalysis,
    rest: EndLimits,
    full: EndLimits,
    faults: Vec<Fault>,
    before: Score,
    families: Vec<Vec<Vec<Change>>>,
}

impl<'a> Search<'a> {
    /// A search around `analysis`, whose faults as wired are `rows`, with the profile's limits on both ends.
    pub fn around(
        analysis: &'a FaultAnalysis,
        rows: &[FaultRow],
        rest: EndLimits,
        full: EndLimits,
    ) -> Self {
        Self {
            analysis,
            rest,
            full,
            faults: rows.iter().map(|row| row.fault).collect(),
            before: score(rows),
            families: families(analysis.hookup().wiring()),
        }
    }

    /// What to do about one missed fault.
    pub fn advise(&self, row: &FaultRow) -> Advice {
        if let (Class::Hidden | Class::CaughtInPart, Some([low, high])) = (row.class, row.error_pct)
            && low >= -SMALL_PCT
            && high <= SMALL_PCT
        {
            return Advice::Small([low, high]);
        }
        let fault = row.fault;
        for family in &self.families {
            let exposing = family.iter().find(|changes| {
                self.quick(changes, fault)
                    && self
                        .changed(changes)
                        .is_some_and(|analysis| self.exposes(&analysis, changes, fault))
            });
            if let Some(changes) = exposing {
                return Advice::Expose(changes.clone());
            }
        }
        // A sensor's supply and ground must never be changed over.
        let turned = match self.analysis.hookup().wiring().network {
            Network::ThreeWire { .. } => Some(vec![Change::SwapRails]),
            Network::Rheostat { .. } => Some(vec![Change::OtherEnd]),
            Network::Buffered { .. } => None,
        };
        let safe = turned.filter(|changes| {
            self.changed(changes).is_some_and(|analysis| {
                analysis.judge(fault).direction == Some(Direction::Safe)
                    && self
                        .score_of(&analysis)
                        .is_some_and(|after| after < self.before)
            })
        });
        safe.map_or(Advice::SecondTrack, Advice::MakeSafe)
    }

    /// The change that leaves fewest faults missed, of those already advised and the best looking ones of each family;
    /// `None` when none helps.
    pub fn recommend(&self, advised: &[Advice]) -> Option<Recommendation> {
        let mut tried: Vec<&Vec<Change>> = advised
            .iter()
            .filter_map(|advice| match advice {
                Advice::Expose(changes) | Advice::MakeSafe(changes) => Some(changes),
                Advice::SecondTrack | Advice::Small(_) => None,
            })
            .collect();
        // Of combinations only those already advised are weighed: trying all would take seconds and seldom finds better.
        let plain =
            |family: &&Vec<Vec<Change>>| family.first().is_some_and(|changes| changes.len() == 1);
        for family in self.families.iter().filter(plain) {
            let looks = family
                .iter()
                .filter_map(|changes| self.quick_score(changes).map(|score| (score, changes)));
            tried.extend(
                looks
                    .min_by_key(|(score, _)| *score)
                    .map(|(_, changes)| changes),
            );
        }
        tried.dedup();
        let (after, changes, analysis) = tried
            .into_iter()
            .filter_map(|changes| {
                let analysis = self.changed(changes)?;
                let after = self.score_of(&analysis)?;
                Self::pull_wins(&analysis, changes).then_some((after, changes, analysis))
            })
            .filter(|(after, ..)| *after < self.before && after.1 <= self.before.1)
            .min_by_key(|(after, changes, _)| (*after, changes.len()))?;
        Some(Recommendation {
            change: joined(changes),
            wiring: *analysis.hookup().wiring(),
            missed_before: self.before.1,
            missed_after: after.1,
            unsafe_before: self.before.0,
            unsafe_after: after.0,
            span_kept_pct: (analysis.curve().span() / self.analysis.curve().span()).abs() * 100.0,
        })
    }

    fn exposes(&self, analysis: &FaultAnalysis, changes: &[Change], fault: Fault) -> bool {
        if !Self::pull_wins(analysis, changes) || analysis.misses(fault) {
            return false;
        }
        self.score_of(analysis)
            .is_some_and(|after| after.0 <= self.before.0 && after.1 < self.before.1)
    }

    /// The score of a changed wiring over the faults that it had before; `None` when one of its new faults hides too much.
    fn score_of(&self, analysis: &FaultAnalysis) -> Option<Score> {
        let (old, new): (Vec<FaultRow>, Vec<FaultRow>) = analysis
            .judge_all()
            .into_iter()
            .partition(|row| self.faults.contains(&row.fault));
        let bears = |row: &FaultRow| {
            row.class != Class::Floats && row.error_pct.is_none_or(|[_, most]| most <= SMALL_PCT)
        };
        new.iter().all(bears).then(|| score(&old))
    }

    /// Whether a new pull still holds an open wire outside the valid range against the pin's leakage.
    fn pull_wins(analysis: &FaultAnalysis, changes: &[Change]) -> bool {
        let volts = analysis.hookup().scale().vref_mv() / 1000.0;
        changes.iter().all(|change| match change {
            Change::PullDown(ohm) | Change::OtherPullDown(ohm) => {
                ohm * PIN_LEAKAGE_A / volts < analysis.valid().low - ADVISED_GAP
            }
            Change::PullUp(ohm) => {
                ohm * PIN_LEAKAGE_A / volts < 1.0 - ADVISED_GAP - analysis.valid().high
            }
            _ => true,
        })
    }

    /// The analysis with a change made; limits of the profile move along with the ends of travel.
    fn changed(&self, changes: &[Change]) -> Option<FaultAnalysis> {
        self.analysed(changes, FaultAnalysis::new)
    }

    /// The same without tolerances.
    fn nominal(&self, changes: &[Change]) -> Option<FaultAnalysis> {
        self.analysed(changes, FaultAnalysis::nominal)
    }

    fn analysed(
        &self,
        changes: &[Change],
        of: fn(&Hookup, ZeroEnd, EndLimits, EndLimits) -> Option<FaultAnalysis>,
    ) -> Option<FaultAnalysis> {
        let hookup = self.hookup(changes)?;
        let (rest, full) = self.moved(&hookup)?;
        let analysis = of(&hookup, self.analysis.zero(), rest, full)?;
        let wide = analysis.valid().at_distance(ADVISED_GAP);
        Some(analysis.with_thresholds(wide))
    }

    /// The profile's limits, moved as far as the nominal ends of travel move with the change.
    fn moved(&self, hookup: &Hookup) -> Option<(EndLimits, EndLimits)> {
        let end = |limits: EndLimits, travel: f64| {
            let before = self.analysis.curve().at(travel)?;
            let by = hookup.pin(travel, None).ratio()? - before;
            Some(EndLimits {
                min: limits.min.map(|x| x + by),
                max: limits.max.map(|x| x + by),
            })
        };
        Some((end(self.rest, 0.0)?, end(self.full, 1.0)?))
    }

    fn hookup(&self, changes: &[Change]) -> Option<Hookup> {
        let mut wiring = *self.analysis.hookup().wiring();
        for change in changes {
            apply(&mut wiring, *change);
        }
        self.analysis.hookup().with(wiring).ok()
    }

    /// A cheap look without tolerances at five travels: could this change expose the fault at all?
    fn quick(&self, changes: &[Change], fault: Fault) -> bool {
        let Some(analysis) = self.nominal(changes) else {
            return false;
        };
        LOOKS
            .iter()
            .all(|travel| !quick_miss(&analysis, fault, *travel))
    }

    /// Faults that the cheap look leaves missed.
    fn quick_score(&self, changes: &[Change]) -> Option<usize> {
        let analysis = self.nominal(changes)?;
        let missed = list(analysis.hookup().wiring())
            .into_iter()
            .filter(|fault| LOOKS.iter().any(|t| quick_miss(&analysis, *fault, *t)));
        Some(missed.count())
    }
}

const LOOKS: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];

fn quick_miss(analysis: &FaultAnalysis, fault: Fault, travel: f64) -> bool {
    match analysis.hookup().pin(travel, Some(fault)) {
        Pin::Floats => true,
        Pin::Collapsed => false,
        Pin::Ratio(ratio) => {
            !analysis.thresholds().catch(ratio)
                && (analysis.curve().travel_of(ratio) - travel).abs() > GAP
        }
    }
}

fn apply(wiring: &mut Wiring, change: Change) {
    match change {
        Change::PullDown(ohm) | Change::OtherPullDown(ohm) => wiring.pull_down_ohm = Some(ohm),
        Change::PullUp(ohm) | Change::OtherPullUp(ohm) => {
            wiring.network = wiring.network.with_pull_up(Some(ohm));
        }
        Change::EndLow(ohm) => {
            if let Network::ThreeWire { track, .. } | Network::Rheostat { track, .. } =
                &mut wiring.network
            {
                track.end_low_ohm = Some(ohm);
            }
        }
        Change::EndHigh(ohm) => {
            if let Network::ThreeWire { end_high_ohm, .. } = &mut wiring.network {
                *end_high_ohm = Some(ohm);
            }
        }
        Change::SwapRails | Change::OtherEnd => {
            wiring.rest_at = Some(1.0 - wiring.rest_position());
            wiring.full_at = Some(1.0 - wiring.full_position());
            wiring.back_at = wiring.back_at.map(|at| 1.0 - at);
            if let Network::ThreeWire {
                track,
                end_high_ohm,
                ..
            } = &mut wiring.network
            {
                std::mem::swap(&mut track.end_low_ohm, end_high_ohm);
            }
        }
    }
}

/// The changes that a wiring allows, cheapest family first, gentlest value first in each.
fn families(wiring: &Wiring) -> Vec<Vec<Vec<Change>>> {
    let pulls: Vec<f64> = Series::E12.between(1e3, 1e6).into_iter().rev().collect();
    let pull = |new: fn(f64) -> Change, other: fn(f64) -> Change, stated: Option<f64>| {
        let change = if stated.is_some() { other } else { new };
        let changes = pulls.iter().filter(|ohm| stated != Some(**ohm));
        changes.map(|ohm| change(*ohm)).collect::<Vec<Change>>()
    };
    let down = pull(
        Change::PullDown,
        Change::OtherPullDown,
        wiring.pull_down_ohm,
    );
    // A rheostat's pull-up is chosen for its span, in `pull_up`.
    let up = match wiring.network {
        Network::Rheostat { .. } => Vec::new(),
        _ => pull(
            Change::PullUp,
            Change::OtherPullUp,
            wiring.network.pull_up_ohm(),
        ),
    };
    let ends: Vec<f64> = wiring.network.track().map_or_else(Vec::new, |track| {
        Series::E24.between(track.ohm * 0.01, track.ohm * 0.3)
    });
    let end = |change: fn(f64) -> Change, part: Resistor| -> Vec<Change> {
        match wiring.ohm(part) {
            Some(_) => Vec::new(),
            None => ends.iter().map(|ohm| change(*ohm)).collect(),
        }
    };
    let low = end(Change::EndLow, Resistor::EndLow);
    let high = match wiring.network {
        Network::ThreeWire { .. } => end(Change::EndHigh, Resistor::EndHigh),
        _ => Vec::new(),
    };
    let both: Vec<Vec<Change>> = low.iter().zip(&high).map(|(a, b)| vec![*a, *b]).collect();
    let single = |list: &[Change]| list.iter().map(|change| vec![*change]).collect::<Vec<_>>();
    // In a combination the pull is tried coarsely, every third value (E3): the ends matter more.
    let with = |pulls: &[Change], others: &[Vec<Change>]| -> Vec<Vec<Change>> {
        others
            .iter()
            .flat_map(|other| {
                pulls.iter().step_by(4).map(move |pull| {
                    let mut changes = vec![*pull];
                    changes.extend(other);
                    changes
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
    use super::super::faults::ZeroEnd;
    use super::super::parts::Wire;
    use super::*;

    fn analysis(text: &str) -> FaultAnalysis {
        let hookup = Hookup::new(serde_json::from_str(text).unwrap(), 5000.0, 10).unwrap();
        let none = EndLimits::default();
        FaultAnalysis::new(&hookup, ZeroEnd::Rest, none, none).unwrap()
    }

    fn advise(text: &str, fault: Fault) -> Advice {
        let analysis = analysis(text);
        let rows = analysis.judge_all();
        let none = EndLimits::default();
        let row = analysis.judge(fault);
        Search::around(&analysis, &rows, none, none).advise(&row)
    }

    #[test]
    fn an_end_resistor_exposes_a_rheostats_short_to_ground() {
        let text = r#"{"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700,"tolerance_pct":5,"track_tolerance_pct":20}"#;
        let short = Fault::Short(Wire::Signal, Wire::Ground);
        let advice = advise(text, short);
        let Advice::Expose(changes) = &advice else {
            panic!("{advice}")
        };
        let [Change::EndLow(ohm)] = changes[..] else {
            panic!("{advice}")
        };
        // Its lowest good reading must clear 2 %: 0.95 r/(0.95 r + 4935) > 0.02 needs r > 106 ohm: E24 110. By hand.
        assert!((ohm - 110.0).abs() < 1e-9, "{advice}");
        // Checked again by hand: the short reads 0, the lowest good reading is 104.5/(104.5 + 4935) = 2.07 %.
        let mut wiring = *analysis(text).hookup().wiring();
        apply(&mut wiring, changes[0]);
        let again = analysis(&serde_json::to_string(&wiring).unwrap());
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
            Advice::Expose(vec![Change::PullDown(680e3)]),
            "{advice}"
        );
    }

    #[test]
    fn a_track_used_whole_needs_ends_and_a_pull() {
        let analysis = analysis(r#"{"network":"three-wire","track_ohm":20000}"#);
        let rows = analysis.judge_all();
        let none = EndLimits::default();
        let search = Search::around(&analysis, &rows, none, none);
        let advice = search.advise(&analysis.judge(Fault::Open(Wire::Signal)));
        let Advice::Expose(changes) = &advice else {
            panic!("{advice}")
        };
        assert_eq!(changes.len(), 2, "{advice}");
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
