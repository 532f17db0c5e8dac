//! Changes of the wiring that help, found by trying and judged by the same analysis as the wiring itself.
//!
//! Many changes get a glance (the nominal unit at five travels); those that look best are judged whole, as the changed wiring will be
//! when it is looked at, the faults of its own new resistors with it. What is promised is what that judgement counts.

mod changes;
mod moved;
mod refine;

pub use changes::{Change, Ohms};
pub use moved::moved_limits;

use super::analysis::judged::TrackFaults;
use super::analysis::{FaultAnalysis, FaultSummary};
use super::curve::Curve;
use super::faults::{Class, Direction, FaultRow, SMALL_PCT, Tally};
use super::hookup::Hookup;
use super::network::Wiring;
use super::parts::Fault;
use super::valid::{EndLimits, GAP};
use changes::{Kind, apply, joined, searched, tried};
use schemars::JsonSchema;
use serde::{Serialize, Serializer};
use std::collections::BTreeMap;
use std::fmt;

/// Most leakage of an ADC pin, in amperes: what an open wire's pull must still overcome.
///
/// 1 microampere: a common data-sheet figure, no standard.
pub const PIN_LEAKAGE_A: f64 = 1e-6;

/// Room that an advised change must leave between valid readings and the fault, as a fraction of the reference.
///
/// Twice [`GAP`]: whoever solders a resistor for it should get more than the least. Common practice, no source.
pub const ADVISED_GAP: f64 = 2.0 * GAP;

/// Least span that a change may leave, as a share of the span as wired. Common practice, no source: with less the ADC's steps
/// show.
const LEAST_SPAN: f64 = 0.5;

/// Changes that are judged whole: of each kind those that look best at a glance, until one leaves fewer faults that drive the motor, so many
/// at most; and the first few that catch a fault. A glance sees the nominal unit only, so one kind that looks too good must not be all that is
/// judged.
const JUDGED_FOR_A_FAULT: usize = 2;
const TRIES_OF_A_KIND: usize = 2;

/// What to do about a fault that is missed.
#[derive(Debug, Clone, PartialEq)]
pub enum Advice {
    /// Change the wiring; then it is caught at every travel.
    Expose(Vec<Change>),
    /// Change the wiring; it stays hidden but asks for no more than the true command.
    MakeSafe(Vec<Change>),
    /// No change that was tried shows it: compare two tracks.
    SecondTrack,
    /// It comes by degrees or when the control is connected: how to find it.
    LookFor(&'static str),
    /// Reads within so many percent of the command asked: below and above.
    Small([f64; 2]),
}

impl fmt::Display for Advice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Expose(changes) => write!(f, "caught with {}", joined(changes)),
            Self::MakeSafe(changes) => write!(
                f,
                "safe, though still unnoticed (it asks for no more), with {}",
                joined(changes)
            ),
            Self::SecondTrack => {
                f.write_str("no change tried shows it everywhere: compare two tracks")
            }
            Self::LookFor(how) => f.write_str(how),
            Self::Small([low, high]) => write!(
                f,
                "small, {low:+.1} to {high:+.1} % off the true command: the dead band makes room for it"
            ),
        }
    }
}

impl Serialize for Advice {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// The change that leaves fewest faults.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Recommendation {
    pub change: String,
    #[schemars(with = "crate::wiring::WiringText")]
    pub wiring: Wiring,
    pub missed_before: usize,
    pub missed_after: usize,
    pub unsafe_before: usize,
    pub unsafe_after: usize,
    /// Span then, percent of the span as wired.
    pub span_kept_pct: f64,
    /// Faults that drive the motor with the control at its zero end, unnoticed.
    pub drive_before: usize,
    pub drive_after: usize,
    /// The profile's limits on both ends of travel, moved with them.
    pub rest_ratio: EndLimits,
    pub full_ratio: EndLimits,
}

/// A change that was judged whole.
struct JudgedChange {
    changes: Vec<Change>,
    judged: TrackFaults,
    limits: [EndLimits; 2],
}

/// A change at a glance: what it leaves, and which of the missed faults it catches.
struct Preview {
    tally: Tally,
    catches: Vec<bool>,
}

/// What is changed, and the changes of that kind: their tally at a glance and their place among all that are tried.
type OfAKind = (Vec<Kind>, Vec<(Tally, usize)>);

/// The search around one track as wired.
pub struct Search<'a> {
    now: &'a TrackFaults,
    limits: [EndLimits; 2],
    judged: Vec<JudgedChange>,
    tried: usize,
}

impl<'a> Search<'a> {
    /// A search around a track as wired, with the profile's limits on both ends.
    pub fn around(now: &'a TrackFaults, rest: EndLimits, full: EndLimits) -> Self {
        let mut search = Self {
            now,
            limits: [rest, full],
            judged: Vec::new(),
            tried: 0,
        };
        let missed: Vec<Fault> = now
            .rows
            .iter()
            .filter(|row| row.missed() && small(row).is_none() && row.fault.places_thresholds())
            .map(|row| row.fault)
            .collect();
        if missed.is_empty() && now.tally.drive == 0 {
            return search;
        }
        search.judge_the_best(&missed);
        search
    }

    fn judge_the_best(&mut self, missed: &[Fault]) {
        let tried = tried(self.now.analysis.hookup().wiring());
        self.tried = tried.len();
        let seen: Vec<Option<Preview>> = tried
            .iter()
            .map(|changes| self.look(changes, missed))
            .collect();
        let seen = || {
            let looks = seen.iter().enumerate();
            looks.filter_map(|(at, look)| Some((at, look.as_ref()?)))
        };
        let mut kinds: Vec<OfAKind> = Vec::new();
        for (at, look) in seen() {
            let kind = tried[at].iter().map(Kind::from).collect();
            match kinds.iter_mut().find(|(had, _)| *had == kind) {
                Some((_, of)) => of.push((look.tally, at)),
                None => kinds.push((kind, vec![(look.tally, at)])),
            }
        }
        for (_, of) in &mut kinds {
            of.sort_unstable();
        }
        kinds.sort_by(|(_, a), (_, b)| a.first().cmp(&b.first()));
        let mut judged: BTreeMap<usize, Option<JudgedChange>> = BTreeMap::new();
        let mut least = self.now.tally;
        for (_, of) in kinds {
            for (at_a_glance, at) in of.into_iter().take(TRIES_OF_A_KIND) {
                // What a glance sees there is: judged whole it is no better.
                if at_a_glance > least {
                    break;
                }
                let done = judged.entry(at).or_insert_with(|| self.judge(&tried[at]));
                let left = done
                    .as_ref()
                    .map_or(self.now.tally, |done| done.judged.tally);
                least = least.min(left);
                if left.drive < self.now.tally.drive {
                    break;
                }
            }
        }
        for fault in 0..missed.len() {
            let catch = seen().filter(|(_, look)| look.catches[fault]);
            for (at, _) in catch.take(JUDGED_FOR_A_FAULT) {
                judged.entry(at).or_insert_with(|| self.judge(&tried[at]));
            }
        }
        self.judged = judged.into_values().flatten().collect();
        self.refine();
    }

    /// A change at a glance; `None` when it is none that may be made.
    fn look(&self, changes: &[Change], missed: &[Fault]) -> Option<Preview> {
        let quick = self.quick(changes)?;
        let seen = quick.glance();
        let count =
            |of: fn(&FaultSummary) -> bool| seen.iter().filter(|(_, glance)| of(glance)).count();
        if count(|glance| glance.floats) > floating(&self.now.rows) {
            return None;
        }
        let wide = quick.valid().at_distance(ADVISED_GAP);
        let wide = quick.clone().with_thresholds(wide);
        let catches = |fault: &Fault| {
            !seen.iter().any(|(other, glance)| {
                self.same(quick.hookup().wiring(), *other, *fault)
                    && (glance.missed || wide.glance_at(*other).missed)
            })
        };
        Some(Preview {
            tally: Tally {
                drive: count(|glance| glance.drives),
                unsafe_ones: count(|glance| glance.above),
                missed: count(|glance| glance.missed),
            },
            catches: missed.iter().map(catches).collect(),
        })
    }

    /// Whether a fault of a changed wiring is one that was there before: a crack by its travel, all else by its name.
    fn same(&self, changed: &Wiring, other: Fault, before: Fault) -> bool {
        match (other, before) {
            (Fault::TrackOpen(a), Fault::TrackOpen(b)) => {
                let travel = |wiring: &Wiring, at: f64| {
                    let (rest, full) = (wiring.rest_position(), wiring.full_position());
                    (at - rest) / (full - rest)
                };
                let now = self.now.analysis.hookup().wiring();
                (travel(changed, a) - travel(now, b)).abs() < 1e-6
            }
            _ => other.mildest() == before.mildest(),
        }
    }

    /// What to do about one missed fault.
    pub fn advise(&self, row: &FaultRow) -> Advice {
        if let Some(range) = small(row) {
            return Advice::Small(range);
        }
        let no_worse = |changed: &&JudgedChange| {
            let (after, before) = (changed.judged.tally, self.now.tally);
            after < before && after.drive <= before.drive && after.unsafe_ones <= before.unsafe_ones
        };
        // A fault that a change leaves nowhere, like a resistor that is gone, is caught as well.
        let exposes = |changed: &&JudgedChange| {
            self.of_fault(changed, row.fault).is_none_or(|after| {
                let wide = changed.judged.analysis.valid().at_distance(ADVISED_GAP);
                let analysis = changed.judged.analysis.clone().with_thresholds(wide);
                !after.missed() && !analysis.judge(after.fault).missed()
            })
        };
        let exposed = self.judged.iter().filter(no_worse).find(exposes);
        let safe = |changed: &&JudgedChange| {
            row.direction == Some(Direction::Unsafe)
                && self
                    .of_fault(changed, row.fault)
                    .is_some_and(|after| after.direction == Some(Direction::Safe))
        };
        let made_safe = self.judged.iter().filter(no_worse).find(safe);
        // One step that makes it safe goes before several that show it.
        let steps =
            |changed: Option<&JudgedChange>| changed.map_or(usize::MAX, |of| of.changes.len());
        if let Some(changed) = made_safe.filter(|of| of.changes.len() < steps(exposed)) {
            return Advice::MakeSafe(changed.changes.clone());
        }
        if let Some(changed) = exposed {
            return Advice::Expose(changed.changes.clone());
        }
        row.fault
            .shown_by()
            .map_or(Advice::SecondTrack, Advice::LookFor)
    }

    /// The one rewiring that leaves fewest faults, if it is safer and takes this missed fault's danger away: whoever rewires does it once.
    pub fn cure(&self, row: &FaultRow) -> Option<&[Change]> {
        let best = self.best()?;
        let (after, before) = (best.judged.tally, self.now.tally);
        let safer = after.drive < before.drive || after.unsafe_ones < before.unsafe_ones;
        let left = self.of_fault(best, row.fault);
        let was_unsafe = row.direction == Some(Direction::Unsafe);
        let cured = left.is_none_or(|left| {
            let is_safe = left.direction != Some(Direction::Unsafe) || small(left).is_some();
            !left.missed() || (was_unsafe && is_safe)
        });
        (safer && cured).then_some(&best.changes[..])
    }

    /// What a changed wiring makes of a fault that was there before; `None` where the change leaves it nowhere.
    fn of_fault<'b>(&self, changed: &'b JudgedChange, fault: Fault) -> Option<&'b FaultRow> {
        let wiring = changed.judged.analysis.hookup().wiring();
        let mut rows = changed.judged.rows.iter();
        rows.find(|other| self.same(wiring, other.fault, fault))
    }

    /// The change that leaves fewest faults; `None` when none helps.
    pub fn recommend(&self) -> Option<Recommendation> {
        let before = self.now.tally;
        let best = self.best()?;
        let after = best.judged.tally;
        Some(Recommendation {
            change: joined(&best.changes),
            wiring: *best.judged.analysis.hookup().wiring(),
            missed_before: before.missed,
            missed_after: after.missed,
            unsafe_before: before.unsafe_ones,
            unsafe_after: after.unsafe_ones,
            span_kept_pct: self.span_kept(best.judged.analysis.curve()) * 100.0,
            drive_before: before.drive,
            drive_after: after.drive,
            rest_ratio: best.limits[0],
            full_ratio: best.limits[1],
        })
    }

    /// What was tried, in words; `None` when there was nothing to look for.
    pub fn searched(&self) -> Option<String> {
        (self.tried > 0).then(|| searched(self.now.analysis.hookup().wiring(), self.tried))
    }

    fn span_kept(&self, curve: &Curve) -> f64 {
        (curve.span() / self.now.analysis.curve().span()).abs()
    }

    /// A change judged whole: exactly what is said of the changed wiring when it is looked at.
    fn judge(&self, changes: &[Change]) -> Option<JudgedChange> {
        let hookup = self.hookup(changes)?;
        if self.span_kept(&Curve::of(&hookup)) < LEAST_SPAN {
            return None;
        }
        let limits = self.moved(&hookup)?;
        let judged = TrackFaults::of(&hookup, self.now.analysis.zero(), limits[0], limits[1])?;
        let held = floating(&judged.rows) <= floating(&self.now.rows);
        (held && self.pulls_win(&judged.analysis)).then(|| JudgedChange {
            changes: changes.to_vec(),
            judged,
            limits,
        })
    }

    fn quick(&self, changes: &[Change]) -> Option<FaultAnalysis> {
        let hookup = self.hookup(changes)?;
        if self.span_kept(&Curve::of(&hookup)) < LEAST_SPAN {
            return None; // before anything that takes longer
        }
        let limits = self.moved(&hookup)?;
        let zero = self.now.analysis.zero();
        let quick = FaultAnalysis::quick(&hookup, zero, limits[0], limits[1])?;
        self.pulls_win(&quick).then_some(quick)
    }

    /// Whether the pulls still hold an open wire outside the valid range against the pin's leakage: a new one must, and one that stays must
    /// where it does so now.
    fn pulls_win(&self, analysis: &FaultAnalysis) -> bool {
        let [now, then] = [&self.now.analysis, analysis].map(pulls);
        now.into_iter().zip(then).all(|(now, then)| {
            let stays = now.map(|(ohm, _)| ohm) == then.map(|(ohm, _)| ohm);
            then.is_none_or(|(_, wins)| wins) || (stays && now.is_some_and(|(_, wins)| !wins))
        })
    }

    fn moved(&self, hookup: &Hookup) -> Option<[EndLimits; 2]> {
        moved_limits(self.now.analysis.hookup(), hookup, self.limits)
    }

    fn hookup(&self, changes: &[Change]) -> Option<Hookup> {
        let mut wiring = *self.now.analysis.hookup().wiring();
        for change in changes {
            apply(&mut wiring, *change);
        }
        self.now.analysis.hookup().with(wiring).ok()
    }
}

/// Pull-down and pull-up, where there are any: ohms, and whether it holds an open wire outside the valid range against the pin's leakage.
fn pulls(analysis: &FaultAnalysis) -> [Option<(f64, bool)>; 2] {
    let wiring = analysis.hookup().wiring();
    let volts = analysis.hookup().scale().vref_mv() / 1000.0;
    let room = [
        analysis.valid().low - ADVISED_GAP,
        1.0 - ADVISED_GAP - analysis.valid().high,
    ];
    let ohms = [wiring.pull_down_ohm, wiring.network.pull_up_ohm()];
    let pulled =
        |(ohm, room): (Option<f64>, f64)| ohm.map(|ohm| (ohm, ohm * PIN_LEAKAGE_A / volts < room));
    [pulled((ohms[0], room[0])), pulled((ohms[1], room[1]))]
}

/// Faults that leave the pin to itself: no change may bring more of them.
fn floating(rows: &[FaultRow]) -> usize {
    rows.iter().filter(|row| row.class == Class::Floats).count()
}

/// How far a missed fault that is small errs, below and above.
fn small(row: &FaultRow) -> Option<[f64; 2]> {
    match (row.class, row.error_pct) {
        (Class::Hidden | Class::CaughtInPart, Some([low, high])) => {
            (low >= -SMALL_PCT && high <= SMALL_PCT).then_some([low, high])
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::super::faults::ZeroEnd;
    use super::super::parts::Wire;
    use super::*;

    fn judged(text: &str) -> TrackFaults {
        let hookup = Hookup::new(serde_json::from_str(text).unwrap(), 5000.0, 10).unwrap();
        let none = EndLimits::default();
        TrackFaults::of(&hookup, ZeroEnd::Rest, none, none).unwrap()
    }

    fn advise(text: &str, fault: Fault) -> Advice {
        let judged = judged(text);
        let none = EndLimits::default();
        let row = judged.analysis.judge(fault);
        Search::around(&judged, none, none).advise(&row)
    }

    #[test]
    fn an_end_resistor_exposes_a_rheostats_short_to_ground() {
        let text = r#"{"supply_is_reference":true,"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700,"tolerance_pct":5,"track_tolerance_pct":20}"#;
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
        let mut wiring = *judged(text).analysis.hookup().wiring();
        apply(&mut wiring, changes[0]);
        let again = judged(&serde_json::to_string(&wiring).unwrap());
        assert_eq!(again.analysis.judge(short).class, Class::Caught);
        assert!((again.analysis.valid().low - 104.5 / 5039.5).abs() < 1e-9);
    }

    #[test]
    fn a_pull_down_exposes_an_open_signal_wire_where_there_is_room() {
        let text = r#"{"supply_is_reference":true,"network":"buffered","output_ohm":100,"low_ratio":0.16,"high_ratio":0.84}"#;
        let advice = advise(text, Fault::Open(Wire::Signal));
        // 1 uA x R must stay under (0.16 - 0.02) x 5 V = 0.7 V: 680 k is the largest E12 value below 700 k. By hand.
        assert_eq!(
            advice,
            Advice::Expose(vec![Change::PullDown(680e3)]),
            "{advice}"
        );
    }

    /// The change that is promised is judged again by itself, new resistors and all.
    #[test]
    fn what_is_promised_is_what_the_changed_wiring_counts() {
        for text in [
            r#"{"supply_is_reference":true,"network":"three-wire","track_ohm":20000}"#,
            r#"{"supply_is_reference":true,"network":"three-wire","track_ohm":10000,"end_low_ohm":470,"end_high_ohm":470,"pull_down_ohm":100000,
                "tolerance_pct":5,"track_tolerance_pct":20}"#,
            r#"{"supply_is_reference":true,"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700,"tolerance_pct":5}"#,
        ] {
            let now = judged(text);
            let none = EndLimits::default();
            let search = Search::around(&now, none, none);
            let change = search.recommend().unwrap();
            let again = judged(&serde_json::to_string(&change.wiring).unwrap()).tally;
            let promised = Tally {
                drive: change.drive_after,
                unsafe_ones: change.unsafe_after,
                missed: change.missed_after,
            };
            assert_eq!(promised, again, "{text}: {change:?}");
            assert!(promised < now.tally, "{text}: {change:?}");
        }
    }
}
