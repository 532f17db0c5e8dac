//! From visits to the curve of a control: both branches, the line halfway between them, the gap, and their noise.
//!
//! Belongs here: joining visits at one position, reading a branch between its points, the noise of every value.
//! Does not belong here: where visits come from (`bins`), sizes of deviations (`linearity`, `hysteresis`).
//!
//! **Halfway.** Linearity is that of the curve halfway between going up and coming down. Where only one branch was
//! measured (a turning point is reached from one side only) the other lies a gap away, the gap carried on from where it is
//! known: along the constant, line or parabola that the noise justifies, or, where none of them follows it, along a
//! straight line through neighbours. So a gap that is the same everywhere, or one that closes towards the ends, leaves
//! no trace in the linearity.
//!
//! **Slightly different positions.** A branch is read between its own points along a straight line, across gaps of up
//! to [`BRIDGE_PCT`], and [`SAME_PCT`] beyond its ends.
//!
//! **Noise.** Every value is a weighted sum of nodes (one mean for each position and direction), and every node has
//! its own standard uncertainty: from the noise within the visits, or from repeated visits (their scatter pooled, and
//! the scatter of the gap about a parabola, which is the same thing seen between the branches) where these scatter
//! more than the noise within explains; rounding and the stated uncertainty of the position (as slope times uncertainty)
//! are added in quadrature.

use super::bins::{BIN_PCT, Direction, Manner, SAME_PCT, Visit, Visits};
use super::interval::chi_square_quantile;
use super::polynomials::{self, justified};
use super::stats::{mean, real};

/// A branch is read along straight lines across gaps of up to this, % of travel.
const BRIDGE_PCT: f64 = 15.0;

/// Degrees of freedom from which the scatter between visits is believed.
const LEAST_DOF: usize = 4;

/// The scatter between visits counts when it is larger than that of this share of visits that only the noise within
/// them scatters. A larger share would leave out scatter that is there, a smaller one make every interval wider.
const PLAIN_SHARE: f64 = 0.8;

/// The gap is carried on by a polynomial of up to this many coefficients.
const GAP_COEFFICIENTS: usize = 3;

/// One mean code at one position in one direction.
#[derive(Debug, Clone, PartialEq)]
struct Node {
    travel: f64,
    code: f64,
    /// (travel, code) of each visit.
    visits: Vec<(f64, f64)>,
    /// Variance of the code from the noise within the visits; `None` when they cannot tell.
    within: Option<f64>,
    rounding: f64,
}

/// A weighted sum of nodes.
type Row = Vec<(usize, f64)>;

/// The curve of a control over travel.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Curve {
    nodes: Vec<Node>,
    /// Nodes below this index are of the branch up, the rest of the branch down.
    split: usize,
    places: Vec<Place>,
    noise: NodeNoise,
    /// How the control was moved.
    pub manner: Manner,
    /// Visits used.
    pub visits: usize,
}

/// One position with what is known there.
#[derive(Debug, Clone, PartialEq)]
struct Place {
    travel: f64,
    up: Option<Row>,
    down: Option<Row>,
    halfway: Row,
}

/// Standard deviations of the nodes.
#[derive(Debug, Clone, PartialEq, Default)]
struct NodeNoise {
    /// Noise, scatter and rounding.
    repeat: Vec<f64>,
    /// From the position's uncertainty.
    position: Vec<f64>,
    /// Degrees of freedom of the scatter between visits, where it was used.
    dof: Option<f64>,
    /// Whether enough positions were visited twice to see their scatter.
    repeated: bool,
}

/// Values over travel that are weighted sums of nodes, with the standard deviation of each.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Series {
    /// % of travel, growing.
    pub travel: Vec<f64>,
    /// Codes.
    pub value: Vec<f64>,
    /// Standard uncertainty of each value.
    pub sd: Vec<f64>,
    /// Standard uncertainty of each node.
    pub node_sd: Vec<f64>,
    rows: Vec<Row>,
}

impl Series {
    /// The noise of the values from the noise of the nodes.
    pub fn noise(&self, nodes: &[f64]) -> Vec<f64> {
        let at = |i: &usize| nodes.get(*i).copied().unwrap_or(f64::NAN);
        self.rows
            .iter()
            .map(|row| row.iter().map(|(i, w)| w * at(i)).sum())
            .collect()
    }
}

impl Curve {
    /// The curve through these visits; `None` with fewer than three positions.
    pub fn through(visits: &Visits) -> Option<Self> {
        let mut order: Vec<&Visit> = visits.in_order.iter().collect();
        order.sort_by(|a, b| a.travel_pct.total_cmp(&b.travel_pct));
        let clusters = clusters(&order, visits.manner);
        if clusters.len() < 3 {
            return None;
        }
        let up = nodes(&clusters, Direction::Up);
        let down = nodes(&clusters, Direction::Down);
        let used = |nodes: &[Node]| nodes.iter().map(|n| n.visits.len()).sum::<usize>();
        let count = used(&up) + used(&down);
        let split = up.len();
        let mut curve = Self {
            nodes: [up, down].concat(),
            split,
            places: Vec::new(),
            noise: NodeNoise::default(),
            manner: visits.manner,
            visits: count,
        };
        let at: Vec<f64> = clusters
            .iter()
            .map(|cluster| curve.place_of(cluster))
            .collect();
        // A bin's mean lies inside it: the very ends are read beyond the outermost bins.
        let (rest, full) = match visits.manner {
            Manner::Moving => (Some(0.0), Some(100.0)),
            Manner::Stations => (None, None),
        };
        curve.places = rest
            .into_iter()
            .chain(at)
            .chain(full)
            .filter_map(|x| curve.place(x))
            .collect();
        curve.places.dedup_by(|b, a| b.travel <= a.travel);
        curve.noise = curve.estimate_noise(visits.u_travel_pct);
        curve.settle_halfway();
        Some(curve)
    }

    /// Positions on the curve.
    pub fn positions(&self) -> usize {
        self.places.len()
    }

    /// Whether the curve was gone both ways.
    pub fn both_ways(&self) -> bool {
        self.places.iter().filter(|p| p.gap().is_some()).count() >= 2
    }

    /// Degrees of freedom of the nodes' noise; `None` when it is known well.
    pub fn dof(&self) -> Option<f64> {
        self.noise.dof
    }

    /// The curve halfway between both branches.
    pub fn halfway(&self) -> Series {
        let sd = |i: usize| self.noise.repeat[i].hypot(self.noise.position[i]);
        let rows = self.places.iter().map(|p| (p.travel, p.halfway.clone()));
        self.series(rows.collect(), &sd)
    }

    /// Up minus down wherever both are known. The position's own uncertainty counts only when no position was visited
    /// twice: repeats show what of it does not repeat, and the rest is the same both ways.
    pub fn gap(&self) -> Series {
        let repeated = self.noise.repeated;
        let sd = |i: usize| {
            let position = if repeated {
                0.0
            } else {
                self.noise.position[i]
            };
            self.noise.repeat[i].hypot(position)
        };
        let rows = self
            .places
            .iter()
            .filter_map(|p| Some((p.travel, p.gap()?)));
        self.series(rows.collect(), &sd)
    }

    /// What was measured at the first and at the last position: mean of both branches, nothing carried on.
    pub fn measured_ends(&self) -> Option<(f64, f64)> {
        let measured = |place: &Place| {
            let known: Vec<f64> = [&place.up, &place.down]
                .into_iter()
                .flatten()
                .map(|row| self.value(row))
                .collect();
            mean(&known)
        };
        Some((
            measured(self.places.first()?),
            measured(self.places.last()?),
        ))
    }

    /// Travel, and the codes going up and coming down, at each position.
    pub fn branches(&self) -> impl Iterator<Item = (f64, Option<f64>, Option<f64>)> {
        self.places.iter().map(|place| {
            let read = |row: &Option<Row>| row.as_ref().map(|row| self.value(row));
            (place.travel, read(&place.up), read(&place.down))
        })
    }

    fn series(&self, rows: Vec<(f64, Row)>, node_sd: &dyn Fn(usize) -> f64) -> Series {
        let spread = |row: &Row| {
            row.iter()
                .map(|&(i, w)| (w * node_sd(i)).powi(2))
                .sum::<f64>()
                .sqrt()
        };
        Series {
            travel: rows.iter().map(|r| r.0).collect(),
            value: rows.iter().map(|r| self.value(&r.1)).collect(),
            sd: rows.iter().map(|r| spread(&r.1)).collect(),
            node_sd: (0..self.nodes.len()).map(node_sd).collect(),
            rows: rows.into_iter().map(|r| r.1).collect(),
        }
    }

    fn value(&self, row: &Row) -> f64 {
        row.iter().map(|&(i, w)| w * self.nodes[i].code).sum()
    }

    /// Mean position of the nodes of a cluster.
    fn place_of(&self, cluster: &[&Visit]) -> f64 {
        let (low, high) = (
            cluster.first().map_or(f64::NAN, |v| v.travel_pct),
            cluster.last().map_or(f64::NAN, |v| v.travel_pct),
        );
        let there: Vec<f64> = self
            .nodes
            .iter()
            .map(|node| node.travel)
            .filter(|at| (low..=high).contains(at))
            .collect();
        mean(&there)
    }

    /// A position, where at least one branch is known.
    fn place(&self, travel: f64) -> Option<Place> {
        let up = self.read(Direction::Up, travel);
        let down = self.read(Direction::Down, travel);
        (up.is_some() || down.is_some()).then(|| Place {
            travel,
            up,
            down,
            halfway: Row::new(),
        })
    }

    /// Fills in the rows halfway between the branches.
    fn settle_halfway(&mut self) {
        let gap = self.gap();
        let carry = Carry::new(&gap);
        let rows: Vec<Row> = self
            .places
            .iter()
            .map(|place| match (&place.up, &place.down) {
                (Some(up), Some(down)) => sum(up, 0.5, down, 0.5),
                (Some(up), None) => sum(up, 1.0, &carry.on_to(place.travel), -0.5),
                (None, Some(down)) => sum(down, 1.0, &carry.on_to(place.travel), 0.5),
                (None, None) => Row::new(),
            })
            .collect();
        for (place, row) in self.places.iter_mut().zip(rows) {
            place.halfway = row;
        }
    }

    /// One branch read at a position.
    fn read(&self, direction: Direction, x: f64) -> Option<Row> {
        let (from, branch) = match direction {
            Direction::Up => (0, &self.nodes[..self.split]),
            Direction::Down => (self.split, &self.nodes[self.split..]),
        };
        let reach = SAME_PCT.max(if self.manner == Manner::Moving {
            BIN_PCT
        } else {
            0.0
        });
        let nearest = branch
            .iter()
            .map(|n| (n.travel - x).abs())
            .fold(f64::INFINITY, f64::min);
        let after = branch.partition_point(|n| n.travel < x);
        if branch.len() == 1 {
            return (nearest <= reach).then(|| vec![(from, 1.0)]);
        }
        let right = after.clamp(1, branch.len().max(2) - 1);
        let (a, b) = (branch.get(right - 1)?, branch.get(right)?);
        let inside = a.travel <= x && x <= b.travel;
        let bridged = inside && b.travel - a.travel <= BRIDGE_PCT;
        if !bridged && nearest > reach {
            return None;
        }
        let share = (x - a.travel) / (b.travel - a.travel);
        Some(vec![(from + right - 1, 1.0 - share), (from + right, share)])
    }

    fn estimate_noise(&self, u_travel_pct: f64) -> NodeNoise {
        let slopes: Vec<f64> = (0..self.nodes.len()).map(|i| self.slope_at(i)).collect();
        let (mut squares, mut dof) = (0.0, 0);
        for (node, slope) in self.nodes.iter().zip(&slopes) {
            dof += node.visits.len() - 1;
            for (travel, code) in &node.visits {
                let expected = node.code + slope * (travel - node.travel);
                squares += (code - expected).powi(2);
            }
        }
        if let Some((more, freedom)) = self.scatter_of_gap() {
            squares += more;
            dof += freedom;
        }
        let between = (dof >= LEAST_DOF)
            .then(|| squares / real(dof))
            .filter(|&between| self.scatters_more(between, dof));
        let repeat = self
            .nodes
            .iter()
            .map(|n| {
                let scatter = between.map_or(0.0, |b| b / real(n.visits.len()));
                let noise = scatter.max(n.within.unwrap_or(0.0));
                n.rounding.mul_add(n.rounding, noise).sqrt()
            })
            .collect();
        NodeNoise {
            repeat,
            position: slopes.iter().map(|s| (s * u_travel_pct).abs()).collect(),
            dof: between.map(|_| real(dof)),
            repeated: dof >= LEAST_DOF,
        }
    }

    /// Whether visits scatter more than the noise within them explains, which is always so when that is not known.
    fn scatters_more(&self, between: f64, dof: usize) -> bool {
        let within: Option<Vec<f64>> = self
            .nodes
            .iter()
            .map(|n| Some(n.within? * real(n.visits.len())))
            .collect();
        let dof = real(dof);
        within.is_none_or(|within| {
            between * dof > mean(&within) * chi_square_quantile(PLAIN_SHARE, dof)
        })
    }

    /// Squares and degrees of freedom of the scatter between visits that the gap shows about a parabola.
    fn scatter_of_gap(&self) -> Option<(f64, usize)> {
        let (mut x, mut gap, mut sd) = (Vec::new(), Vec::new(), Vec::new());
        for place in &self.places {
            let (Some(up), Some(down)) = (&place.up, &place.down) else {
                continue;
            };
            let own = |row: &Row| {
                row.iter()
                    .max_by(|a, b| a.1.total_cmp(&b.1))
                    .and_then(|&(i, _)| self.nodes.get(i))
                    .filter(|node| (node.travel - place.travel).abs() <= SAME_PCT)
                    .map(|node| real(node.visits.len()))
            };
            if let (Some(ups), Some(downs)) = (own(up), own(down)) {
                x.push(place.travel);
                gap.push(self.value(up) - self.value(down));
                sd.push((1.0 / ups + 1.0 / downs).sqrt());
            }
        }
        let parabola = polynomials::fits(&x, &gap, &sd, 3).pop()?;
        let freedom = x.len().checked_sub(parabola.coefficients)?;
        (freedom > 0).then_some((parabola.chi_square, freedom))
    }

    /// Slope of a node's own branch about it, codes per % of travel; 0 when it has no neighbour.
    fn slope_at(&self, i: usize) -> f64 {
        let range = if i < self.split {
            0..self.split
        } else {
            self.split..self.nodes.len()
        };
        let left = i.saturating_sub(1).max(range.start);
        let right = (i + 1).min(range.end - 1);
        let (a, b) = (&self.nodes[left], &self.nodes[right]);
        if right > left {
            (b.code - a.code) / (b.travel - a.travel)
        } else {
            0.0
        }
    }
}

impl Place {
    fn gap(&self) -> Option<Row> {
        Some(sum(self.up.as_ref()?, 1.0, self.down.as_ref()?, -1.0))
    }
}

/// Visits at one position together: by bin when moving, else while they lie within one station's reach.
fn clusters<'a>(order: &[&'a Visit], manner: Manner) -> Vec<Vec<&'a Visit>> {
    let mut out: Vec<Vec<&Visit>> = Vec::new();
    for &visit in order {
        let same = out.last().and_then(|c| c.first()).is_some_and(|first| {
            let (a, b) = (first.travel_pct, visit.travel_pct);
            match manner {
                Manner::Stations => b - a <= SAME_PCT,
                Manner::Moving => (a / BIN_PCT).floor() >= (b / BIN_PCT).floor(),
            }
        });
        match out.last_mut() {
            Some(cluster) if same => cluster.push(visit),
            _ => out.push(vec![visit]),
        }
    }
    out
}

/// The nodes of one branch. Visits with slack count only where the position has no other.
fn nodes(clusters: &[Vec<&Visit>], direction: Direction) -> Vec<Node> {
    clusters
        .iter()
        .filter_map(|cluster| {
            let certain = cluster.iter().any(|v| !v.slack);
            let used: Vec<&&Visit> = cluster
                .iter()
                .filter(|v| v.direction == direction && (!v.slack || !certain))
                .collect();
            let k = real(used.len());
            let average = |of: fn(&Visit) -> f64| {
                let values: Vec<f64> = used.iter().map(|v| of(v)).collect();
                mean(&values)
            };
            let within: Option<f64> = used.iter().map(|v| v.se.map(|se| se * se)).sum();
            (!used.is_empty()).then(|| Node {
                travel: average(|v| v.travel_pct),
                code: average(|v| v.code),
                visits: used.iter().map(|v| (v.travel_pct, v.code)).collect(),
                within: within.map(|sum| sum / (k * k)),
                rounding: average(|v| v.rounding),
            })
        })
        .collect()
}

/// `a` times one row plus `b` times another.
fn sum(one: &Row, a: f64, other: &Row, b: f64) -> Row {
    one.iter()
        .map(|&(i, w)| (i, a * w))
        .chain(other.iter().map(|&(i, w)| (i, b * w)))
        .fold(Row::new(), |mut row, (i, w)| {
            match row.iter_mut().find(|known| known.0 == i) {
                Some(known) => known.1 += w,
                None => row.push((i, w)),
            }
            row
        })
}

/// The gap carried on to positions where only one branch is known.
struct Carry<'a> {
    gap: &'a Series,
    /// Coefficients of the polynomial that follows the gap, if one does.
    coefficients: Option<usize>,
}

impl<'a> Carry<'a> {
    fn new(gap: &'a Series) -> Self {
        let enough = gap.travel.len() > GAP_COEFFICIENTS && gap.sd.iter().all(|&sd| sd > 0.0);
        let coefficients = enough
            .then(|| justified(&gap.travel, &gap.value, &gap.sd, GAP_COEFFICIENTS))
            .flatten()
            .filter(|fit| {
                // Follows it: chi-square no further than 4 sd above what it should be.
                let dof = real(gap.travel.len() - fit.coefficients);
                fit.chi_square <= dof + 4.0 * (2.0 * dof).sqrt()
            })
            .map(|fit| fit.coefficients);
        Self { gap, coefficients }
    }

    /// The gap at a position; empty (no gap) when it is known nowhere or at one position only.
    fn on_to(&self, x: f64) -> Row {
        let Some(coefficients) = self.coefficients else {
            return self.straight_on_to(x);
        };
        let weights = polynomials::weights(&self.gap.travel, &self.gap.sd, coefficients, x);
        weights
            .iter()
            .zip(&self.gap.rows)
            .fold(Row::new(), |row, (&w, of)| sum(&row, 1.0, of, w))
    }

    /// Between known gaps in a straight line; beyond them in the straight line through the nearest and one that lies
    /// as far behind it, or level when none does.
    fn straight_on_to(&self, x: f64) -> Row {
        let (travel, rows) = (&self.gap.travel, &self.gap.rows);
        let last = match travel.len() {
            0 | 1 => return Row::new(),
            n => n - 1,
        };
        let straight = |a: usize, b: usize| {
            let share = (x - travel[a]) / (travel[b] - travel[a]);
            sum(&rows[a], 1.0 - share, &rows[b], share)
        };
        let after = travel.partition_point(|&at| at < x);
        if (1..=last).contains(&after) {
            return straight(after - 1, after);
        }
        let near = if after == 0 { 0 } else { last };
        let reach = (travel[near] - x).abs();
        let far = |i: &usize| (travel[*i] - travel[near]).abs() >= reach && *i != near;
        let behind = if near == 0 {
            (0..=last).find(far)
        } else {
            (0..=last).rev().find(far)
        };
        behind.map_or_else(|| rows[near].clone(), |far| straight(near, far))
    }
}
