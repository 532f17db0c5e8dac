//! The equations of a circuit and their solution.

use super::{Circuit, CircuitError, Node, Part};

impl Circuit {
    /// The voltage of every node.
    pub fn solve(&self) -> Result<Solution, CircuitError> {
        self.bad
            .map_or(Ok(()), |bad| Err(CircuitError::Value(bad)))?;
        Equations::new(self)?.solve(None)
    }

    /// The voltage of one node together with the determinant of the equations (Cramer's rule): as functions of one conductance
    /// both the determinant and its product with the voltage are straight lines. `None` when the node floats.
    pub fn cramer(&self, node: Node) -> Result<Option<(f64, f64)>, CircuitError> {
        let solution = self.solve()?;
        Ok(solution.volts(node).map(|v| (v, solution.determinant())))
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
}

/// Every node's voltage against ground.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    volts: Vec<Option<f64>>,
    determinant: f64,
}

impl Solution {
    /// The voltage of a node, `None` when nothing holds it (it floats): missing, never 0.
    pub fn volts(&self, node: Node) -> Option<f64> {
        self.volts.get(node.0).copied().flatten()
    }

    /// Of the equations, with rails taken as known: the same order of rows for the same circuit with other values.
    pub(super) fn determinant(&self) -> f64 {
        self.determinant
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

/// A node in the equations.
#[derive(Clone, Copy)]
enum Place {
    /// One of the unknown voltages.
    Unknown(usize),
    /// Ground, a rail, or what stands in for ground in a floating group.
    Volts(f64),
}

/// A controlled source of the circuit, by its nodes.
struct Source {
    out: Node,
    base: Node,
    high: Node,
    low: Node,
    gain: f64,
}

/// The circuit with its wires merged, ready to be written as equations.
pub(super) struct Equations<'a> {
    circuit: &'a Circuit,
    /// Nodes that are one and the same.
    merged: Groups,
    /// Nodes held to one another by some path; those not with ground float.
    tied: Groups,
    rails: Vec<(usize, f64)>,
}

impl<'a> Equations<'a> {
    pub(super) fn new(circuit: &'a Circuit) -> Result<Self, CircuitError> {
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
    pub(super) fn solve(&self, injected: Option<Node>) -> Result<Solution, CircuitError> {
        let (places, unknown) = self.places();
        let place = |node: Node| places[self.merged.root(node.0)];
        let mut system = self.fill(unknown, place);
        if let Some(Place::Unknown(row)) = injected.map(place) {
            system.add_known(row, 1.0);
        }
        let determinant = system.eliminate()?;
        let floats = self.floating();
        let volts = (0..places.len()).map(|node| {
            let root = self.merged.root(node);
            let volts = match places[root] {
                Place::Unknown(row) => system.known(row),
                Place::Volts(volts) => volts,
            };
            (!floats[self.tied.root(root)]).then_some(volts)
        });
        Ok(Solution {
            volts: volts.collect(),
            determinant,
        })
    }

    /// Where each node (by root) stands in the equations, and how many voltages are unknown.
    fn places(&self) -> (Vec<Place>, usize) {
        let mut unknown = 0;
        let places = (0..self.circuit.names.len()).map(|node| {
            let rail = self.rails.iter().find(|(root, _)| *root == node);
            if let Some((_, volts)) = rail {
                Place::Volts(*volts)
            } else if self.merged.root(node) != node || self.tied.root(node) == node {
                Place::Volts(0.0)
            } else {
                unknown += 1;
                Place::Unknown(unknown - 1)
            }
        });
        (places.collect(), unknown)
    }

    /// The equations: a sum of currents for each unknown voltage, then one line for each controlled source.
    fn fill(&self, unknown: usize, place: impl Fn(Node) -> Place) -> System {
        let sources = || self.sources();
        let mut system = System::new(unknown + sources().count());
        for part in &self.circuit.parts {
            if let Part::Resistor(from, to, ohm) = *part {
                let (from, to, siemens) = (place(from), place(to), 1.0 / ohm);
                system.add(from, from, siemens);
                system.add(from, to, -siemens);
                system.add(to, to, siemens);
                system.add(to, from, -siemens);
            }
        }
        for (k, source) in sources().enumerate() {
            let branch = Place::Unknown(unknown + k);
            let [out, base] = [source.out, source.base].map(&place);
            system.add(out, branch, 1.0);
            system.add(base, branch, -1.0);
            system.add(branch, out, 1.0);
            system.add(branch, base, -1.0);
            system.add(branch, place(source.high), -source.gain);
            system.add(branch, place(source.low), source.gain);
        }
        system
    }

    fn sources(&self) -> impl Iterator<Item = Source> {
        self.circuit.parts.iter().filter_map(|part| match *part {
            Part::Follower {
                out,
                base,
                high,
                low,
                gain,
            } => Some(Source {
                out,
                base,
                high,
                low,
                gain,
            }),
            _ => None,
        })
    }

    /// Which groups (by root) float: those not tied to ground, and those driven by a source whose two control nodes
    /// are not tied to each other, for then its voltage is nobody's to say.
    fn floating(&self) -> Vec<bool> {
        let group = |node: Node| self.tied.root(self.merged.root(node.0));
        let mut floats: Vec<bool> = (0..self.circuit.names.len())
            .map(|node| group(Node(node)) != 0)
            .collect();
        for source in self.sources() {
            if source.gain != 0.0 && group(source.high) != group(source.low) {
                floats[group(source.out)] = true;
            }
        }
        floats
    }
}

/// A square system of linear equations, its right side in the last column.
struct System {
    size: usize,
    rows: Vec<f64>,
}

impl System {
    fn new(size: usize) -> Self {
        Self {
            size,
            rows: vec![0.0; size * (size + 1)],
        }
    }

    fn at(&self, row: usize, column: usize) -> usize {
        row * (self.size + 1) + column
    }

    /// `x` times the voltage at `column` in the sum of `row`; what is known goes to the right side.
    fn add(&mut self, row: Place, column: Place, x: f64) {
        let Place::Unknown(row) = row else { return };
        match column {
            Place::Unknown(column) => {
                let at = self.at(row, column);
                self.rows[at] += x;
            }
            Place::Volts(volts) => self.add_known(row, -x * volts),
        }
    }

    fn add_known(&mut self, row: usize, x: f64) {
        let at = self.at(row, self.size);
        self.rows[at] += x;
    }

    fn known(&self, row: usize) -> f64 {
        self.rows[self.at(row, self.size)]
    }

    /// Gauss and Jordan with row pivots; afterwards the right side is the solution. Gives the determinant.
    fn eliminate(&mut self) -> Result<f64, CircuitError> {
        let (n, width) = (self.size, self.size + 1);
        let mut determinant = 1.0;
        for column in 0..n {
            let size = |row: &usize| self.rows[row * width + column].abs();
            let pivot = (column..n)
                .max_by(|a, b| size(a).total_cmp(&size(b)))
                .filter(|row| size(row) > 0.0)
                .ok_or(CircuitError::Singular)?;
            if pivot != column {
                for k in column..width {
                    self.rows.swap(pivot * width + k, column * width + k);
                }
                determinant = -determinant;
            }
            let value = self.rows[column * width + column];
            determinant *= value;
            for row in (0..n).filter(|row| *row != column) {
                let factor = self.rows[row * width + column] / value;
                if factor != 0.0 {
                    for k in column..width {
                        self.rows[row * width + k] -= factor * self.rows[column * width + k];
                    }
                }
            }
        }
        for row in 0..n {
            let value = self.rows[row * width + row];
            self.rows[row * width + n] /= value;
            if !self.rows[row * width + n].is_finite() {
                return Err(CircuitError::Singular);
            }
        }
        Ok(determinant)
    }
}
