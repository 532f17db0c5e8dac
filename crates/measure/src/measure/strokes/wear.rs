//! Wear: where on the travel noise stands out, and whether it does so in stroke after stroke.
//!
//! The travel is divided into bins of 1 %. In each stroke each place's noise (over three neighbouring bins, or seven
//! where samples are sparse) is held against that stroke's own; a place stands out when its variance ratio is above 4
//! (twice the noise) and above what chance gives one place in a hundred. A worn zone is where most strokes stand out at the
//! *same* place, more of them than each stroke's bursts elsewhere explain (a burst in time falls on another place in every
//! stroke, on slow places more often). Strokes of one direction alone may agree on a zone, too.

mod sight;

use crate::measure::statistics::moments::real;
use crate::measure::statistics::robust::median;
use crate::measure::strokes::defects::WornZone;
use crate::measure::strokes::path::ROUNDING_SD;
use crate::measure::strokes::segment::Direction;
use crate::measure::strokes::stroke_noise::{Residuals, StrokeNoise};
use crate::measure::strokes::travel_map::{BINS, BinNoise, TravelBin, TravelMap};
use std::ops::Range;

/// Fewest strokes across a place for anything to recur there.
const FEWEST_STROKES: usize = 3;
/// Least ratio of variances for a place to stand out: twice the noise.
const STANDS_OUT: f64 = 4.0;
/// Normal quantile of the 1 % chance that a quiet place stands out by itself.
const CHANCE_Z: f64 = 2.326_347_874_040_841;
/// That chance.
const CHANCE: f64 = 0.01;
/// Largest probability that a place's recurrence is chance; times 100 bins it bounds false zones at 1 in 1000.
const RECURRENCE_CHANCE: f64 = 1e-5;
/// Bins on each side that are looked at together with a bin, first pass and wide pass for sparse strokes.
const NEIGHBOURS: [usize; 2] = [1, 3];
/// Floor under a stroke's noise in codes: slow rounding alone makes residuals of up to half a code in places.
const FLOOR_CODE: f64 = 1.04 * ROUNDING_SD;
/// Least chance of finding a worn zone for "no zones" to mean anything.
pub(crate) const SEEN_CHANCE: f64 = 0.99;

/// Sums of squared residuals over the bins of one stroke.
#[derive(Debug, Clone)]
pub(crate) struct StrokeEnergy {
    direction: Direction,
    /// Sum of squares in codes squared, per bin.
    squares: Vec<f64>,
    /// Samples, per bin.
    count: Vec<usize>,
    /// Independent residuals per sample.
    independent: f64,
    /// The stroke's own noise variance, code squared.
    base: f64,
}

/// What the strokes' noise says about wear.
#[derive(Debug, Clone)]
pub(crate) struct Wear {
    pub zones: Vec<WornZone>,
    pub map: TravelMap,
    /// Strokes across the place that most strokes crossed.
    pub strokes: usize,
    /// Chance of finding a zone of five times the noise, 6 % wide, where it is worst to find.
    pub seeing: f64,
}

/// Maps the noise of one channel's strokes and finds its worn zones; `energies` are of the same strokes as `noises`, and
/// `common` is the noise of all. `None` without strokes.
pub(crate) fn wear(
    noises: &[StrokeNoise],
    mut energies: Vec<StrokeEnergy>,
    common: f64,
) -> Option<Wear> {
    if energies.is_empty() {
        return None;
    }
    for (energy, noise) in energies.iter_mut().zip(noises) {
        energy.base = noise.sd(common, FLOOR_CODE).powi(2);
    }
    let strokes = (0..BINS)
        .map(|bin| energies.iter().filter(|e| e.count[bin] > 0).count())
        .max()?;
    let looks = looks(&energies);
    Some(Wear {
        zones: zones(&looks),
        map: map(&energies),
        strokes,
        seeing: sight::chance_of_seeing(&looks),
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

/// The bin of a travel in percent, if it is on the travel.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // checked to be in 0 .. 100
fn bin_of(travel_pct: f64) -> Option<usize> {
    (0.0..100.0)
        .contains(&travel_pct)
        .then_some(travel_pct as usize)
}

impl StrokeEnergy {
    /// Of one stroke's residuals; its own noise is not known yet.
    pub fn of(direction: Direction, residuals: &Residuals) -> Self {
        let mut energy = Self {
            direction,
            squares: vec![0.0; BINS],
            count: vec![0; BINS],
            independent: residuals.independent,
            base: f64::NAN,
        };
        for (travel_pct, residual) in residuals.points() {
            if let Some(bin) = bin_of(travel_pct) {
                energy.squares[bin] += residual * residual;
                energy.count[bin] += 1;
            }
        }
        energy
    }

    /// Samples over some bins.
    fn samples(&self, bins: Range<usize>) -> usize {
        self.count[bins].iter().sum()
    }

    /// Variance ratio to the stroke's own noise over some bins, with the independent residuals behind it.
    fn ratio(&self, bins: Range<usize>) -> Option<(f64, f64)> {
        let count = self.samples(bins.clone());
        let squares: f64 = self.squares[bins].iter().sum();
        let independent = (real(count) * self.independent).max(1.0);
        (count > 0).then(|| (squares / real(count) / self.base, independent))
    }

    /// Whether some bins stand out in this stroke; `None` when it did not cross them.
    fn stands_out(&self, bins: Range<usize>) -> Option<bool> {
        let (ratio, n) = self.ratio(bins)?;
        Some(ratio > STANDS_OUT && ratio > chance_ratio(n))
    }
}

/// The variance ratio that chance exceeds once in a hundred: chi-square over its degrees of freedom.
///
/// Wilson and Hilferty 1931; within 1 % from one degree of freedom on.
fn chance_ratio(n: f64) -> f64 {
    let part = 2.0 / (9.0 * n);
    (1.0 - part + CHANCE_Z * part.sqrt()).powi(3)
}

fn around(bin: usize, neighbours: usize) -> Range<usize> {
    bin.saturating_sub(neighbours)..(bin + neighbours + 1).min(BINS)
}

/// Whether a stroke stands out at each bin; `None` where it did not cross.
type Seen = [Option<bool>; BINS];

/// The strokes of both directions and of each, looked at closely and with wide neighbourhoods.
fn looks(energies: &[StrokeEnergy]) -> Vec<Looked<'_>> {
    let seen: [Vec<Seen>; 2] = NEIGHBOURS.map(|neighbours| {
        let of =
            |e: &StrokeEnergy| std::array::from_fn(|bin| e.stands_out(around(bin, neighbours)));
        energies.iter().map(of).collect()
    });
    [None, Some(Direction::Up), Some(Direction::Down)]
        .into_iter()
        .flat_map(|way| {
            let goes = move |e: &StrokeEnergy| way.is_none_or(|way| e.direction == way);
            [0, 1].map(|at| {
                let strokes = energies.iter().zip(&seen[at]);
                let (strokes, seen) = strokes.filter(|(e, _)| goes(e)).unzip();
                Looked::at(strokes, seen, NEIGHBOURS[at])
            })
        })
        .collect()
}

fn zones(looks: &[Looked<'_>]) -> Vec<WornZone> {
    let mut zones: Vec<WornZone> = Vec::new();
    for zone in looks.iter().flat_map(Looked::zones) {
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

/// What strokes show at each bin, looked at with its neighbours.
struct Looked<'a> {
    strokes: Vec<&'a StrokeEnergy>,
    /// Bins on each side that a bin was looked at with.
    neighbours: usize,
    /// Where each of them stands out.
    seen: Vec<Seen>,
    /// Bins at which most strokes stand out.
    most: Vec<bool>,
    /// Per stroke, what stands out without recurring.
    bursts: Vec<Bursts>,
}

impl<'a> Looked<'a> {
    fn at(strokes: Vec<&'a StrokeEnergy>, seen: Vec<&Seen>, neighbours: usize) -> Self {
        let seen: Vec<Seen> = seen.into_iter().copied().collect();
        let most: Vec<bool> = (0..BINS)
            .map(|bin| {
                let crossed = seen.iter().filter(|s| s[bin].is_some()).count();
                let out = seen.iter().filter(|s| s[bin] == Some(true)).count();
                crossed >= FEWEST_STROKES && out >= FEWEST_STROKES.max(crossed / 2 + 1)
            })
            .collect();
        let bursts = seen
            .iter()
            .zip(&strokes)
            .map(|(seen, energy)| Bursts::elsewhere(seen, &most, &energy.count))
            .collect();
        Self {
            strokes,
            neighbours,
            seen,
            most,
            bursts,
        }
    }

    /// Worn zones that these strokes agree on.
    fn zones(&self) -> Vec<WornZone> {
        let recurs = |bin: usize| {
            let out = self.seen.iter().filter(|s| s[bin] == Some(true)).count();
            let chances: Vec<f64> = (0..self.seen.len())
                .filter(|&stroke| self.seen[stroke][bin].is_some())
                .map(|stroke| {
                    let around = around(bin, self.neighbours);
                    self.bursts[stroke].chance(self.strokes[stroke].samples(around))
                })
                .collect();
            tail_bound(&chances, out) < RECURRENCE_CHANCE || tail(&chances, out) < RECURRENCE_CHANCE
        };
        let worn: Vec<bool> = (0..BINS).map(|bin| self.most[bin] && recurs(bin)).collect();
        runs(&worn, 2)
            .into_iter()
            .filter_map(|run| zone(&self.strokes, trimmed(&self.strokes, run)))
            .collect()
    }
}

/// What stands out in one stroke without recurring there in others, in samples.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Bursts {
    /// Runs of bins that stand out.
    runs: f64,
    /// Samples in them.
    loud: f64,
    /// Samples in all bins.
    all: f64,
}

impl Bursts {
    fn elsewhere(seen: &[Option<bool>], most: &[bool], count: &[usize]) -> Self {
        let out: Vec<bool> = seen
            .iter()
            .zip(most)
            .map(|(seen, most)| *seen == Some(true) && !most)
            .collect();
        let samples = |pick: &dyn Fn(usize) -> bool| {
            let picked = (0..out.len()).filter(|&bin| pick(bin));
            real(picked.map(|bin| count[bin]).sum())
        };
        Self {
            runs: real(runs(&out, 0).len()),
            loud: samples(&|bin| out[bin]),
            all: samples(&|bin| !most[bin]),
        }
    }

    /// Chance that such a burst touches a place where the stroke spent some samples: a slow place is hit more often.
    ///
    /// Bursts begin at random in time; one that begins within its own length before the place or within it touches it.
    fn chance(self, samples: usize) -> f64 {
        let reach = self.runs * real(samples) + self.loud;
        (1.0 - (-reach / self.all.max(1.0)).exp()).max(CHANCE)
    }
}

/// Probability that at least `hits` of independent trials with these chances succeed (Poisson-binomial tail).
fn tail(chances: &[f64], hits: usize) -> f64 {
    hits_of(chances).iter().skip(hits).sum()
}

/// An upper bound of [`tail`] in one pass, which decides most of what hundreds of strokes show:
/// `exp(-n D(hits/n || mean chance))`, D the relative entropy of two coins (Hoeffding 1963, theorem 1).
fn tail_bound(chances: &[f64], hits: usize) -> f64 {
    let n = real(chances.len());
    let (mean, seen) = (chances.iter().sum::<f64>() / n, real(hits) / n);
    if !(mean > 0.0 && mean < seen && seen <= 1.0) {
        return 1.0;
    }
    let part = |p: f64, q: f64| if p > 0.0 { p * (p / q).ln() } else { 0.0 };
    (-n * (part(seen, mean) + part(1.0 - seen, 1.0 - mean))).exp()
}

/// Probability of 0, 1, 2, ... successes of independent trials with these chances. Quadratic in the trials.
fn hits_of(chances: &[f64]) -> Vec<f64> {
    let mut probability = vec![0.0; chances.len() + 1];
    probability[0] = 1.0;
    for (done, p) in chances.iter().enumerate() {
        for k in (0..=done).rev() {
            probability[k + 1] += probability[k] * p;
            probability[k] *= 1.0 - p;
        }
    }
    probability
}

/// Runs of true, those at most `bridge` apart joined.
fn runs(marks: &[bool], bridge: usize) -> Vec<Range<usize>> {
    let mut runs: Vec<Range<usize>> = Vec::new();
    for at in (0..marks.len()).filter(|&at| marks[at]) {
        match runs.last_mut() {
            Some(run) if at <= run.end + bridge => run.end = at + 1,
            _ => runs.push(at..at + 1),
        }
    }
    runs
}

/// A run without the outer bins that only their neighbours made stand out.
fn trimmed(energies: &[&StrokeEnergy], run: Range<usize>) -> Range<usize> {
    let loud = |bin: usize| {
        let mut ratios: Vec<f64> = energies
            .iter()
            .filter_map(|e| e.ratio(bin..bin + 1))
            .map(|(ratio, _)| ratio)
            .collect();
        median(&mut ratios).is_some_and(|ratio| ratio > STANDS_OUT)
    };
    let start = run.clone().find(|&bin| loud(bin));
    let end = run.clone().rev().find(|&bin| loud(bin));
    match (start, end) {
        (Some(start), Some(end)) => start..end + 1,
        _ => run,
    }
}

fn zone(energies: &[&StrokeEnergy], bins: Range<usize>) -> Option<WornZone> {
    let crossing: Vec<bool> = energies
        .iter()
        .filter_map(|e| e.stands_out(bins.clone()))
        .collect();
    let mut ratios: Vec<f64> = energies
        .iter()
        .filter_map(|e| e.ratio(bins.clone()))
        .map(|(ratio, _)| ratio)
        .collect();
    let seen = crossing.iter().filter(|out| **out).count();
    (seen >= FEWEST_STROKES).then_some(WornZone {
        from_pct: real(bins.start),
        to_pct: real(bins.end),
        noise_ratio: median(&mut ratios)?.sqrt(),
        strokes_seen: seen as u64,
        strokes: crossing.len() as u64,
    })
}

fn map(energies: &[StrokeEnergy]) -> TravelMap {
    let mut bases: Vec<f64> = energies.iter().map(|e| e.base.sqrt()).collect();
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
    use statrs::distribution::{ChiSquared, ContinuousCDF};

    #[test]
    fn recurrence_by_chance_is_binomial() {
        // Hand-worked: at least 2 of 3 with chance 1/2 each is 1/2; all 3 with 0.1, 0.2, 0.3 is 0.006.
        assert!((tail(&[0.5; 3], 2) - 0.5).abs() < 1e-15);
        assert!((tail(&[0.1, 0.2, 0.3], 3) - 0.006).abs() < 1e-15);
        assert!((tail(&[], 0) - 1.0).abs() < 1e-15);
        assert!(tail(&[0.5], 2).abs() < 1e-15);
    }

    #[test]
    fn the_bound_is_above_the_tail_and_near_it_for_one_outcome() {
        // By hand: all of n hit with chance p is p^n, and there the bound is exact.
        assert!((tail_bound(&[0.1; 3], 3) - 0.001).abs() < 1e-15);
        assert!((tail_bound(&[0.5; 4], 1) - 1.0).abs() < 1e-15);
        assert!((tail_bound(&[], 0) - 1.0).abs() < 1e-15);
        for hits in 0..=40 {
            let chances: Vec<f64> = (0..40).map(|k| 0.01 + 0.02 * real(k % 10)).collect();
            assert!(
                tail_bound(&chances, hits) >= tail(&chances, hits) * (1.0 - 1e-12),
                "{hits}"
            );
        }
    }

    #[test]
    fn bursts_hit_slow_places_more_often() {
        // Hand-worked: one run of 20 samples among 200; a place of 20 is touched with 1 - exp(-40 / 200).
        let seen = [Some(false), Some(true), Some(false), Some(true), None];
        let most = [false, false, false, true, false];
        let bursts = Bursts::elsewhere(&seen, &most, &[100, 20, 80, 50, 0]);
        assert!((bursts.chance(20) - (1.0 - (-0.2_f64).exp())).abs() < 1e-15);
        assert!(bursts.chance(100) > bursts.chance(20));
        let calm = Bursts::elsewhere(&[Some(false)], &[false], &[10]);
        assert!((calm.chance(10) - CHANCE).abs() < 1e-15);
    }

    #[test]
    fn chance_ratio_is_a_chi_square_quantile() {
        // Against statrs: 99 % quantile of chi-square over its degrees of freedom; Wilson-Hilferty is good to 1 %.
        for n in [1.0, 2.0, 5.0, 20.0, 200.0] {
            let exact = ChiSquared::new(n).unwrap().inverse_cdf(0.99) / n;
            assert!((chance_ratio(n) / exact - 1.0).abs() < 0.01, "{n}");
        }
    }

    #[test]
    fn runs_close_together_are_one() {
        let marks = [true, false, true, false, false, false, true];
        assert_eq!(runs(&marks, 1), [0..3, 6..7]);
        assert!(runs(&[], 1).is_empty());
        assert_eq!(
            (bin_of(-0.1), bin_of(100.0), bin_of(f64::NAN)),
            (None, None, None)
        );
        assert_eq!((bin_of(0.0), bin_of(99.99)), (Some(0), Some(99)));
    }

    #[test]
    fn no_strokes_no_map() {
        assert!(wear(&[], Vec::new(), 1.0).is_none());
    }
}
