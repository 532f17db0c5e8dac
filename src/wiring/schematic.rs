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
use super::parts::{Fault, Over, Resistor, Wire};

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

/// Two tracks whose ground wires are one wire with a bad joint of `ohm`, with the pins of both. A sensor that does not say what it draws
/// is taken to draw what is assumed.
pub fn shared_ground(
    tracks: [&Wiring; 2],
    supply: f64,
    travel: f64,
    ohm: f64,
) -> (Circuit, [Node; 2]) {
    let mut circuit = Circuit::new();
    let joint = circuit.node_of("", "joint");
    circuit.resistor(joint, Node::GROUND, ohm);
    // A joint of no ohms of its own in each: what is said of joints holds for both.
    let fault = Some(Fault::Joint(Wire::Ground, 0.0));
    let ideal = Parasitics::default();
    let mut one = Builder::on(circuit, "", supply, fault, ideal);
    one.ground = joint;
    let first = one.draw(tracks[0], tracks[0].position(travel));
    let mut two = Builder::on(one.circuit, "second_", supply, fault, ideal);
    two.ground = joint;
    let second = two.draw(tracks[1], tracks[1].position(travel));
    (two.circuit, [first, second])
}

/// What a conducting silicon diode keeps, in volts: a common figure, no source.
const DIODE_V: f64 = 0.6;

/// What a sensor draws when nothing says so, as a resistance from supply to ground: 5 mA on 5 V. Common practice, no source.
pub const ASSUMED_SENSOR_OHM: f64 = 1000.0;

/// Draws one track into a circuit.
struct Builder {
    circuit: Circuit,
    /// In front of every node's name, so that two tracks go into one circuit.
    prefix: &'static str,
    fault: Option<Fault>,
    parasitics: Parasitics,
    /// Volts of the supply.
    supply: f64,
    rail: Node,
    /// Where the control's ground wire ends.
    ground: Node,
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
            supply,
            rail,
            ground: Node::GROUND,
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
            Network::Buffered { sensor, .. } => self.sensor(wiring, sensor, position),
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
        if let Some(Fault::InputLeak(ohm)) = self.fault {
            self.circuit.resistor(pin, Node::GROUND, ohm);
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

    /// Where a wire of the control ends at the board; nowhere when it is broken or its plug sits beside.
    fn board_end(&self, wire: Wire) -> Option<Node> {
        use Wire::{Ground, Signal, Supply};
        let at = |wire| match wire {
            Supply => self.rail,
            Signal => self.line,
            Ground => self.ground,
        };
        match (self.fault, wire) {
            (Some(Fault::Open(broken)), _) if broken == wire => None,
            (Some(Fault::GroundOpenLeaking), Ground) | (Some(Fault::FedBack), Supply) => None,
            (Some(Fault::Exchanged(a, b)), _) if wire == a => Some(at(b)),
            (Some(Fault::Exchanged(a, b)), _) if wire == b => Some(at(a)),
            (Some(Fault::OnePinOver(Over::ToSupply)), _) => match wire {
                Supply => None,
                Signal => Some(at(Supply)),
                Ground => Some(at(Signal)),
            },
            (Some(Fault::OnePinOver(Over::ToGround)), _) => match wire {
                Supply => Some(at(Signal)),
                Signal => Some(at(Ground)),
                Ground => None,
            },
            _ => Some(at(wire)),
        }
    }

    /// The three wires, with what is in series with them.
    fn cable(&mut self) {
        for wire in [Wire::Supply, Wire::Signal, Wire::Ground] {
            let Some(mut board) = self.board_end(wire) else {
                continue;
            };
            let in_series = match self.fault {
                Some(Fault::Joint(bad, ohm)) if bad == wire => ohm,
                Some(Fault::Contact(ohm)) if wire == Wire::Signal => ohm,
                _ => 0.0,
            };
            if let (Some(Fault::GroundLift(volts)), Wire::Ground) = (self.fault, wire) {
                board = self.node("lifted");
                self.circuit.rail(board, volts);
            }
            let control = self.control_end(wire);
            let ohm = self.parasitics.wire + in_series;
            self.circuit.resistor(control, board, ohm);
        }
    }

    fn shorts(&mut self) {
        let (a, b, ohm) = match self.fault {
            Some(Fault::Short(a, b)) => (a, b, self.parasitics.short),
            Some(Fault::Damp(a, b, ohm)) => (a, b, ohm),
            _ => return,
        };
        let (a, b) = (self.control_end(a), self.control_end(b));
        self.circuit.resistor(a, b, ohm);
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
    /// or, leaking, drives with its ground where its own supply current puts it. Wrongly connected it does not drive either: what
    /// it reads comes through the protection diodes of its output, if it survives.
    fn sensor(&mut self, wiring: &Wiring, sensor: &Sensor, position: f64) {
        use Wire::{Ground, Signal, Supply};
        let (upper, wiper, lower) = (self.upper, self.wiper, self.lower);
        let assumed = match self.fault {
            Some(Fault::Joint(Supply | Ground, _) | Fault::FedBack) => Some(ASSUMED_SENSOR_OHM),
            Some(fault) if fault.is_misconnection() => Some(ASSUMED_SENSOR_OHM),
            _ => None,
        };
        if let Some(ohm) = sensor.draw_ohm.or(assumed) {
            self.circuit.resistor(upper, lower, ohm);
        }
        match self.fault {
            Some(Fault::Open(Supply | Ground) | Fault::Exchanged(Supply, Ground)) => return,
            Some(
                Fault::FedBack
                | Fault::Exchanged(Signal, Supply)
                | Fault::OnePinOver(Over::ToSupply),
            ) => return self.diode(wiper, upper),
            Some(Fault::Exchanged(Signal, Ground)) => return self.diode(lower, wiper),
            Some(Fault::OnePinOver(Over::ToGround)) => {
                if wiring.network.pull_up_ohm().is_some() {
                    self.diode(lower, wiper);
                }
                return;
            }
            _ => {}
        }
        let (low, high) = sensor.drive_ends();
        let core = self.node("core");
        let gain = low + (high - low) * position;
        self.circuit.follower(core, lower, upper, lower, gain);
        self.circuit.resistor(core, wiper, sensor.output_ohm);
    }

    /// A diode that conducts: its drop, counted from the supply so that the circuit stays linear.
    fn diode(&mut self, anode: Node, cathode: Node) {
        if self.supply > 0.0 {
            let drop = -DIODE_V / self.supply;
            self.circuit
                .follower(cathode, anode, self.rail, Node::GROUND, drop);
        }
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
        wired(r#"{"supply_is_reference":true,"network":"three-wire","track_ohm":20000}"#)
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
            r#"{"supply_is_reference":true,"network":"three-wire","track_ohm":20000,"end_low_ohm":1000,"end_high_ohm":1000}"#,
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
        let dial = wired(
            r#"{"supply_is_reference":true,"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700}"#,
        );
        // Below the crack nothing changes: 5 x 2.5/7.2 V; above it the loop is open.
        assert!((pin(&dial, 0.25, crack).unwrap() - 5.0 * 2.5 / 7.2).abs() < 1e-12);
        assert!((pin(&dial, 0.75, crack).unwrap() - 5.0).abs() < 1e-12);
    }

    #[test]
    fn a_divider_halves() {
        let wiring = wired(
            r#"{"supply_is_reference":true,"network":"buffered","output_ohm":100,"divider_top_ohm":9900,"divider_bottom_ohm":10000,
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
