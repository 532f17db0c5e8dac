//! From visits to the curve of a control: both branches, the line halfway between them, the gap, and their noise.
//!
//! **Halfway.** Linearity is that of the curve halfway between going up and coming down. Where only one branch was
//! measured (a turning point is reached from one side only) the other lies a gap away, the gap carried on from where it is
//! known: along the constant, line or parabola that the noise justifies, or, where none of them follows it, along a
//! straight line through neighbours. So a gap that is the same everywhere, or one that closes towards the ends, leaves
//! no trace in the linearity.
//!
//! Every value is a weighted sum of nodes: one mean for each position and direction.

use crate::measure::statistics::moments::mean;
use crate::measure::travel::bins::{TravelMode, Visits};
use crate::measure::travel::branches::{Branches, Place};
use crate::measure::travel::gap_extrapolation::GapExtrapolation;
use crate::measure::travel::nodes::{Row, Series};
use crate::measure::travel::scatter::{NodeNoise, draws};
use crate::units::maths;

/// The curve of a control over travel.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Curve {
    branches: Branches,
    noise: NodeNoise,
    /// Visits used.
    pub visits: usize,
    /// Standard uncertainty of a position, % of travel.
    pub u_travel_pct: f64,
}

impl Curve {
    /// The curve through these visits; `None` with fewer than three positions.
    pub fn through(visits: &Visits) -> Option<Self> {
        let mut branches = Branches::through(visits)?;
        let noise = NodeNoise::of(&branches);
        let gap = gap(&branches, &noise);
        branches.settle_halfway(&GapExtrapolation::new(&gap));
        Some(Self {
            visits: branches.nodes.iter().map(|node| node.visits.len()).sum(),
            branches,
            noise,
            u_travel_pct: visits.u_travel_pct,
        })
    }

    /// How the control was moved.
    pub fn mode(&self) -> TravelMode {
        self.branches.mode
    }

    /// Positions on the curve.
    pub fn positions(&self) -> usize {
        self.branches.places.len()
    }

    /// Whether the curve was gone both ways.
    pub fn both_ways(&self) -> bool {
        self.branches
            .places
            .iter()
            .filter(|p| p.gap().is_some())
            .count()
            >= 2
    }

    /// The curve halfway between both branches.
    pub fn halfway(&self) -> Series {
        let rows = self
            .branches
            .places
            .iter()
            .map(|p| (p.travel, p.halfway.clone()));
        let slope = |row: &Row| {
            row.iter()
                .map(|&(i, w)| w * self.branches.slope_at(i))
                .sum::<f64>()
        };
        let mut series = series(&self.branches, &self.noise, rows.collect());
        series.position = series
            .rows
            .iter()
            .map(|row| (slope(row) * self.u_travel_pct).abs())
            .collect();
        for (sd, position) in series.sd.iter_mut().zip(&series.position) {
            *sd = maths::hypot(*sd, *position);
        }
        series
    }

    /// Up minus down wherever both are known. The position's uncertainty is not in it: it is the same both ways.
    pub fn gap(&self) -> Series {
        gap(&self.branches, &self.noise)
    }

    /// What was measured at the first and at the last position: mean of both branches, nothing carried on.
    pub fn measured_ends(&self) -> Option<(f64, f64)> {
        let measured = |place: &Place| {
            let known: Vec<f64> = [&place.up, &place.down]
                .into_iter()
                .flatten()
                .map(|row| self.branches.value(row))
                .collect();
            mean(&known)
        };
        Some((
            measured(self.branches.places.first()?),
            measured(self.branches.places.last()?),
        ))
    }

    /// Seeded draws of the noise of one of its series.
    pub fn draws(&self, series: &Series) -> Vec<Vec<f64>> {
        draws(&self.branches, &self.noise, series)
    }

    /// Travel, and the codes going up and coming down, at each position.
    pub fn both_branches(&self) -> impl Iterator<Item = (f64, Option<f64>, Option<f64>)> {
        self.branches.places.iter().map(|place| {
            let read = |row: &Option<Row>| row.as_ref().map(|row| self.branches.value(row));
            (place.travel, read(&place.up), read(&place.down))
        })
    }
}

/// Up minus down wherever both are known.
fn gap(branches: &Branches, noise: &NodeNoise) -> Series {
    let rows = branches.places.iter();
    let rows = rows.filter_map(|p| Some((p.travel, p.gap()?)));
    series(branches, noise, rows.collect())
}

fn series(branches: &Branches, noise: &NodeNoise, rows: Vec<(f64, Row)>) -> Series {
    let spread = |row: &Row| {
        row.iter()
            .map(|&(i, w)| (w * noise.repeat[i]).powi(2))
            .sum::<f64>()
            .sqrt()
    };
    Series {
        travel: rows.iter().map(|r| r.0).collect(),
        value: rows.iter().map(|r| branches.value(&r.1)).collect(),
        sd: rows.iter().map(|r| spread(&r.1)).collect(),
        node_sd: noise.repeat.clone(),
        position: vec![0.0; rows.len()],
        rows: rows.into_iter().map(|r| r.1).collect(),
    }
}
