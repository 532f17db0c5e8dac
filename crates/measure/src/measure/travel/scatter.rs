//! How well each node of a curve is known, and seeded draws of its noise.
//!
//! A node's standard uncertainty comes from the noise within its visits (half its own, half that of all visits: one
//! short hold knows its noise badly), or from the scatter between repeated visits where that is more than the noise within
//! explains. Repeats are visits at one position in one direction, and the gap about a parabola, which is the same scatter
//! seen between the branches. Rounding is added in quadrature.
//!
//! At stations the scatter is that of where the hand and the mechanism came to stand: in travel. So it is taken as the
//! same in travel everywhere, in codes in proportion to the curve's slope. The gap is held against a parabola in codes
//! and against one in travel, where play is level however bent the curve (a rheostat under a pull-up is ten times
//! steeper at one end); the nearer of the two counts, in the draws as well.
//!
//! The stated uncertainty of a position is that of the mark: the same at every visit of a station, so no repeat shows
//! it and it is the same both ways. It moves the curve halfway (slope times uncertainty, one draw for each position) and
//! leaves the gap alone. How the hand scatters about the mark is seen between visits and is not counted again.
//!
//! Where the scatter was estimated, the estimate scatters itself. Each draw is therefore held against what the
//! same estimate makes of that draw (Student's t, done by drawing): this also holds where a value and its
//! uncertainty come from the same gaps.

use crate::measure::statistics::bootstrap::{DRAWS, SEED};
use crate::measure::statistics::interval::chi_square_quantile;
use crate::measure::statistics::moments::{mean, real};
use crate::measure::statistics::polynomials;
use crate::measure::travel::bins::{STATION_PCT, TravelMode};
use crate::measure::travel::branches::Branches;
use crate::measure::travel::nodes::{Row, Series};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{ChiSquared, StandardNormal};

/// Degrees of freedom from which the scatter between visits is seen: with few the intervals are wide, and they hold.
const LEAST_DOF: usize = 1;

/// The scatter between visits counts when it is larger than that of this share of visits that only the noise within
/// them scatters. A larger share would leave out scatter that is there, a smaller one make every interval wider.
const PLAIN_SHARE: f64 = 0.9;

/// Where the curve is flatter than this share of its mean slope, scatter in travel counts as on this slope.
const FLATTEST: f64 = 0.1;

/// Standard deviations of the nodes.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct NodeNoise {
    /// Noise, scatter and rounding.
    pub repeat: Vec<f64>,
    /// Degrees of freedom of the scatter between visits, where it is used.
    dof: Option<Dof>,
}

/// Where the degrees of freedom of a scatter come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Dof {
    /// Visits at one position in one direction.
    repeats: usize,
    /// The gap about a parabola.
    gap: usize,
}

impl Dof {
    fn all(self) -> usize {
        self.repeats + self.gap
    }
}

impl NodeNoise {
    /// The noise of both branches' nodes.
    pub fn of(branches: &Branches) -> Self {
        let nodes = &branches.nodes;
        let slopes: Vec<f64> = (0..nodes.len()).map(|i| branches.slope_at(i)).collect();
        let steep = steepness(branches);
        let (mut squares, mut repeats) = (0.0, 0);
        for ((node, slope), steep) in nodes.iter().zip(&slopes).zip(&steep) {
            repeats += node.visits.len() - 1;
            for (travel, code) in &node.visits {
                let expected = node.code + slope * (travel - node.travel);
                squares += ((code - expected) / steep).powi(2);
            }
        }
        let seen = |row: &Row| branches.value(row);
        let (more, gap) = scatter_of_gap(branches, &steep, seen).unwrap_or((0.0, 0));
        let dof = Dof { repeats, gap };
        // Variance of one visit, from the noise within all of them; and as the scatter is counted.
        let of_visits = |weight: &dyn Fn(f64) -> f64| -> Option<f64> {
            let all: Option<Vec<f64>> = nodes
                .iter()
                .zip(&steep)
                .map(|(n, &steep)| Some(n.within? * real(n.visits.len()) / weight(steep)))
                .collect();
            all.map(|all| mean(&all))
        };
        let (within, counted) = (of_visits(&|_| 1.0), of_visits(&|steep| steep * steep));
        let enough = dof.all() >= LEAST_DOF;
        let between = enough
            .then(|| (squares + more) / real(dof.all()))
            .filter(|&between| more_than_noise(between, dof.all(), counted));
        let repeat = nodes
            .iter()
            .zip(&steep)
            .map(|(n, steep)| {
                let visits = real(n.visits.len());
                let usual = within.map(|all| all / visits);
                let own = n
                    .within
                    .zip(usual)
                    .map(|(own, all)| f64::midpoint(own, all));
                let scatter = between.map_or(0.0, |b| b * steep * steep / visits);
                let noise = scatter.max(own.unwrap_or(0.0));
                (n.rounding * n.rounding + noise).sqrt()
            })
            .collect();
        Self {
            repeat,
            dof: between.map(|_| dof),
        }
    }
}

/// Slope at each node over the mean slope, at least [`FLATTEST`]; 1 for a moving control, whose bins are too narrow to
/// tell and whose noise is not the hand's.
fn steepness(branches: &Branches) -> Vec<f64> {
    let slopes: Vec<f64> = (0..branches.nodes.len())
        .map(|i| branches.slope_at(i).abs())
        .collect();
    let usual = mean(&slopes);
    let level = branches.mode == TravelMode::Moving || usual.is_nan() || usual <= 0.0;
    slopes
        .iter()
        .map(|slope| {
            if level {
                1.0
            } else {
                (slope / usual).max(FLATTEST)
            }
        })
        .collect()
}

/// Whether visits scatter more than the noise within them explains; always so when that is not known.
fn more_than_noise(between: f64, dof: usize, within: Option<f64>) -> bool {
    let dof = real(dof);
    within.is_none_or(|within| between * dof > within * chi_square_quantile(PLAIN_SHARE, dof))
}

/// Draws of the noise of a series of values of a branches.
pub(super) fn draws(branches: &Branches, noise: &NodeNoise, series: &Series) -> Vec<Vec<f64>> {
    let mut chance = ChaCha8Rng::seed_from_u64(SEED);
    let steep = steepness(branches);
    let repeats = noise
        .dof
        .and_then(|dof| ChiSquared::new(real(dof.repeats)).ok());
    (0..DRAWS)
        .map(|_| {
            let plain: Vec<f64> = series
                .node_sd
                .iter()
                .map(|_| chance.sample(StandardNormal))
                .collect();
            let scale = noise.dof.map_or(1.0, |dof| {
                let own = repeats.map_or(0.0, |of| chance.sample::<f64, _>(of));
                let visit =
                    |i: usize| plain[i] * steep[i] / real(branches.nodes[i].visits.len()).sqrt();
                let drawn = |row: &Row| row.iter().map(|&(i, w)| w * visit(i)).sum();
                let gap =
                    scatter_of_gap(branches, &steep, drawn).map_or(0.0, |(squares, _)| squares);
                (real(dof.all()) / (own + gap)).sqrt()
            });
            let nodes: Vec<f64> = plain
                .iter()
                .zip(&series.node_sd)
                .map(|(z, sd)| z * sd * scale)
                .collect();
            let mut values = series.noise(&nodes);
            for (value, u) in values
                .iter_mut()
                .zip(&series.position)
                .filter(|(_, u)| **u > 0.0)
            {
                *value += u * chance.sample::<f64, _>(StandardNormal);
            }
            values
        })
        .collect()
}

/// Squares, in units of a visit's variance on the mean slope, and degrees of freedom of the scatter that the gap shows
/// about a parabola in travel or in codes, whichever it is nearer to; `value` reads a branch.
fn scatter_of_gap(
    branches: &Branches,
    steep: &[f64],
    value: impl Fn(&Row) -> f64,
) -> Option<(f64, usize)> {
    let (mut x, mut gap, mut sd, mut slopes) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for place in &branches.places {
        let (Some(up), Some(down)) = (&place.up, &place.down) else {
            continue;
        };
        // Only where both branches have a node of their own.
        let own = |row: &Row| {
            row.iter()
                .max_by(|a, b| a.1.total_cmp(&b.1))
                .and_then(|&(i, _)| branches.nodes.get(i))
                .filter(|node| (node.travel - place.travel).abs() <= STATION_PCT)
                .map(|node| real(node.visits.len()))
        };
        let slope = |row: &Row| row.iter().map(|&(i, w)| w * steep[i]).sum::<f64>();
        if let (Some(ups), Some(downs)) = (own(up), own(down)) {
            x.push(place.travel);
            let (a, b) = (slope(up), slope(down));
            gap.push(value(up) - value(down));
            sd.push((a * a / ups + b * b / downs).sqrt());
            slopes.push(f64::midpoint(a, b));
        }
    }
    let over = |values: &[f64]| -> Vec<f64> {
        let pairs = values.iter().zip(&slopes);
        pairs.map(|(value, slope)| value / slope).collect()
    };
    // At few places the shape of the gap and the scatter about it cannot be told apart: then what is not level, or not straight,
    // counts as scatter.
    let most = x.len().saturating_sub(2).clamp(1, 3);
    let in_codes = polynomials::fits(&x, &gap, &sd, most).pop()?;
    let in_travel = polynomials::fits(&x, &over(&gap), &over(&sd), most).pop()?;
    let freedom = x.len().checked_sub(in_codes.coefficients)?;
    (freedom > 0).then_some((in_codes.chi_square.min(in_travel.chi_square), freedom))
}
