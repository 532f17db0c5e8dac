//! Visits as nodes of two branches, up and down, and how a branch is read between them.
//!
//! **Slightly different positions.** A branch is read between its own points along a straight line, across gaps of up
//! to [`BRIDGE_PCT`], and [`STATION_PCT`] beyond its ends.

use crate::measure::statistics::moments::{mean, real};
use crate::measure::travel::bins::{BIN_PCT, Direction, STATION_PCT, TravelMode, Visit, Visits};
use crate::measure::travel::gap_extrapolation::GapExtrapolation;
use crate::measure::travel::nodes::{Node, Row, sum};

/// A branch is read along straight lines across gaps of up to this, % of travel.
const BRIDGE_PCT: f64 = 15.0;

/// Both branches of a control's curve.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Branches {
    pub nodes: Vec<Node>,
    /// Nodes below this index are of the branch up, the rest of the branch down.
    split: usize,
    pub places: Vec<Place>,
    /// How the control was moved.
    pub mode: TravelMode,
}

/// One position with what is known there.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Place {
    pub travel: f64,
    pub up: Option<Row>,
    pub down: Option<Row>,
    pub halfway: Row,
}

impl Branches {
    /// The branches through these visits; `None` with fewer than three positions.
    pub fn through(visits: &Visits) -> Option<Self> {
        let mut order: Vec<&Visit> = visits.in_order.iter().collect();
        order.sort_by(|a, b| a.travel_pct.total_cmp(&b.travel_pct));
        let clusters = clusters(&order, visits.mode);
        if clusters.len() < 3 {
            return None;
        }
        let up = nodes(&clusters, Direction::Up);
        let down = nodes(&clusters, Direction::Down);
        let mut branches = Self {
            split: up.len(),
            nodes: [up, down].concat(),
            places: Vec::new(),
            mode: visits.mode,
        };
        let at = clusters.iter().map(|cluster| branches.place_of(cluster));
        // A bin's mean lies inside it: the very ends are read beyond the outermost bins.
        let (rest, full) = match visits.mode {
            TravelMode::Moving => (Some(0.0), Some(100.0)),
            TravelMode::Stations => (None, None),
        };
        let at = rest.into_iter().chain(at).chain(full);
        branches.places = at.filter_map(|x| branches.place(x)).collect();
        branches.places.dedup_by(|b, a| b.travel <= a.travel);
        Some(branches)
    }

    pub fn value(&self, row: &Row) -> f64 {
        row.iter().map(|&(i, w)| w * self.nodes[i].code).sum()
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

    /// Fills in the rows halfway between the branches.
    pub fn settle_halfway(&mut self, extrapolation: &GapExtrapolation<'_>) {
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
}

impl Place {
    /// Up minus down, where both are known.
    pub fn gap(&self) -> Option<Row> {
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
