//! The largest difference between going up and coming down at the same travel, with its interval.
//!
//! Belongs here: the size of the gap between the branches. Does not belong here: the branches (`curve`).
//!
//! A capture that went one way only has no hysteresis: `None`, not 0.

use super::bootstrap::{Shapes, Sized, interval, noise};
use super::curve::Curve;
use super::linearity::{single, smooth};

/// Largest gap in codes with its interval, and how many positions were compared.
pub(super) fn largest_gap(curve: &Curve) -> Option<(Sized, f64, usize)> {
    if !curve.both_ways() {
        return None;
    }
    let gap = curve.gap();
    let draws: Vec<Vec<f64>> = noise(&gap.node_sd, curve.dof())
        .iter()
        .map(|nodes| gap.noise(nodes))
        .collect();
    let smooth = smooth(&gap.travel, &gap.value, &gap.sd);
    let single = single(&gap.value);
    let shapes = Shapes {
        seen: &gap.value,
        smooth: smooth.as_deref(),
        single: &single,
    };
    let sized = interval(shapes, &draws, largest);
    Some((sized, largest(&gap.value), gap.travel.len()))
}

fn largest(gap: &[f64]) -> f64 {
    gap.iter().map(|d| d.abs()).fold(0.0, f64::max)
}
