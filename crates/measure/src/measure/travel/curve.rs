//! From visits to the curve of a control: both branches, the line halfway between them, the gap, and their noise.
//!
//! **Halfway.** Linearity is that of the curve halfway between going up and coming down. Where only one branch was
//! measured (a turning point is reached from one side only) the other lies a gap away, the gap carried on from where it is
//! known: along the constant, line or parabola that the noise justifies, or, where none of them follows it, along a
//! straight line through neighbours. So a gap that is the same everywhere, or one that closes towards the ends, leaves
//! no trace in the linearity.
//!
//! **Slightly different positions.** A branch is read between its own points along a straight line, across gaps of up
//! to [`BRIDGE_PCT`], and [`STATION_PCT`] beyond its ends.
//!
//! Every value is a weighted sum of nodes: one mean for each position and direction.

use crate::measure::statistics::moments::{mean, real};
use crate::measure::travel::bins::{BIN_PCT, Direction, STATION_PCT, TravelMode, Visit, Visits};
use crate::measure::travel::gap_extrapolation::GapExtrapolation;
use crate::measure::travel::nodes::{Node, Row, Series, sum};
use crate::measure::travel::scatter::NodeNoise;

/// A branch is read along straight lines across gaps of up to this, % of travel.
const BRIDGE_PCT: f64 = 15.0;

/// The curve of a control over travel.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Curve {
    pub nodes: Vec<Node>,
    /// Nodes below this index are of the branch up, the rest of the branch down.
    split: usize,
    pub places: Vec<Place>,
    pub noise: NodeNoise,
    /// How the control was moved.
    pub mode: TravelMode,
    /// Visits used.
    pub visits: usize,
    /// Standard uncertainty of a position, % of travel.
    pub u_travel_pct: f64,
}

/// One position with what is known there.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Place {
    pub travel: f64,
    pub up: Option<Row>,
    pub down: Option<Row>,
    pub halfway: Row,
}

impl Curve {
    /// The curve through these visits; `None` with fewer than three positions.
    pub fn through(visits: &Visits) -> Option<Self> {
        let mut order: Vec<&Visit> = visits.in_order.iter().collect();
        order.sort_by(|a, b| a.travel_pct.total_cmp(&b.travel_pct));
        let clusters = clusters(&order, visits.mode);
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
            mode: visits.mode,
            visits: count,
            u_travel_pct: visits.u_travel_pct,
        };
        let at: Vec<f64> = clusters
            .iter()
            .map(|cluster| curve.place_of(cluster))
            .collect();
        // A bin's mean lies inside it: the very ends are read beyond the outermost bins.
        let (rest, full) = match visits.mode {
            TravelMode::Moving => (Some(0.0), Some(100.0)),
            TravelMode::Stations => (None, None),
        };
        curve.places = rest
            .into_iter()
            .chain(at)
            .chain(full)
            .filter_map(|x| curve.place(x))
            .collect();
        curve.places.dedup_by(|b, a| b.travel <= a.travel);
        curve.noise = NodeNoise::of(&curve);
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

    /// The curve halfway between both branches.
    pub fn halfway(&self) -> Series {
        let rows = self.places.iter().map(|p| (p.travel, p.halfway.clone()));
        let slope = |row: &Row| row.iter().map(|&(i, w)| w * self.slope_at(i)).sum::<f64>();
        let mut series = self.series(rows.collect());
        series.position = series
            .rows
            .iter()
            .map(|row| (slope(row) * self.u_travel_pct).abs())
            .collect();
        for (sd, position) in series.sd.iter_mut().zip(&series.position) {
            *sd = sd.hypot(*position);
        }
        series
    }

    /// Up minus down wherever both are known. The position's uncertainty is not in it: it is the same both ways.
    pub fn gap(&self) -> Series {
        let rows = self
            .places
            .iter()
            .filter_map(|p| Some((p.travel, p.gap()?)));
        self.series(rows.collect())
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

    fn series(&self, rows: Vec<(f64, Row)>) -> Series {
        let spread = |row: &Row| {
            row.iter()
                .map(|&(i, w)| (w * self.noise.repeat[i]).powi(2))
                .sum::<f64>()
                .sqrt()
        };
        Series {
            travel: rows.iter().map(|r| r.0).collect(),
            value: rows.iter().map(|r| self.value(&r.1)).collect(),
            sd: rows.iter().map(|r| spread(&r.1)).collect(),
            node_sd: self.noise.repeat.clone(),
            position: vec![0.0; rows.len()],
            rows: rows.into_iter().map(|r| r.1).collect(),
        }
    }

    pub fn value(&self, row: &Row) -> f64 {
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
        let extrapolation = GapExtrapolation::new(&gap);
        let rows: Vec<Row> = self
            .places
            .iter()
            .map(|place| match (&place.up, &place.down) {
                (Some(up), Some(down)) => sum(up, 0.5, down, 0.5),
                (Some(up), None) => sum(up, 1.0, &extrapolation.at(place.travel), -0.5),
                (None, Some(down)) => sum(down, 1.0, &extrapolation.at(place.travel), 0.5),
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
        let reach = STATION_PCT.max(if self.mode == TravelMode::Moving {
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

    /// Slope of a node's own branch about it, codes per % of travel; 0 when it has no neighbour.
    pub fn slope_at(&self, i: usize) -> f64 {
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
fn clusters<'a>(order: &[&'a Visit], mode: TravelMode) -> Vec<Vec<&'a Visit>> {
    let mut out: Vec<Vec<&Visit>> = Vec::new();
    for &visit in order {
        let same = out.last().and_then(|c| c.first()).is_some_and(|first| {
            let (a, b) = (first.travel_pct, visit.travel_pct);
            match mode {
                TravelMode::Stations => b - a <= STATION_PCT,
                TravelMode::Moving => (a / BIN_PCT).floor() >= (b / BIN_PCT).floor(),
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
