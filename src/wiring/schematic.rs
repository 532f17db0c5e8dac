//! From a wiring, a position and a fault to a circuit.
//!
//! Belongs here: where each resistor, wire, short and break sits. Does not belong here: what the reading then means.
//!
//! ```text
//!  control                                   board
//!  top -[end_high]- upper                    rail (supply)
//!  ==== supply wire ====================== rail
//!  wiper ==== signal wire ============ line -[pull_up]- rail
//!                                      line -[pull_down]- ground
//!                                      line -[divider_top]- tap -[divider_bottom]- ground
//!                                      tap -[series]- pin -[load]- ground
//!  bottom -[end_low]- lower ==== ground wire ==== ground
//! ```
//!
//! Shorts between wires sit at the control's end of the cable, outside its fixed end resistors: that is what makes end
//! resistors show them.

use super::circuit::{Circuit, CircuitError, Node};
use super::{NetworkKind, Wiring};
use serde::{Serialize, Serializer};
use std::fmt;

/// A wire of the cable.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Wire {
    /// From the control to the supply.
    Supply,
    /// From the wiper or sensor output to the board.
    Signal,
    /// From the control to ground.
    Ground,
}

/// A resistor beside the track or sensor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Resistor {
    /// Signal to supply.
    PullUp,
    /// Signal to ground.
    PullDown,
    /// Input divider, towards the signal wire.
    DividerTop,
    /// Input divider, to ground.
    DividerBottom,
    /// Before the pin.
    Series,
    /// In the control, at the track's ground end.
    EndLow,
    /// In the control, at the track's supply end.
    EndHigh,
}

/// One thing broken. Exactly one at a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    /// A wire broken anywhere.
    Open(Wire),
    /// Two wires touching.
    Short(Wire, Wire),
    /// A resistor broken off.
    PartOpen(Resistor),
    /// A resistor bridged.
    PartShort(Resistor),
    /// The track cracked at a place, 0 to 1 from the ground end.
    TrackOpen(f64),
    /// A sensor's ground broken, and the sensor leaks its supply to the signal.
    GroundOpenLeaking,
}

impl fmt::Display for Wire {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Supply => "supply",
            Self::Signal => "signal",
            Self::Ground => "ground",
        })
    }
}

impl fmt::Display for Resistor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::PullUp => "pull-up",
            Self::PullDown => "pull-down",
            Self::DividerTop => "divider top",
            Self::DividerBottom => "divider bottom",
            Self::Series => "series resistor",
            Self::EndLow => "low end resistor",
            Self::EndHigh => "high end resistor",
        })
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Open(wire) => write!(f, "{wire} wire open"),
            Self::Short(a, b) => write!(f, "{a}-{b} short"),
            Self::PartOpen(part) => write!(f, "{part} open"),
            Self::PartShort(part) => write!(f, "{part} shorted"),
            Self::TrackOpen(at) => write!(f, "track open at {:.0} %", at * 100.0),
            Self::GroundOpenLeaking => f.write_str("ground wire open, leaking"),
        }
    }
}

impl Serialize for Fault {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// How far from ideal wires, shorts and supply are. Ohms; 0 is ideal.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Imperfection {
    /// Of the supply.
    pub supply_ohm: f64,
    /// Of each wire of the cable, and of a track's vanished part at its ends.
    pub wire_ohm: f64,
    /// Of a short.
    pub short_ohm: f64,
}

/// A circuit with the pin that the ADC reads.
#[derive(Debug, Clone)]
pub struct Schematic {
    /// The parts.
    pub circuit: Circuit,
    /// The ADC's pin.
    pub pin: Node,
}

impl Wiring {
    /// The circuit at `travel` (0 rest, 1 full) on a supply of `supply` volts, with one fault or none.
    #[must_use]
    pub fn schematic(&self, supply: f64, travel: f64, fault: Option<Fault>) -> Schematic {
        let (from, to) = (self.rest_position(), self.full_position());
        self.schematic_at(
            supply,
            from + (to - from) * travel,
            fault,
            Imperfection::default(),
        )
    }

    /// The circuit at a `position` on the track (0 ground end, 1 far end), with imperfect wires if wanted.
    #[must_use]
    pub fn schematic_at(
        &self,
        supply: f64,
        position: f64,
        fault: Option<Fault>,
        imperfection: Imperfection,
    ) -> Schematic {
        let mut draft = Draft::on(Circuit::new(), "", supply, fault, imperfection);
        let pin = draft.draw(self, position);
        Schematic {
            circuit: draft.circuit,
            pin,
        }
    }
}

/// Two tracks on one supply whose signal wires touch, with the pins of both.
#[must_use]
pub fn signals_shorted(tracks: [&Wiring; 2], supply: f64, travel: f64) -> (Circuit, [Node; 2]) {
    let position =
        |w: &Wiring| w.rest_position() + (w.full_position() - w.rest_position()) * travel;
    let ideal = Imperfection::default();
    let mut one = Draft::on(Circuit::new(), "", supply, None, ideal);
    let first = one.draw(tracks[0], position(tracks[0]));
    let mut two = Draft::on(one.circuit, "second_", supply, None, ideal);
    let second = two.draw(tracks[1], position(tracks[1]));
    two.circuit.wire(one.wiper, two.wiper);
    (two.circuit, [first, second])
}

/// A circuit being drawn.
struct Draft {
    circuit: Circuit,
    /// In front of every node's name, so that two tracks go into one circuit.
    prefix: &'static str,
    fault: Option<Fault>,
    imperfection: Imperfection,
    rail: Node,
    /// The board's end of the signal wire.
    line: Node,
    /// The control's ends of the wires.
    upper: Node,
    wiper: Node,
    lower: Node,
}

impl Draft {
    fn on(
        mut circuit: Circuit,
        prefix: &'static str,
        supply: f64,
        fault: Option<Fault>,
        imperfection: Imperfection,
    ) -> Self {
        let mut node = |name: &str| circuit.node(&format!("{prefix}{name}"));
        let (source, rail, line) = (node("source"), node("rail"), node("line"));
        let (upper, wiper, lower) = (node("upper"), node("wiper"), node("lower"));
        circuit.rail(source, supply);
        circuit.resistor(source, rail, imperfection.supply_ohm);
        Self {
            circuit,
            prefix,
            fault,
            imperfection,
            rail,
            line,
            upper,
            wiper,
            lower,
        }
    }

    /// The whole of one track; gives the pin.
    fn draw(&mut self, wiring: &Wiring, position: f64) -> Node {
        let pin = self.board(wiring);
        self.cable();
        match wiring.network {
            NetworkKind::ThreeWire => self.three_wire(wiring, position),
            NetworkKind::Buffered => self.sensor(wiring, position),
            NetworkKind::Rheostat => self.rheostat(wiring, position),
        }
        self.shorts();
        pin
    }

    fn node(&mut self, name: &str) -> Node {
        self.circuit.node(&format!("{}{name}", self.prefix))
    }

    /// A resistor, unless it is what broke.
    fn part(&mut self, part: Resistor, a: Node, b: Node, ohm: Option<f64>) {
        let Some(ohm) = ohm else { return };
        let ohm = if self.fault == Some(Fault::PartOpen(part)) {
            f64::INFINITY
        } else if self.fault == Some(Fault::PartShort(part)) {
            self.imperfection.short_ohm
        } else {
            ohm
        };
        self.circuit.resistor(a, b, ohm);
    }

    /// Pulls, divider, series resistor and load; gives the pin.
    fn board(&mut self, wiring: &Wiring) -> Node {
        let (rail, line) = (self.rail, self.line);
        self.part(Resistor::PullUp, line, rail, wiring.pull_up_ohm);
        self.part(Resistor::PullDown, line, Node::GROUND, wiring.pull_down_ohm);
        let mut here = line;
        if wiring.divider_top_ohm.is_some() {
            let tap = self.node("tap");
            self.part(Resistor::DividerTop, line, tap, wiring.divider_top_ohm);
            self.part(
                Resistor::DividerBottom,
                tap,
                Node::GROUND,
                wiring.divider_bottom_ohm,
            );
            here = tap;
        }
        let pin = self.node("pin");
        if wiring.series_ohm.is_some() {
            self.part(Resistor::Series, here, pin, wiring.series_ohm);
        } else {
            self.circuit.wire(here, pin);
        }
        if let Some(load) = wiring.load_ohm {
            self.circuit.resistor(pin, Node::GROUND, load);
        }
        pin
    }

    /// The three wires, less the broken one.
    fn cable(&mut self) {
        for (wire, control, board) in [
            (Wire::Supply, self.upper, self.rail),
            (Wire::Signal, self.wiper, self.line),
            (Wire::Ground, self.lower, Node::GROUND),
        ] {
            let leaking = wire == Wire::Ground && self.fault == Some(Fault::GroundOpenLeaking);
            if self.fault != Some(Fault::Open(wire)) && !leaking {
                self.circuit
                    .resistor(control, board, self.imperfection.wire_ohm);
            }
        }
    }

    fn shorts(&mut self) {
        if let Some(Fault::Short(a, b)) = self.fault {
            let end = |wire| match wire {
                Wire::Supply => self.upper,
                Wire::Signal => self.wiper,
                Wire::Ground => self.lower,
            };
            let (a, b) = (end(a), end(b));
            self.circuit.resistor(a, b, self.imperfection.short_ohm);
        }
    }

    /// Both halves of a track with the wiper at `position`; a crack takes out the half it lies in.
    fn track(&mut self, ohm: f64, position: f64, bottom: Node, top: Option<Node>) {
        let least = self.imperfection.wire_ohm;
        let crack = match self.fault {
            Some(Fault::TrackOpen(at)) => Some(at),
            _ => None,
        };
        let wiper = self.wiper;
        if crack.is_none_or(|at| at >= position) {
            self.circuit
                .resistor(bottom, wiper, (ohm * position).max(least));
        }
        if let Some(top) = top
            && crack.is_none_or(|at| at < position)
        {
            self.circuit
                .resistor(wiper, top, (ohm * (1.0 - position)).max(least));
        }
    }

    /// A fixed resistor at one end of the track; gives the track's own end.
    fn end(&mut self, part: Resistor, terminal: Node, ohm: Option<f64>) -> Node {
        if ohm.is_none() {
            return terminal;
        }
        let inner = self.node(if part == Resistor::EndLow {
            "bottom"
        } else {
            "top"
        });
        self.part(part, inner, terminal, ohm);
        inner
    }

    fn three_wire(&mut self, wiring: &Wiring, position: f64) {
        let bottom = self.end(Resistor::EndLow, self.lower, wiring.end_low_ohm);
        let top = self.end(Resistor::EndHigh, self.upper, wiring.end_high_ohm);
        let ohm = wiring.track_ohm.unwrap_or(f64::NAN);
        self.track(ohm, position, bottom, Some(top));
    }

    fn rheostat(&mut self, wiring: &Wiring, position: f64) {
        let bottom = self.end(Resistor::EndLow, self.lower, wiring.end_low_ohm);
        let ohm = wiring.track_ohm.unwrap_or(f64::NAN);
        self.track(ohm, position, bottom, None);
    }

    /// A sensor follows its own supply behind its output resistance. With its supply or ground open it does not drive,
    /// or, leaking, drives with its ground where its own supply current puts it.
    fn sensor(&mut self, wiring: &Wiring, position: f64) {
        if let Some(ohm) = wiring.sensor_ohm {
            self.circuit.resistor(self.upper, self.lower, ohm);
        }
        let dead = matches!(self.fault, Some(Fault::Open(Wire::Supply | Wire::Ground)));
        if dead {
            return;
        }
        let (low, high) = wiring.drive_ends();
        let core = self.node("core");
        self.circuit.follower(
            core,
            self.lower,
            self.upper,
            self.lower,
            low + (high - low) * position,
        );
        let ohm = wiring.output_ohm.unwrap_or(f64::NAN);
        self.circuit.resistor(core, self.wiper, ohm);
    }
}

impl Schematic {
    /// Volts at the pin; `None` when the pin floats.
    ///
    /// # Errors
    /// As [`Circuit::solve`].
    pub fn pin_volts(&self) -> Result<Option<f64>, CircuitError> {
        Ok(self.circuit.solve()?.volts(self.pin))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lever() -> Wiring {
        Wiring {
            track_ohm: Some(20_000.0),
            ..Wiring::of(NetworkKind::ThreeWire)
        }
    }

    fn pin(wiring: &Wiring, travel: f64, fault: Option<Fault>) -> Option<f64> {
        wiring.schematic(5.0, travel, fault).pin_volts().unwrap()
    }

    #[test]
    fn an_open_signal_wire_without_a_pull_floats() {
        assert_eq!(pin(&lever(), 0.5, Some(Fault::Open(Wire::Signal))), None);
    }

    #[test]
    fn end_resistors_leave_room_that_a_short_leaves_empty() {
        // 1 k + 20 k + 1 k: at rest 5 x 1/22 V; a short to ground reads 0. By hand.
        let wiring = Wiring {
            end_low_ohm: Some(1000.0),
            end_high_ohm: Some(1000.0),
            ..lever()
        };
        let rest = pin(&wiring, 0.0, None).unwrap();
        assert!((rest - 5.0 / 22.0).abs() < 1e-12);
        let short = pin(&wiring, 0.0, Some(Fault::Short(Wire::Signal, Wire::Ground))).unwrap();
        assert!(short.abs() < 1e-12);
    }

    #[test]
    fn a_crack_ties_the_wiper_to_the_side_it_still_has() {
        let crack = Some(Fault::TrackOpen(0.5));
        assert!(pin(&lever(), 0.25, crack).unwrap().abs() < 1e-12);
        assert!((pin(&lever(), 0.75, crack).unwrap() - 5.0).abs() < 1e-12);
        let dial = Wiring {
            track_ohm: Some(10_000.0),
            pull_up_ohm: Some(4700.0),
            ..Wiring::of(NetworkKind::Rheostat)
        };
        // Below the crack nothing changes: 5 x 2.5/7.2 V; above it the loop is open.
        assert!((pin(&dial, 0.25, crack).unwrap() - 5.0 * 2.5 / 7.2).abs() < 1e-12);
        assert!((pin(&dial, 0.75, crack).unwrap() - 5.0).abs() < 1e-12);
    }

    #[test]
    fn a_divider_halves() {
        let wiring = Wiring {
            output_ohm: Some(100.0),
            divider_top_ohm: Some(9_900.0),
            divider_bottom_ohm: Some(10_000.0),
            low_ratio: Some(0.0),
            high_ratio: Some(1.0),
            ..Wiring::of(NetworkKind::Buffered)
        };
        assert!((pin(&wiring, 1.0, None).unwrap() - 2.5).abs() < 1e-12);
    }

    #[test]
    fn a_falling_signal_starts_high() {
        let wiring = Wiring {
            rest_at: Some(0.9),
            full_at: Some(0.1),
            ..lever()
        };
        assert!((pin(&wiring, 0.0, None).unwrap() - 4.5).abs() < 1e-12);
        assert!((pin(&wiring, 1.0, None).unwrap() - 0.5).abs() < 1e-12);
    }
}
