//! Small linear circuits solved by modified nodal analysis.
//!
//! Source of the method: Ho, Ruehli, Brennan 1975, modified nodal analysis: one unknown per node voltage, one more
//! per voltage source for its current. Ideal wires are merged before solving, so that they need no resistance.

use nalgebra::{DMatrix, DVector};
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

impl Default for Circuit {
    fn default() -> Self {
        Self::new()
    }
}

impl Circuit {
    pub fn new() -> Self {
        Self {
            names: vec![["0", ""]],
            parts: Vec::new(),
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

    /// The voltage of every node.
    pub fn solve(&self) -> Result<Solution, CircuitError> {
        self.bad
            .map_or(Ok(()), |bad| Err(CircuitError::Value(bad)))?;
        Equations::new(self)?.solve(None)
    }

    /// The resistance that a node shows to ground with every rail at rest (Thevenin), in ohms; `None` when the
    /// node floats.
    pub fn source_ohm(&self, node: Node) -> Result<Option<f64>, CircuitError> {
        let mut quiet = self.clone();
        for part in &mut quiet.parts {
            if let Part::Rail(_, volts) = part {
                *volts = 0.0;
            }
        }
        Ok(Equations::new(&quiet)?.solve(Some(node))?.volts(node))
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

/// Every node's voltage against ground.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution(Vec<Option<f64>>);

impl Solution {
    /// The voltage of a node, `None` when nothing holds it (it floats): missing, never 0.
    pub fn volts(&self, node: Node) -> Option<f64> {
        self.0.get(node.0).copied().flatten()
    }
}

/// Groups of nodes, joined one pair at a time.
struct Groups(Vec<usize>);

impl Groups {
    fn new(n: usize) -> Self {
        Self((0..n).collect())
    }

    fn root(&self, mut n: usize) -> usize {
        while self.0[n] != n {
            n = self.0[n];
        }
        n
    }

    /// The lower number stays the root: ground (0) always is.
    fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.root(a), self.root(b));
        self.0[a.max(b)] = a.min(b);
    }
}

/// The circuit with its wires merged, ready to be written as equations.
struct Equations<'a> {
    circuit: &'a Circuit,
    /// Nodes that are one and the same.
    merged: Groups,
    /// Nodes held to one another by some path; those not with ground float.
    tied: Groups,
    rails: Vec<(usize, f64)>,
}

impl<'a> Equations<'a> {
    fn new(circuit: &'a Circuit) -> Result<Self, CircuitError> {
        let n = circuit.names.len();
        let mut merged = Groups::new(n);
        for part in &circuit.parts {
            match *part {
                Part::Wire(a, b) => merged.join(a.0, b.0),
                Part::Rail(a, 0.0) => merged.join(a.0, 0),
                _ => {}
            }
        }
        let mut rails: Vec<(usize, f64)> = Vec::new();
        let mut tied = Groups::new(n);
        let mut tie = |a: usize, b: usize| tied.join(merged.root(a), merged.root(b));
        for part in &circuit.parts {
            match *part {
                Part::Resistor(a, b, _) => tie(a.0, b.0),
                Part::Follower { out, base, .. } => tie(out.0, base.0),
                Part::Rail(_, 0.0) | Part::Wire(..) => {}
                Part::Rail(a, volts) => {
                    tie(a.0, 0);
                    let root = merged.root(a.0);
                    let before = rails.iter().find(|(node, _)| *node == root);
                    #[allow(clippy::float_cmp)] // stated values, not computed ones
                    let other = before.is_some_and(|(_, v)| *v != volts);
                    if root == 0 || other {
                        return Err(CircuitError::Collapsed);
                    }
                    if before.is_none() {
                        rails.push((root, volts));
                    }
                }
            }
        }
        Ok(Self {
            circuit,
            merged,
            tied,
            rails,
        })
    }

    /// Solves with 1 A pushed into `injected`, if any. In each floating group one node stands in for ground while
    /// solving, so that differences inside the group stay right; its voltages are then withheld.
    fn solve(&self, injected: Option<Node>) -> Result<Solution, CircuitError> {
        let count = self.circuit.names.len();
        let mut row_of = vec![None; count];
        let mut rows = 0;
        for (node, row) in row_of.iter_mut().enumerate() {
            let is_root = self.merged.root(node) == node;
            if is_root && self.tied.root(node) != node {
                *row = Some(rows);
                rows += 1;
            }
        }
        let row = |node: usize| row_of[self.merged.root(node)];
        let (matrix, mut known) = self.fill(rows, row);
        if let Some(r) = injected.and_then(|node| row(node.0)) {
            known[r] += 1.0;
        }
        let found = if known.is_empty() {
            known // the solver takes no empty system
        } else {
            matrix.lu().solve(&known).ok_or(CircuitError::Singular)?
        };
        if found.iter().any(|v| !v.is_finite()) {
            return Err(CircuitError::Singular);
        }
        let floats = self.floating();
        Ok(Solution(
            (0..count)
                .map(|node| {
                    let group = self.tied.root(self.merged.root(node));
                    (!floats[group]).then(|| row(node).map_or(0.0, |r| found[r]))
                })
                .collect(),
        ))
    }

    /// The equations: `rows` sums of currents, then one line per rail and per controlled source.
    fn fill(
        &self,
        rows: usize,
        row: impl Fn(usize) -> Option<usize>,
    ) -> (DMatrix<f64>, DVector<f64>) {
        let followers = self.followers();
        let size = rows + self.rails.len() + followers.len();
        let mut matrix = DMatrix::<f64>::zeros(size, size);
        let mut known = DVector::<f64>::zeros(size);
        let mut add = |r: Option<usize>, c: Option<usize>, x: f64| {
            if let (Some(r), Some(c)) = (r, c) {
                matrix[(r, c)] += x;
            }
        };
        for part in &self.circuit.parts {
            if let Part::Resistor(from, to, ohm) = *part {
                let (from, to, siemens) = (row(from.0), row(to.0), 1.0 / ohm);
                add(from, from, siemens);
                add(to, to, siemens);
                add(from, to, -siemens);
                add(to, from, -siemens);
            }
        }
        for (k, (node, volts)) in self.rails.iter().enumerate() {
            let branch = Some(rows + k);
            add(row(*node), branch, 1.0);
            add(branch, row(*node), 1.0);
            known[rows + k] = *volts;
        }
        for (k, [out, base, high, low], gain) in followers {
            let branch = Some(rows + self.rails.len() + k);
            add(row(out), branch, 1.0);
            add(row(base), branch, -1.0);
            add(branch, row(out), 1.0);
            add(branch, row(base), -1.0);
            add(branch, row(high), -gain);
            add(branch, row(low), gain);
        }
        (matrix, known)
    }

    /// Number, the four nodes (out, base, high, low) and gain of each controlled source.
    fn followers(&self) -> Vec<(usize, [usize; 4], f64)> {
        let sources = self.circuit.parts.iter().filter_map(|part| match *part {
            Part::Follower {
                out,
                base,
                high,
                low,
                gain,
            } => Some(([out.0, base.0, high.0, low.0], gain)),
            _ => None,
        });
        sources
            .enumerate()
            .map(|(k, (nodes, gain))| (k, nodes, gain))
            .collect()
    }

    /// Which groups (by root) float: those not tied to ground, and those driven by a source whose two control nodes
    /// are not tied to each other, for then its voltage is nobody's to say.
    fn floating(&self) -> Vec<bool> {
        let group = |node: usize| self.tied.root(self.merged.root(node));
        let mut floats: Vec<bool> = (0..self.circuit.names.len())
            .map(|node| group(node) != 0)
            .collect();
        for (_, [out, _, high, low], gain) in self.followers() {
            if gain != 0.0 && group(high) != group(low) {
                floats[group(out)] = true;
            }
        }
        floats
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
