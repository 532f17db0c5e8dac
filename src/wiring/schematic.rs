//! From a wiring, a position and a fault to a circuit.
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
use super::network::{Network, ResistiveTrack, Sensor, Wiring};
use super::parts::{Fault, Resistor, Wire};

/// Resistance of wires, shorts and supply, in ohms; 0 is ideal.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Parasitics {
    pub supply: f64,
    /// Of each wire of the cable, and of a track's vanished part at its ends.
    pub wire: f64,
    pub short: f64,
}

/// A circuit with the pin that the ADC reads.
#[derive(Debug, Clone)]
pub struct Schematic {
    pub circuit: Circuit,
    /// The ADC's pin.
    pub pin: Node,
}

impl Wiring {
    /// The circuit at `travel` (0 rest, 1 full) on a supply of `supply` volts, with one fault or none.
    pub fn schematic(&self, supply: f64, travel: f64, fault: Option<Fault>) -> Schematic {
        self.schematic_at(supply, self.position(travel), fault, Parasitics::default())
    }

    /// The circuit at a `position` on the track (0 ground end, 1 far end), with real wires if wanted.
    pub fn schematic_at(
        &self,
        supply: f64,
        position: f64,
        fault: Option<Fault>,
        parasitics: Parasitics,
    ) -> Schematic {
        let mut builder = Builder::on(Circuit::new(), "", supply, fault, parasitics);
        let pin = builder.draw(self, position);
        Schematic {
            circuit: builder.circuit,
            pin,
        }
    }
}

/// Two tracks on one supply whose signal wires touch, with the pins of both.
pub fn signals_shorted(tracks: [&Wiring; 2], supply: f64, travel: f64) -> (Circuit, [Node; 2]) {
    let ideal = Parasitics::default();
    let mut one = Builder::on(Circuit::new(), "", supply, None, ideal);
    let first = one.draw(tracks[0], tracks[0].position(travel));
    let mut two = Builder::on(one.circuit, "second_", supply, None, ideal);
    let second = two.draw(tracks[1], tracks[1].position(travel));
    two.circuit.wire(one.wiper, two.wiper);
    (two.circuit, [first, second])
}

/// Draws one track into a circuit.
struct Builder {
    circuit: Circuit,
    /// In front of every node's name, so that two tracks go into one circuit.
    prefix: &'static str,
    fault: Option<Fault>,
    parasitics: Parasitics,
    rail: Node,
    /// The board's end of the signal wire.
    line: Node,
    /// The control's ends of the wires.
    upper: Node,
    wiper: Node,
    lower: Node,
}

impl Builder {
    fn on(
        mut circuit: Circuit,
        prefix: &'static str,
        supply: f64,
        fault: Option<Fault>,
        parasitics: Parasitics,
    ) -> Self {
        let mut node = |name| circuit.node_of(prefix, name);
        let (source, rail, line) = (node("source"), node("rail"), node("line"));
        let (upper, wiper, lower) = (node("upper"), node("wiper"), node("lower"));
        circuit.rail(source, supply);
        circuit.resistor(source, rail, parasitics.supply);
        Self {
            circuit,
            prefix,
            fault,
            parasitics,
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
        match &wiring.network {
            Network::ThreeWire { track, .. } => {
                let bottom = self.end(wiring, Resistor::EndLow, self.lower);
                let top = self.end(wiring, Resistor::EndHigh, self.upper);
                self.track(track, position, bottom, Some(top));
            }
            Network::Buffered { sensor, .. } => self.sensor(sensor, position),
            Network::Rheostat { track, .. } => {
                let bottom = self.end(wiring, Resistor::EndLow, self.lower);
                self.track(track, position, bottom, None);
            }
        }
        self.shorts();
        pin
    }

    fn node(&mut self, name: &'static str) -> Node {
        self.circuit.node_of(self.prefix, name)
    }

    fn part(&mut self, wiring: &Wiring, part: Resistor, a: Node, b: Node) {
        let Some(ohm) = wiring.ohm(part) else { return };
        let ohm = if self.fault == Some(Fault::PartOpen(part)) {
            f64::INFINITY
        } else if self.fault == Some(Fault::PartShort(part)) {
            self.parasitics.short
        } else {
            ohm
        };
        self.circuit.resistor(a, b, ohm);
    }

    /// Pulls, divider, series resistor and load; gives the pin.
    fn board(&mut self, wiring: &Wiring) -> Node {
        let (rail, line) = (self.rail, self.line);
        self.part(wiring, Resistor::PullUp, line, rail);
        self.part(wiring, Resistor::PullDown, line, Node::GROUND);
        let mut here = line;
        if wiring.divider.is_some() {
            here = self.node("tap");
            self.part(wiring, Resistor::DividerTop, line, here);
            self.part(wiring, Resistor::DividerBottom, here, Node::GROUND);
        }
        let pin = self.node("pin");
        if wiring.series_ohm.is_some() {
            self.part(wiring, Resistor::Series, here, pin);
        } else {
            self.circuit.wire(here, pin);
        }
        if let Some(load) = wiring.load_ohm {
            self.circuit.resistor(pin, Node::GROUND, load);
        }
        pin
    }

    /// The control's end of a wire.
    fn control_end(&self, wire: Wire) -> Node {
        match wire {
            Wire::Supply => self.upper,
            Wire::Signal => self.wiper,
            Wire::Ground => self.lower,
        }
    }

    /// The three wires, less the broken one.
    fn cable(&mut self) {
        for (wire, board) in [
            (Wire::Supply, self.rail),
            (Wire::Signal, self.line),
            (Wire::Ground, Node::GROUND),
        ] {
            let leaking = wire == Wire::Ground && self.fault == Some(Fault::GroundOpenLeaking);
            if self.fault != Some(Fault::Open(wire)) && !leaking {
                let control = self.control_end(wire);
                self.circuit.resistor(control, board, self.parasitics.wire);
            }
        }
    }

    fn shorts(&mut self) {
        if let Some(Fault::Short(a, b)) = self.fault {
            let (a, b) = (self.control_end(a), self.control_end(b));
            self.circuit.resistor(a, b, self.parasitics.short);
        }
    }

    /// Both halves of a track with the wiper at `position`; a crack takes out the half it lies in.
    fn track(&mut self, track: &ResistiveTrack, position: f64, bottom: Node, top: Option<Node>) {
        let least = self.parasitics.wire;
        let crack = match self.fault {
            Some(Fault::TrackOpen(at)) => Some(at),
            _ => None,
        };
        let wiper = self.wiper;
        if crack.is_none_or(|at| at >= position) {
            self.circuit
                .resistor(bottom, wiper, (track.ohm * position).max(least));
        }
        if let Some(top) = top
            && crack.is_none_or(|at| at < position)
        {
            self.circuit
                .resistor(wiper, top, (track.ohm * (1.0 - position)).max(least));
        }
    }

    /// A fixed resistor at one end of the track, where there is one; gives the track's own end.
    fn end(&mut self, wiring: &Wiring, part: Resistor, terminal: Node) -> Node {
        if wiring.ohm(part).is_none() {
            return terminal;
        }
        let inner = self.node(if part == Resistor::EndLow {
            "bottom"
        } else {
            "top"
        });
        self.part(wiring, part, inner, terminal);
        inner
    }

    /// A sensor follows its own supply behind its output resistance. With its supply or ground open it does not drive,
    /// or, leaking, drives with its ground where its own supply current puts it.
    fn sensor(&mut self, sensor: &Sensor, position: f64) {
        if let Some(ohm) = sensor.draw_ohm {
            self.circuit.resistor(self.upper, self.lower, ohm);
        }
        let dead = matches!(self.fault, Some(Fault::Open(Wire::Supply | Wire::Ground)));
        if dead {
            return;
        }
        let (low, high) = sensor.drive_ends();
        let core = self.node("core");
        self.circuit.follower(
            core,
            self.lower,
            self.upper,
            self.lower,
            low + (high - low) * position,
        );
        self.circuit.resistor(core, self.wiper, sensor.output_ohm);
    }
}

impl Schematic {
    /// Volts at the pin; `None` when the pin floats.
    pub fn pin_volts(&self) -> Result<Option<f64>, CircuitError> {
        Ok(self.circuit.solve()?.volts(self.pin))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wired(text: &str) -> Wiring {
        serde_json::from_str(text).unwrap()
    }

    fn lever() -> Wiring {
        wired(r#"{"network":"three-wire","track_ohm":20000}"#)
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
        let wiring = wired(
            r#"{"network":"three-wire","track_ohm":20000,"end_low_ohm":1000,"end_high_ohm":1000}"#,
        );
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
        let dial = wired(r#"{"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700}"#);
        // Below the crack nothing changes: 5 x 2.5/7.2 V; above it the loop is open.
        assert!((pin(&dial, 0.25, crack).unwrap() - 5.0 * 2.5 / 7.2).abs() < 1e-12);
        assert!((pin(&dial, 0.75, crack).unwrap() - 5.0).abs() < 1e-12);
    }

    #[test]
    fn a_divider_halves() {
        let wiring = wired(
            r#"{"network":"buffered","output_ohm":100,"divider_top_ohm":9900,"divider_bottom_ohm":10000,
                "low_ratio":0,"high_ratio":1}"#,
        );
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
