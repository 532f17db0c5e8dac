//! A good control with its tolerances, and every fault judged against it.

pub(super) mod corners;
mod degrees;
pub(super) mod judged;
mod row;

use super::curve::Curve;
use super::faults::{SMALL_PCT, ZeroEnd, list};
use super::hookup::{Hookup, Pin};
use super::parts::Fault;
use super::sweep::FaultSweep;
use super::valid::{EndLimits, GAP, Thresholds, ValidRange};
use corners::{corners, good_corners};
use measure::units::maths;
use std::borrow::Cow;
use std::cell::OnceCell;
use std::rc::Rc;

/// Steps of severity in a glance at a fault that comes by degrees, from mild to severe.
const GLANCED: u32 = 8;
/// A reading within this share of span of the true one, or a command within this of the one asked, does no harm.
pub(super) const HARMLESS: f64 = 0.01;

/// A good control with its own curve.
#[derive(Debug, Clone, Copy)]
struct Unit {
    hookup: Hookup,
    curve: Curve,
    span: f64,
}

impl Unit {
    fn of(hookup: &Hookup) -> Self {
        let curve = Curve::of(hookup);
        Self {
            hookup: *hookup,
            curve,
            span: curve.span().abs(),
        }
    }
}

/// The ground on which faults are judged: the nominal unit, units at the tolerance corners, the valid range, the direction.
///
/// Each unit's readings are taken for commands by its own curve: its end points are measured before it is fitted.
#[derive(Debug, Clone)]
pub struct FaultAnalysis {
    /// The nominal unit first.
    units: Vec<Unit>,
    valid: ValidRange,
    thresholds: Thresholds,
    zero: ZeroEnd,
    swept: Rc<OnceCell<SweptFaults>>,
}

/// Each fault of the list with its readings of every unit. Solving the circuits for them costs more than all that is then asked of them,
/// and thresholds have no part in them: solved once.
type SweptFaults = Vec<(Fault, Vec<FaultSweep>)>;

/// A faulty reading of one unit, at one travel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FaultReading {
    /// Fraction of the reference.
    pub ratio: f64,
    /// Where it lies on the unit's own span, 0 at its rest reading and 1 at its full one; goes on beyond both.
    pub share: f64,
    /// What the unit's own curve takes it for, 0 to 1.
    pub travel: f64,
}

/// What a glance shows of a fault: unnoticed somewhere, with too much command, at the zero end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[allow(clippy::struct_excessive_bools)] // four questions, each with its own answer
pub(super) struct FaultSummary {
    pub missed: bool,
    pub above: bool,
    pub drives: bool,
    pub floats: bool,
}

impl FaultAnalysis {
    /// Over all tolerances, with the profile's limits on both ends of travel; thresholds stand [`GAP`] and half a code
    /// outside the valid range. `None` when a good control has no reading.
    pub fn new(hookup: &Hookup, zero: ZeroEnd, rest: EndLimits, full: EndLimits) -> Option<Self> {
        Self::over(hookup, &corners(hookup), zero, [rest, full])
    }

    /// Of the nominal unit alone, for a quick look; its valid range is that of all.
    pub(super) fn quick(
        hookup: &Hookup,
        zero: ZeroEnd,
        rest: EndLimits,
        full: EndLimits,
    ) -> Option<Self> {
        let valid = ValidRange::of(hookup, &good_corners(hookup), rest, full)?;
        let unit = Unit::of(hookup);
        unit.curve.has_reading().then(|| Self {
            units: vec![unit],
            valid,
            thresholds: valid.at_distance(GAP + hookup.half_code()),
            zero,
            swept: Rc::default(),
        })
    }

    fn over(
        hookup: &Hookup,
        corners: &[Hookup],
        zero: ZeroEnd,
        [rest, full]: [EndLimits; 2],
    ) -> Option<Self> {
        let valid = ValidRange::of(hookup, corners, rest, full)?;
        let units = std::iter::once(hookup).chain(corners).map(Unit::of);
        let units: Vec<Unit> = units.collect();
        if !units.iter().all(|unit| unit.curve.has_reading()) {
            return None;
        }
        Some(Self {
            units,
            valid,
            thresholds: valid.at_distance(GAP + hookup.half_code()),
            zero,
            swept: Rc::default(),
        })
    }

    /// The same with other thresholds.
    #[must_use]
    pub fn with_thresholds(mut self, thresholds: Thresholds) -> Self {
        self.thresholds = thresholds;
        self
    }

    pub fn hookup(&self) -> &Hookup {
        &self.units[0].hookup
    }

    pub fn curve(&self) -> &Curve {
        &self.units[0].curve
    }

    /// What a good control may read.
    pub fn valid(&self) -> ValidRange {
        self.valid
    }

    /// Beyond which readings a fault is taken for caught.
    pub fn thresholds(&self) -> Thresholds {
        self.thresholds
    }

    pub fn zero(&self) -> ZeroEnd {
        self.zero
    }

    /// The nominal unit, and those that read least and most at either end.
    pub(super) fn extreme_units(&self) -> Vec<Hookup> {
        let mut picked = vec![0];
        for travel in [0.0, 1.0] {
            let read = |k: &usize| self.units[*k].curve.at(travel).unwrap_or(f64::NAN);
            let all = 0..self.units.len();
            picked.extend(all.clone().min_by(|a, b| read(a).total_cmp(&read(b))));
            picked.extend(all.max_by(|a, b| read(a).total_cmp(&read(b))));
        }
        picked.sort_unstable();
        picked.dedup();
        picked.into_iter().map(|k| self.units[k].hookup).collect()
    }

    /// Every unit with this fault, however bad.
    fn swept(&self, fault: Fault) -> Cow<'_, [FaultSweep]> {
        let fault = fault.mildest();
        let listed = self.swept.get_or_init(|| {
            let faults = list(self.hookup().wiring()).into_iter();
            faults
                .map(|fault| (fault.mildest(), self.sweep(fault)))
                .collect()
        });
        let found = listed.iter().find(|(other, _)| *other == fault);
        found.map_or_else(
            || Cow::Owned(self.sweep(fault)),
            |(_, swept)| Cow::Borrowed(swept.as_slice()),
        )
    }

    fn sweep(&self, fault: Fault) -> Vec<FaultSweep> {
        let units = self.units.iter();
        units
            .map(|unit| FaultSweep::of(&unit.hookup, Some(fault)))
            .collect()
    }

    fn pin(unit: &Unit, sweep: &FaultSweep, travel: f64, severity: f64) -> Pin {
        sweep.pin(unit.hookup.wiring().position(travel), severity)
    }

    /// A quick look at what every fault does, by the nominal unit at five travels and nine severities.
    pub(super) fn glance(&self) -> Vec<(Fault, FaultSummary)> {
        let faults = list(self.hookup().wiring()).into_iter();
        faults.map(|fault| (fault, self.glance_at(fault))).collect()
    }

    pub(super) fn glance_at(&self, fault: Fault) -> FaultSummary {
        let unit = &self.units[0];
        let swept = self.swept(fault);
        let Some(sweep) = swept.first() else {
            return FaultSummary::default();
        };
        let severities = match fault.severities() {
            None => vec![1.0],
            Some(of) => (0..=GLANCED)
                .map(|k| {
                    let share = f64::from(k) / f64::from(GLANCED);
                    of.mild * maths::pow(of.severe / of.mild, share)
                })
                .collect(),
        };
        let mut seen = FaultSummary::default();
        for severity in severities {
            for travel in [0.0, 0.25, 0.5, 0.75, 1.0] {
                let asked = self.zero.command(travel);
                let command = match Self::pin(unit, sweep, travel, severity) {
                    Pin::Collapsed => continue,
                    Pin::Floats => {
                        seen.floats = true;
                        1.0
                    }
                    Pin::Ratio(ratio) if self.thresholds.catch(ratio) => continue,
                    Pin::Ratio(ratio) => self.zero.command(unit.curve.travel_of(ratio)),
                };
                seen.missed |= (command - asked).abs() > HARMLESS;
                seen.above |= command - asked > HARMLESS;
                seen.drives |= asked <= 0.0 && command * 100.0 > SMALL_PCT;
            }
        }
        seen
    }

    /// The command that the board of the nominal unit takes a reading for, 0 to 1.
    pub fn command_of(&self, ratio: f64) -> f64 {
        self.zero.command(self.curve().travel_of(ratio))
    }
}

#[cfg(test)]
mod tests {
    use super::super::faults::{Class, Direction};
    use super::super::parts::{Resistor, Wire};
    use super::*;

    fn bench_with(text: &str, zero: ZeroEnd) -> FaultAnalysis {
        let hookup = Hookup::new(serde_json::from_str(text).unwrap(), 5000.0, 10).unwrap();
        let none = EndLimits::default();
        FaultAnalysis::new(&hookup, zero, none, none).unwrap()
    }

    fn analysis(text: &str) -> FaultAnalysis {
        bench_with(text, ZeroEnd::Rest)
    }

    const SIGNAL_OPEN: Fault = Fault::Open(Wire::Signal);
    const TO_GROUND: Fault = Fault::Short(Wire::Signal, Wire::Ground);
    const TO_SUPPLY: Fault = Fault::Short(Wire::Supply, Wire::Signal);

    #[test]
    fn a_rheostat_dial_hides_a_short_to_ground_at_its_low_end() {
        let dial = analysis(
            r#"{"supply_is_reference":true,"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700,"tolerance_pct":5,"track_tolerance_pct":20}"#,
        );
        let row = dial.judge(TO_GROUND);
        assert_eq!(row.class, Class::Hidden);
        assert_eq!(row.reads_as_pct, Some([0.0, 0.0]));
        assert_eq!(row.direction, Some(Direction::Safe));
        assert_eq!(dial.judge(SIGNAL_OPEN).class, Class::Caught);
    }

    #[test]
    fn a_bare_three_wire_pedal_floats_with_its_signal_wire_open() {
        let row =
            analysis(r#"{"supply_is_reference":true,"network":"three-wire","track_ohm":10000}"#)
                .judge(SIGNAL_OPEN);
        assert_eq!(row.class, Class::Floats);
        assert_eq!(row.direction, Some(Direction::Unsafe));
        assert!(row.missed());
        assert!(
            row.points
                .iter()
                .all(|p| p.ratio.is_none() && p.code.is_none())
        );
    }

    #[test]
    fn a_hall_pedal_with_room_at_both_ends_catches_every_wire() {
        let pedal = analysis(
            r#"{"supply_is_reference":true,"network":"buffered","output_ohm":100,"low_ratio":0.1,"high_ratio":0.9,"pull_down_ohm":100000,
                "tolerance_pct":5}"#,
        );
        for row in pedal.judge_all() {
            if !row.fault.places_thresholds() {
                continue;
            }
            let want = match row.fault {
                Fault::Short(Wire::Supply, Wire::Ground) => Class::SupplyDown,
                Fault::PartOpen(Resistor::PullDown) => Class::ReadsTrue,
                _ => Class::Caught,
            };
            assert_eq!(row.class, want, "{}", row.fault);
        }
        assert_eq!(pedal.judge(TO_SUPPLY).direction, Some(Direction::Unsafe));
        assert_eq!(pedal.judge(TO_GROUND).direction, Some(Direction::Safe));
    }

    /// File 31 lists for each network the faults that read inside the good range at some travel of its five.
    #[test]
    fn hidden_faults_of_file_31() {
        let file: serde_json::Value = serde_json::from_str(include_str!(
            "../../../tests/reference/31-ideal-networks.json"
        ))
        .unwrap();
        let key = "faults_reading_inside_the_good_range_at_one_of_these_travels";
        for (name, want) in file["expected"][key].as_object().unwrap() {
            let mut text = file["inputs"]["networks"][name].clone();
            text["supply_is_reference"] = true.into();
            text["network"] = match name.split(' ').next().unwrap() {
                "lever" => "three-wire".into(),
                "pedal" => "buffered".into(),
                _ => "rheostat".into(),
            };
            let analysis = analysis(&text.to_string());
            let word = |fault: Fault| match fault {
                Fault::Open(wire) => format!("{wire} open"),
                Fault::Short(Wire::Supply, Wire::Signal) => "supply-signal short".to_owned(),
                Fault::Short(Wire::Signal, Wire::Ground) => "signal-ground short".to_owned(),
                _ => String::new(),
            };
            let wanted: Vec<&str> = want
                .as_array()
                .unwrap()
                .iter()
                .map(|v| v.as_str().unwrap())
                .collect();
            for row in analysis.judge_all() {
                let word = word(row.fault);
                if word.is_empty() {
                    continue;
                }
                let listed = wanted.contains(&word.as_str())
                    || (text["network"] == "rheostat" && word == "signal-ground short");
                // A pin that floats has no reading to lie inside: the file leaves it out, we do not call it caught.
                let missed = row.missed() && row.class != Class::Floats;
                assert_eq!(missed, listed, "{name}: {word} is {}", row.class);
            }
        }
    }

    #[test]
    fn a_cracked_track_is_caught_only_where_the_wiper_loses_its_side() {
        // Ends of 1 k. Below the crack the wiper is tied to ground and reads 0. Above it the pull-down still divides:
        // 100/(101 + 20 (1 - x)) against a valid top of 0.9455, 1 % of gap and half of a code (0.00049): caught from x = 0.8199 on.
        let ends = analysis(
            r#"{"supply_is_reference":true,"network":"three-wire","track_ohm":20000,"end_low_ohm":1000,"end_high_ohm":1000,"pull_down_ohm":100000}"#,
        );
        let row = ends.judge(Fault::TrackOpen(0.5));
        assert_eq!(row.class, Class::CaughtInPart);
        assert_eq!(row.caught_at_pct, vec![[0.0, 50.0], [82.0, 100.0]]);
        // A rheostat stays true up to the crack and opens beyond.
        let dial = analysis(
            r#"{"supply_is_reference":true,"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700}"#,
        );
        let row = dial.judge(Fault::TrackOpen(0.5));
        assert_eq!(row.class, Class::Caught);
        assert_eq!(row.caught_at_pct, vec![[50.01, 100.0]]); // beyond the crack, as near as two digits show
    }

    #[test]
    fn a_zero_at_the_full_end_turns_safe_and_unsafe_round() {
        let text = r#"{"supply_is_reference":true,"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700}"#;
        let dial = bench_with(text, ZeroEnd::Full);
        let row = dial.judge(TO_GROUND);
        assert_eq!(row.direction, Some(Direction::Unsafe));
        assert_eq!(row.reads_as_pct, Some([100.0, 100.0]));
    }
}
