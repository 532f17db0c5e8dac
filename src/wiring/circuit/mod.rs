//! Small linear circuits solved by modified nodal analysis.
//!
//! Source of the method: Ho, Ruehli, Brennan 1975, modified nodal analysis: one unknown per node voltage, one more
//! per voltage source for its current. Ideal wires are merged before solving, so that they need no resistance.

mod solve;

#[cfg(feature = "inside")]
pub use solve::Solution;
#[cfg(feature = "inside")]
use std::fmt::Write as _;
use thiserror::Error;

/// A point of a circuit. Only good for the [`Circuit`] that gave it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Node(usize);

impl Node {
    /// The board's ground: 0 V by definition.
    pub const GROUND: Self = Self(0);
}

/// One part between nodes.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Part {
    /// Ohms, above zero and finite.
    Resistor(Node, Node, f64),
    Wire(Node, Node),
    /// A stiff supply: volts against ground.
    Rail(Node, f64),
    /// `V(out) - V(base) = gain (V(high) - V(low))`, from a source of no resistance.
    Follower {
        out: Node,
        base: Node,
        high: Node,
        low: Node,
        gain: f64,
    },
}

#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum CircuitError {
    /// A rail is tied hard to ground or to another rail: what happens depends on the supply, not on the circuit.
    #[error("a supply is shorted: its voltage collapses")]
    Collapsed,
    /// Two ideal sources against each other.
    #[error("the circuit has no single answer")]
    Singular,
    #[error("{0} is no resistance or voltage")]
    Value(f64),
}

/// Parts between named nodes. Node 0 is ground.
#[derive(Debug, Clone)]
pub struct Circuit {
    /// Prefix and name; joined for a netlist only.
    names: Vec<[&'static str; 2]>,
    parts: Vec<Part>,
    bad: Option<f64>,
}

fn first_of<T>(room: usize, first: T) -> Vec<T> {
    let mut list = Vec::with_capacity(room);
    list.push(first);
    list
}

impl Default for Circuit {
    fn default() -> Self {
        Self::new()
    }
}

impl Circuit {
    pub fn new() -> Self {
        Self {
            names: first_of(24, ["0", ""]),
            parts: Vec::with_capacity(32),
            bad: None,
        }
    }

    /// A new node. The name is for netlists; lower case, no blanks, each once.
    #[cfg(feature = "inside")]
    pub fn node(&mut self, name: &'static str) -> Node {
        self.node_of("", name)
    }

    /// A new node of one of several like networks: the prefix keeps their names apart.
    pub(super) fn node_of(&mut self, prefix: &'static str, name: &'static str) -> Node {
        self.names.push([prefix, name]);
        Node(self.names.len() - 1)
    }

    /// A resistor of `ohm`: 0 is a wire, infinite is left out, negative or NaN spoils the circuit ([`CircuitError::Value`]).
    pub fn resistor(&mut self, a: Node, b: Node, ohm: f64) {
        if ohm.is_nan() || ohm < 0.0 {
            self.bad = Some(ohm);
        } else if ohm == 0.0 {
            self.wire(a, b);
        } else if ohm.is_finite() {
            self.parts.push(Part::Resistor(a, b, ohm));
        }
    }

    /// A connection without resistance.
    pub fn wire(&mut self, a: Node, b: Node) {
        self.parts.push(Part::Wire(a, b));
    }

    /// A stiff supply of `volts` against ground.
    pub fn rail(&mut self, node: Node, volts: f64) {
        if volts.is_finite() {
            self.parts.push(Part::Rail(node, volts));
        } else {
            self.bad = Some(volts);
        }
    }

    /// A source that holds `out` at `base` plus `gain` times the voltage from `low` to `high`.
    pub fn follower(&mut self, out: Node, base: Node, high: Node, low: Node, gain: f64) {
        if gain.is_finite() {
            self.parts.push(Part::Follower {
                out,
                base,
                high,
                low,
                gain,
            });
        } else {
            self.bad = Some(gain);
        }
    }

    /// The circuit as a netlist for a circuit simulator: operating point, printing the voltage of `node`.
    ///
    /// Wires become 1 milliohm resistors, so that the simulator, unlike [`Circuit::solve`], keeps their ends apart:
    /// agreement then also checks the merging. Every node gets 1e11 ohm to ground there, for a simulator needs something to
    /// hold a floating one; with more the two would lie farther apart than double precision can tell.
    #[cfg(feature = "inside")]
    pub fn to_netlist(&self, title: &str, node: Node) -> String {
        let name = |n: &Node| self.names[n.0].concat();
        let mut text =
            format!("{title}\n.options reltol=1e-9 vntol=1e-12 abstol=1e-15 gmin=1e-16\n");
        for (k, part) in self.parts.iter().enumerate() {
            // Writing to a String cannot fail.
            let _ = match part {
                Part::Resistor(a, b, ohm) => {
                    writeln!(text, "r{k} {} {} {ohm:e}", name(a), name(b))
                }
                Part::Wire(a, b) => writeln!(text, "r{k} {} {} 1e-3", name(a), name(b)),
                Part::Rail(a, volts) => writeln!(text, "v{k} {} 0 dc {volts}", name(a)),
                Part::Follower {
                    out,
                    base,
                    high,
                    low,
                    gain,
                } => writeln!(
                    text,
                    "e{k} {} {} {} {} {gain}",
                    name(out),
                    name(base),
                    name(high),
                    name(low)
                ),
            };
        }
        for (k, leak) in self.names.iter().enumerate().skip(1) {
            let _ = writeln!(text, "rleak{k} {} 0 1e11", leak.concat());
        }
        let _ = write!(
            text,
            ".control\nset numdgt=12\nop\nprint v({})\n.endc\n.end\n",
            name(&node)
        );
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(got: Option<f64>, want: f64) {
        let got = got.unwrap();
        assert!((got - want).abs() < 1e-9, "{got} is not {want}");
    }

    #[test]
    fn an_unloaded_divider_by_hand() {
        // 5 V over 4.7 k and 10 k: 5 x 10/14.7 V, source 4.7 k parallel 10 k. Worked by hand.
        let mut c = Circuit::new();
        let (top, mid) = (c.node("top"), c.node("mid"));
        c.rail(top, 5.0);
        c.resistor(top, mid, 4700.0);
        c.resistor(mid, Node::GROUND, 10_000.0);
        close(c.solve().unwrap().volts(mid), 50.0 / 14.7);
        close(c.source_ohm(mid).unwrap(), 47_000.0 / 14.7);
        close(c.source_ohm(top).unwrap(), 0.0);
    }

    #[test]
    fn a_node_that_nothing_holds_has_no_voltage() {
        let mut c = Circuit::new();
        let (top, a, b) = (c.node("top"), c.node("a"), c.node("b"));
        c.rail(top, 5.0);
        c.resistor(top, Node::GROUND, 1000.0);
        c.resistor(a, b, 1000.0);
        let s = c.solve().unwrap();
        assert_eq!(s.volts(a), None);
        assert_eq!(s.volts(b), None);
        close(s.volts(top), 5.0);
        assert_eq!(c.source_ohm(a).unwrap(), None);
    }

    #[test]
    fn an_unconnected_node_alone_floats_and_an_empty_circuit_is_ground() {
        let mut c = Circuit::new();
        close(c.solve().unwrap().volts(Node::GROUND), 0.0);
        let lone = c.node("lone");
        assert_eq!(c.solve().unwrap().volts(lone), None);
    }

    #[test]
    fn a_shorted_rail_collapses_and_equal_rails_do_not() {
        let mut c = Circuit::new();
        let (a, b) = (c.node("a"), c.node("b"));
        c.rail(a, 5.0);
        c.rail(b, 5.0);
        c.wire(a, b);
        close(c.solve().unwrap().volts(b), 5.0);
        c.wire(b, Node::GROUND);
        assert_eq!(c.solve(), Err(CircuitError::Collapsed));
        let mut d = Circuit::new();
        let (a, b) = (d.node("a"), d.node("b"));
        d.rail(a, 5.0);
        d.rail(b, 3.3);
        d.wire(a, b);
        assert_eq!(d.solve(), Err(CircuitError::Collapsed));
    }

    #[test]
    fn a_follower_drives_behind_its_resistance() {
        // 0.25 of 4 V behind 100 ohm into 300 ohm: 1 V x 3/4. Worked by hand.
        let mut c = Circuit::new();
        let (top, core, out) = (c.node("top"), c.node("core"), c.node("out"));
        c.rail(top, 4.0);
        c.follower(core, Node::GROUND, top, Node::GROUND, 0.25);
        c.resistor(core, out, 100.0);
        c.resistor(out, Node::GROUND, 300.0);
        close(c.solve().unwrap().volts(out), 0.75);
        close(c.source_ohm(out).unwrap(), 75.0);
    }

    #[test]
    fn a_follower_with_half_a_control_says_nothing() {
        let mut c = Circuit::new();
        let (loose, core) = (c.node("loose"), c.node("core"));
        c.follower(core, Node::GROUND, loose, Node::GROUND, 0.5);
        c.resistor(core, Node::GROUND, 1000.0);
        assert_eq!(c.solve().unwrap().volts(core), None);
    }

    #[test]
    fn zero_is_a_wire_infinite_is_open_and_nonsense_is_refused() {
        let mut c = Circuit::new();
        let (top, a, b) = (c.node("top"), c.node("a"), c.node("b"));
        c.rail(top, 3.3);
        c.resistor(top, a, 0.0);
        c.resistor(top, b, f64::INFINITY);
        let s = c.solve().unwrap();
        close(s.volts(a), 3.3);
        assert_eq!(s.volts(b), None);
        c.resistor(a, b, -1.0);
        assert_eq!(c.solve(), Err(CircuitError::Value(-1.0)));
    }

    #[test]
    fn a_netlist_reads_like_the_circuit() {
        let mut c = Circuit::new();
        let (top, mid) = (c.node("top"), c.node("mid"));
        c.rail(top, 5.0);
        c.resistor(top, mid, 4700.0);
        c.wire(mid, Node::GROUND);
        let text = c.to_netlist("short to ground", mid);
        assert!(text.starts_with("short to ground\n"), "{text}");
        assert!(
            text.contains("v0 top 0 dc 5\nr1 top mid 4.7e3\nr2 mid 0 1e-3\n"),
            "{text}"
        );
        assert!(text.contains("print v(mid)"), "{text}");
    }
}
