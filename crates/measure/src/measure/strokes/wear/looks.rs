//! Where strokes stand out together: more of them at one place than each stroke's bursts elsewhere explain.

use super::energy::{STANDS_OUT, StrokeEnergy, around};
use crate::measure::statistics::moments::real;
use crate::measure::statistics::robust::median;
use crate::measure::strokes::defects::WornZone;
use crate::measure::strokes::segment::Direction;
use crate::measure::strokes::travel_map::BINS;
use crate::units::maths;
use std::ops::Range;

/// Fewest strokes across a place for anything to recur there.
pub(super) const FEWEST_STROKES: usize = 3;
/// Chance that a quiet place stands out by itself, in a hundred places one.
const CHANCE: f64 = 0.01;
/// Largest probability that a place's recurrence is chance; times 100 bins it bounds false zones at 1 in 1000.
pub(super) const RECURRENCE_CHANCE: f64 = 1e-5;
/// Bins on each side that are looked at together with a bin: closely, widely for sparse strokes, and for wear of much of the
/// travel that is little louder than quiet contact.
const NEIGHBOURS: [usize; 3] = [1, 3, WIDEST];
/// The last of them, for strokes alone that are loud in most of their time: bursts would fill so wide a place.
const WIDEST: usize = 10;

/// Whether a stroke stands out at each bin; `None` where it did not cross.
type StandsOut = [Option<bool>; BINS];

/// The strokes of both directions and of each, looked at closely and with wide neighbourhoods.
pub(super) fn looks(energies: &[StrokeEnergy]) -> Vec<BinEvidence<'_>> {
    let seen: [Vec<StandsOut>; 3] = NEIGHBOURS.map(|neighbours| {
        let of = |e: &StrokeEnergy| {
            std::array::from_fn(|bin| {
                let out = e.stands_out(around(bin, neighbours))?;
                Some(out && (neighbours < WIDEST || e.raised))
            })
        };
        energies.iter().map(of).collect()
    });
    [None, Some(Direction::Up), Some(Direction::Down)]
        .into_iter()
        .flat_map(|way| {
            let goes = move |e: &StrokeEnergy| way.is_none_or(|way| e.direction == way);
            [0, 1, 2].map(|at| {
                let strokes = energies.iter().zip(&seen[at]);
                let (strokes, seen) = strokes.filter(|(e, _)| goes(e)).unzip();
                BinEvidence::at(strokes, seen, NEIGHBOURS[at])
            })
        })
        .collect()
}

/// What strokes show at each bin, looked at with its neighbours.
pub(super) struct BinEvidence<'a> {
    pub strokes: Vec<&'a StrokeEnergy>,
    /// Bins on each side that a bin was looked at with.
    pub neighbours: usize,
    /// Where each of them stands out.
    seen: Vec<StandsOut>,
    /// Bins at which most strokes stand out.
    most: Vec<bool>,
    /// Per stroke, what stands out without recurring.
    pub bursts: Vec<Bursts>,
}

impl<'a> BinEvidence<'a> {
    fn at(strokes: Vec<&'a StrokeEnergy>, seen: Vec<&StandsOut>, neighbours: usize) -> Self {
        let seen: Vec<StandsOut> = seen.into_iter().copied().collect();
        let most: Vec<bool> = (0..BINS)
            .map(|bin| {
                let crossed = seen.iter().filter(|s| s[bin].is_some()).count();
                let out = seen.iter().filter(|s| s[bin] == Some(true)).count();
                crossed >= FEWEST_STROKES && out >= FEWEST_STROKES.max(crossed / 2 + 1)
            })
            .collect();
        // Of a zone on most of the travel hardly more than its edges are left: what its neighbours make stand out there is no
        // burst.
        let edge = if 2 * most.iter().filter(|most| **most).count() > BINS {
            neighbours
        } else {
            0
        };
        let near: Vec<bool> = (0..BINS)
            .map(|bin| most[around(bin, edge)].contains(&true))
            .collect();
        let bursts = seen
            .iter()
            .zip(&strokes)
            .map(|(seen, energy)| Bursts::elsewhere(seen, &near, &energy.count))
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
    pub fn zones(&self) -> Vec<WornZone> {
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
pub(super) struct Bursts {
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
    pub fn chance(self, samples: usize) -> f64 {
        let reach = self.runs * real(samples) + self.loud;
        (1.0 - maths::exp(-reach / self.all.max(1.0))).max(CHANCE)
    }
}

/// Probability that at least `hits` of independent trials with these chances succeed (Poisson-binomial tail).
pub(super) fn tail(chances: &[f64], hits: usize) -> f64 {
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
    let part = |p: f64, q: f64| if p > 0.0 { p * maths::ln(p / q) } else { 0.0 };
    maths::exp(-n * (part(seen, mean) + part(1.0 - seen, 1.0 - mean)))
}

/// Probability of 0, 1, 2, ... successes of independent trials with these chances. Quadratic in the trials.
pub(super) fn hits_of(chances: &[f64]) -> Vec<f64> {
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

#[cfg(test)]
mod tests {
    use super::*;

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
    fn runs_close_together_are_one() {
        let marks = [true, false, true, false, false, false, true];
        assert_eq!(runs(&marks, 1), [0..3, 6..7]);
        assert!(runs(&[], 1).is_empty());
    }
}
