//! Wear: where on the travel noise stands out, and whether it does so in stroke after stroke.
//!
//! The travel is divided into bins of 1 %. In each stroke each place's noise (over three neighbouring bins, or seven
//! where samples are sparse) is held against that stroke's own; a place stands out when its variance ratio is above 4
//! (twice the noise) and above what chance gives one place in a hundred. A worn zone is where most strokes stand out at the
//! *same* place, more of them than each stroke's bursts elsewhere explain (a burst in time falls on another place in every
//! stroke, on slow places more often). Strokes of one direction alone may agree on a zone, too.

mod energy;
mod looks;
mod sight;

pub(crate) use energy::{STANDS_OUT, StrokeEnergy};

use crate::measure::statistics::moments::real;
use crate::measure::statistics::robust::median;
use crate::measure::strokes::defects::WornZone;
use crate::measure::strokes::path::ROUNDING_SD;
use crate::measure::strokes::segment::Direction;
use crate::measure::strokes::stroke_noise::StrokeNoise;
use crate::measure::strokes::travel_map::{BINS, BinNoise, TravelBin, TravelMap};
use looks::{BinEvidence, FEWEST_STROKES, looks};
use std::ops::Range;

/// Floor under a stroke's noise in codes: slow rounding alone makes residuals of up to half a code in places.
pub(crate) const FLOOR_CODE: f64 = 1.04 * ROUNDING_SD;
/// Least chance of finding a worn zone for "no zones" to mean anything.
pub(crate) const SEEN_CHANCE: f64 = 0.99;

/// Largest ratio of variances of strokes that are quiet somewhere.
const QUIET: f64 = 2.0;
/// Fewest independent residuals that tell it.
const QUIET_SAMPLES: f64 = 10.0;
/// Least width of an end that was not seen for the count to leave it open, in bins of 1 %.
const UNSEEN_BINS: usize = 3;

/// What the strokes' noise says about wear.
#[derive(Debug, Clone)]
pub(crate) struct Wear {
    pub zones: Vec<WornZone>,
    pub map: TravelMap,
    /// Strokes across the place that most strokes crossed.
    pub strokes: usize,
    /// Chance of finding a zone of five times the noise, 6 % wide, where it is worst to find.
    pub seeing: f64,
    /// Those of them that may be none: that strokes of one direction alone show, as something in step with the hand would.
    pub open: Vec<WornZone>,
    /// Ends of the travel that hardly a stroke reached, % of travel.
    pub unseen: Vec<Range<usize>>,
}

/// Maps the noise of one channel's strokes and finds its worn zones; `energies` are of the same strokes as `noises`,
/// `common` is the noise of all, and `still` says what noise a place has with nothing moving, bin and samples in it given.
/// `None` without strokes.
pub(crate) fn wear(
    noises: &[StrokeNoise],
    mut energies: Vec<StrokeEnergy>,
    common: f64,
    still: Option<&dyn Fn(usize, usize) -> f64>,
) -> Option<Wear> {
    if energies.is_empty() {
        return None;
    }
    for (energy, noise) in energies.iter_mut().zip(noises) {
        energy.hold_against(noise.sd(common, FLOOR_CODE).powi(2), still);
    }
    let strokes = (0..BINS)
        .map(|bin| energies.iter().filter(|e| e.count[bin] > 0).count())
        .max()?;
    let looks = looks(&energies);
    let seen = seen(&energies);
    let zones = zones(&looks);
    Some(Wear {
        zones: zones.clone(),
        open: zones
            .iter()
            .filter(|zone| is_one_way(&energies, zone))
            .copied()
            .collect(),
        map: map(&energies),
        strokes,
        seeing: sight::chance_of_seeing(&looks, &seen),
        unseen: [0..seen.start, seen.end..BINS]
            .into_iter()
            .filter(|end| end.len() >= UNSEEN_BINS)
            .collect(),
    })
}

/// Zones of two tracks of one control that overlap: the tracks share supply, wiring and shaft, so a zone in both at
/// once is not wear of one track. Pairs of indices into `a` and `b`.
#[must_use]
pub fn shared_zones(a: &[WornZone], b: &[WornZone]) -> Vec<(usize, usize)> {
    let overlap = |a: &WornZone, b: &WornZone| a.from_pct < b.to_pct && b.from_pct < a.to_pct;
    let pairs = |(i, zone): (usize, &WornZone)| {
        b.iter()
            .enumerate()
            .filter(move |(_, other)| overlap(zone, other))
            .map(move |(j, _)| (i, j))
            .collect::<Vec<_>>()
    };
    a.iter().enumerate().flat_map(pairs).collect()
}

/// The travel without the ends that fewer strokes reached than can show that something recurs.
fn seen(energies: &[StrokeEnergy]) -> Range<usize> {
    let few = |bin: &usize| {
        let crossed = energies.iter().filter(|e| e.count[*bin] > 0);
        crossed.count() < FEWEST_STROKES
    };
    let low = (0..BINS).take_while(few).count();
    let high = (low..BINS).rev().take_while(few).count();
    low..BINS - high
}

/// Whether strokes of one direction show a zone in which those of the other, enough of them, are quiet.
fn is_one_way(energies: &[StrokeEnergy], zone: &WornZone) -> bool {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // whole bins
    let bins = zone.from_pct as usize..zone.to_pct as usize;
    [Direction::Up, Direction::Down].into_iter().any(|way| {
        let (mut squares, mut independent) = (0.0, 0.0);
        for energy in energies.iter().filter(|energy| energy.direction == way) {
            if let Some((ratio, n)) = energy.ratio(bins.clone()) {
                squares += ratio * n;
                independent += n;
            }
        }
        independent >= QUIET_SAMPLES && squares < QUIET * independent
    })
}

fn zones(looks: &[BinEvidence<'_>]) -> Vec<WornZone> {
    let mut zones: Vec<WornZone> = Vec::new();
    for zone in looks.iter().flat_map(BinEvidence::zones) {
        let known = zones
            .iter()
            .any(|z| z.from_pct <= zone.to_pct && zone.from_pct <= z.to_pct);
        if !known {
            zones.push(zone);
        }
    }
    zones.sort_by(|a, b| a.from_pct.total_cmp(&b.from_pct));
    zones
}

fn map(energies: &[StrokeEnergy]) -> TravelMap {
    let mut bases: Vec<f64> = energies.iter().filter_map(StrokeEnergy::quiet).collect();
    TravelMap {
        bins: (0..BINS).map(|bin| travel_bin(energies, bin)).collect(),
        overall: median(&mut bases).unwrap_or(FLOOR_CODE),
        strokes: energies.len(),
    }
}

fn travel_bin(energies: &[StrokeEnergy], bin: usize) -> TravelBin {
    let crossing: Vec<_> = energies
        .iter()
        .filter(|e| e.count[bin] > 0)
        .map(|e| {
            let (count, squares) = (e.count[bin], e.squares[bin]);
            (e.direction, count, squares, (squares / real(count)).sqrt())
        })
        .collect();
    let noise = |way: Option<Direction>| {
        let (mut count, mut squares, mut each) = (0, 0.0, Vec::with_capacity(crossing.len()));
        for stroke in crossing
            .iter()
            .filter(|stroke| way.is_none_or(|way| way == stroke.0))
        {
            count += stroke.1;
            squares += stroke.2;
            each.push(stroke.3);
        }
        BinNoise {
            count,
            strokes: each.len(),
            rms: (count > 0).then(|| (squares / real(count)).sqrt()),
            median: median(&mut each),
        }
    };
    TravelBin {
        from_pct: real(bin),
        to_pct: real(bin + 1),
        both: noise(None),
        up: noise(Some(Direction::Up)),
        down: noise(Some(Direction::Down)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_strokes_no_map() {
        assert!(wear(&[], Vec::new(), 1.0, None).is_none());
    }
}
