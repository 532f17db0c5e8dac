//! A good control with its tolerances, and every fault judged against it.

use super::curve::Curve;
use super::faults::{
    Class, Direction, FaultPoint, FaultRow, ZeroEnd, list, percent, runs, travels,
};
use super::hookup::{Hookup, Pin};
use super::parts::Fault;
use super::valid::{EndLimits, GAP, Thresholds, ValidRange};
use std::cell::OnceCell;

/// A reading within this share of span of the true one does no harm.
const HARMLESS: f64 = 0.01;

/// A good control with its own curve, drawn when first asked for.
#[derive(Debug, Clone)]
struct Unit {
    hookup: Hookup,
    curve: OnceCell<Curve>,
}

impl Unit {
    fn of(hookup: &Hookup) -> Self {
        Self {
            hookup: *hookup,
            curve: OnceCell::new(),
        }
    }

    fn curve(&self) -> &Curve {
        self.curve.get_or_init(|| self.hookup.curve())
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
}

impl FaultAnalysis {
    /// Over all tolerances, with the profile's limits on both ends of travel; thresholds stand [`GAP`] outside
    /// the valid range. `None` when a good control has no reading.
    pub fn new(hookup: &Hookup, zero: ZeroEnd, rest: EndLimits, full: EndLimits) -> Option<Self> {
        Self::over(hookup, &hookup.corners(), zero, [rest, full])
    }

    /// Of the nominal unit alone, for a quick look.
    pub fn nominal(
        hookup: &Hookup,
        zero: ZeroEnd,
        rest: EndLimits,
        full: EndLimits,
    ) -> Option<Self> {
        Self::over(hookup, &[], zero, [rest, full])
    }

    fn over(
        hookup: &Hookup,
        corners: &[Hookup],
        zero: ZeroEnd,
        [rest, full]: [EndLimits; 2],
    ) -> Option<Self> {
        let valid = ValidRange::of(hookup, corners, rest, full)?;
        let units = std::iter::once(hookup).chain(corners).map(Unit::of);
        Some(Self {
            units: units.collect(),
            valid,
            thresholds: valid.at_distance(GAP),
            zero,
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
        self.units[0].curve()
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
}

/// What a fault does at one travel.
#[derive(Debug, Clone, Copy, PartialEq)]
enum State {
    /// Indistinguishable from the truth.
    True,
    /// Outside the valid range at every corner.
    Caught,
    /// Inside at some corner: taken for commands between these two, 0 to 1.
    Inside(f64, f64),
    /// Nothing holds the pin, at some corner.
    Floats,
    Down,
}

impl FaultAnalysis {
    pub fn judge(&self, fault: Fault) -> FaultRow {
        let pins: Vec<(f64, Vec<Pin>)> = travels()
            .map(|t| {
                let pins = self
                    .units
                    .iter()
                    .map(|unit| unit.hookup.pin(t, Some(fault)));
                (t, pins.collect())
            })
            .collect();
        let states: Vec<(f64, State)> = pins
            .iter()
            .map(|(t, pins)| (*t, self.state(*t, pins)))
            .collect();
        let inside = states.iter().filter_map(|(t, state)| match state {
            State::Inside(low, high) => Some((*t, *low, *high)),
            _ => None,
        });
        let reads_as = inside
            .clone()
            .map(|(_, low, high)| [low * 100.0, high * 100.0])
            .reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])]);
        let error = inside
            .map(|(t, low, high)| [low, high].map(|c| (c - self.zero.command(t)) * 100.0))
            .reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])]);
        let points: Vec<FaultPoint> = pins.iter().map(|(t, pins)| self.point(*t, pins)).collect();
        FaultRow {
            fault,
            class: class(&states),
            direction: self.direction(&states, &points),
            caught_at_pct: ranges(&states, |state| *state == State::Caught),
            reads_as_pct: reads_as,
            error_pct: error,
            ratio_range: pins
                .iter()
                .flat_map(|(_, pins)| pins.iter().filter_map(|pin| pin.ratio()))
                .map(|ratio| [ratio, ratio])
                .reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])]),
            points,
            pair_shows_at_pct: None,
        }
    }

    /// Whether the fault is missed at some travel: as [`FaultRow::missed`], but looking no further than it must.
    pub fn misses(&self, fault: Fault) -> bool {
        travels().any(|t| {
            let pins: Vec<Pin> = self
                .units
                .iter()
                .map(|unit| unit.hookup.pin(t, Some(fault)))
                .collect();
            matches!(self.state(t, &pins), State::Inside(..) | State::Floats)
        })
    }

    pub fn judge_all(&self) -> Vec<FaultRow> {
        list(self.hookup().wiring())
            .into_iter()
            .map(|fault| self.judge(fault))
            .collect()
    }

    /// The command that the board of the nominal unit takes a reading for, 0 to 1.
    pub fn command_of(&self, ratio: f64) -> f64 {
        self.zero.command(self.curve().travel_of(ratio))
    }

    /// One travel, over all units.
    fn state(&self, travel: f64, pins: &[Pin]) -> State {
        let mut all_true = true;
        let mut commands: Option<(f64, f64)> = None;
        for (unit, pin) in self.units.iter().zip(pins) {
            let ratio = match *pin {
                Pin::Floats => return State::Floats,
                Pin::Collapsed => return State::Down,
                Pin::Ratio(ratio) => ratio,
            };
            if self.thresholds.catch(ratio) {
                all_true = false;
            } else {
                let good = unit.curve().at(travel);
                let near = HARMLESS * unit.curve().span().abs();
                all_true &= good.is_some_and(|good| (ratio - good).abs() <= near);
                let command = self.zero.command(unit.curve().travel_of(ratio));
                commands = Some(commands.map_or((command, command), |(low, high)| {
                    (low.min(command), high.max(command))
                }));
            }
        }
        match commands {
            _ if all_true => State::True,
            Some((low, high)) => State::Inside(low, high),
            None => State::Caught,
        }
    }

    fn point(&self, travel: f64, pins: &[Pin]) -> FaultPoint {
        let ratio = pins.first().and_then(|pin| pin.ratio());
        FaultPoint {
            travel_pct: percent(travel),
            ratio,
            code: ratio.map(|ratio| self.hookup().code(ratio)),
            command_pct: ratio.map(|ratio| self.command_of(ratio) * 100.0),
        }
    }

    /// From the reading taken as a command, caught or not: before it is confirmed a caught fault acts too.
    fn direction(&self, states: &[(f64, State)], points: &[FaultPoint]) -> Option<Direction> {
        if states.iter().any(|(_, state)| *state == State::Floats) {
            return Some(Direction::Unsafe);
        }
        let mut seen = false;
        for ((travel, state), point) in states.iter().zip(points) {
            let asked = self.zero.command(*travel);
            let nominal = point.command_pct.map(|pct| pct / 100.0);
            let most = match state {
                State::True | State::Floats | State::Down => continue,
                State::Inside(_, high) => Some(nominal.map_or(*high, |n| n.max(*high))),
                State::Caught => nominal,
            };
            seen = true;
            if most.is_some_and(|most| most > asked + HARMLESS) {
                return Some(Direction::Unsafe);
            }
        }
        seen.then_some(Direction::Safe)
    }
}

/// The class over all travels. Where the supply is down or the reading is true there is nothing to catch.
fn class(states: &[(f64, State)]) -> Class {
    let count = |wanted: fn(&State) -> bool| states.iter().filter(|(_, s)| wanted(s)).count();
    let caught = count(|s| *s == State::Caught);
    let floats = count(|s| *s == State::Floats);
    let inside = count(|s| matches!(s, State::Inside(..)));
    if caught > 0 {
        if inside + floats > 0 {
            Class::CaughtInPart
        } else {
            Class::Caught
        }
    } else if inside > 0 {
        Class::Hidden
    } else if floats > 0 {
        Class::Floats
    } else if count(|s| *s == State::Down) == states.len() {
        Class::SupplyDown
    } else {
        Class::ReadsTrue
    }
}

/// Runs of neighbouring travels in a wanted state, as `[from, to]` in percent.
fn ranges(states: &[(f64, State)], wanted: impl Fn(&State) -> bool) -> Vec<[f64; 2]> {
    runs(states.iter().map(|(t, state)| (*t, wanted(state))))
}

#[cfg(test)]
mod tests {
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
            r#"{"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700,"tolerance_pct":5,"track_tolerance_pct":20}"#,
        );
        let row = dial.judge(TO_GROUND);
        assert_eq!(row.class, Class::Hidden);
        assert_eq!(row.reads_as_pct, Some([0.0, 0.0]));
        assert_eq!(row.direction, Some(Direction::Safe));
        assert_eq!(dial.judge(SIGNAL_OPEN).class, Class::Caught);
    }

    #[test]
    fn a_bare_three_wire_pedal_floats_with_its_signal_wire_open() {
        let row = analysis(r#"{"network":"three-wire","track_ohm":10000}"#).judge(SIGNAL_OPEN);
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
            r#"{"network":"buffered","output_ohm":100,"low_ratio":0.1,"high_ratio":0.9,"pull_down_ohm":100000,
                "tolerance_pct":5}"#,
        );
        for row in pedal.judge_all() {
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
        let file: serde_json::Value =
            serde_json::from_str(include_str!("../../tests/reference/31-ideal-networks.json"))
                .unwrap();
        let key = "faults_reading_inside_the_good_range_at_one_of_these_travels";
        for (name, want) in file["expected"][key].as_object().unwrap() {
            let mut text = file["inputs"]["networks"][name].clone();
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
        // 100/(101 + 20 (1 - x)) against a valid top of 17.355/18.355 = 0.9455 and 1 % of gap: caught from x = 0.817 on.
        let ends = analysis(
            r#"{"network":"three-wire","track_ohm":20000,"end_low_ohm":1000,"end_high_ohm":1000,"pull_down_ohm":100000}"#,
        );
        let row = ends.judge(Fault::TrackOpen(0.5));
        assert_eq!(row.class, Class::CaughtInPart);
        assert_eq!(row.caught_at_pct, vec![[0.0, 50.0], [85.0, 100.0]]);
        // A rheostat stays true up to the crack and opens beyond.
        let dial = analysis(r#"{"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700}"#);
        let row = dial.judge(Fault::TrackOpen(0.5));
        assert_eq!(row.class, Class::Caught);
        assert_eq!(row.caught_at_pct, vec![[55.0, 100.0]]);
    }

    #[test]
    fn a_quick_look_and_a_judgement_agree() {
        let lever = analysis(
            r#"{"network":"three-wire","track_ohm":20000,"end_low_ohm":1500,"end_high_ohm":1500,"pull_down_ohm":100000,
                "tolerance_pct":5}"#,
        );
        for row in lever.judge_all() {
            assert_eq!(lever.misses(row.fault), row.missed(), "{}", row.fault);
        }
    }

    #[test]
    fn a_zero_at_the_full_end_turns_safe_and_unsafe_round() {
        let text = r#"{"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700}"#;
        let dial = bench_with(text, ZeroEnd::Full);
        let row = dial.judge(TO_GROUND);
        assert_eq!(row.direction, Some(Direction::Unsafe));
        assert_eq!(row.reads_as_pct, Some([100.0, 100.0]));
    }
}
