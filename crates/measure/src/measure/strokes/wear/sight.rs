//! Whether a worn zone would have been seen at all: strokes too fast for the rate put too few samples on a zone, and few
//! strokes cannot show that it recurs.
//!
//! The zone that must be seen has five times the noise on 6 % of the travel. In one stroke its variance ratio follows a
//! chi-square over the independent residuals that the stroke has there; it is found when so many strokes stand out that
//! bursts do not explain it. Both are computed from the samples that the strokes really have at each place; the place
//! where the zone is worst to find counts.

use super::energy::{STANDS_OUT, StrokeEnergy, around, chance_ratio};
use super::looks::{BinEvidence, FEWEST_STROKES, RECURRENCE_CHANCE, hits_of, tail};
use crate::measure::statistics::chances::gamma_upper;
use crate::measure::statistics::moments::real;
use std::ops::Range;

/// Noise of the zone that must be seen, over the rest's.
const NOISE: f64 = 5.0;
/// Its width in bins of 1 % of travel.
const WIDTH: usize = 6;
/// Share of the independent residuals that count in the zone: smoothing mixes its edges with their quiet neighbours. Set by
/// seeded simulation at 100 .. 1000 Hz so that what is called seen was found in 99 % and more.
const COUNTED: f64 = 0.8;
/// Least chance that a burst elsewhere is taken to explain one stroke's noise: the zone's own edges look like bursts.
const LEAST_BURST: f64 = 0.025;
/// As good as certain.
const SURE: f64 = 0.9999;
/// Most strokes that are looked at one by one; of more an even choice.
const ENOUGH: usize = 60;

/// The chance of finding such a zone at the place of some travel where it is worst to find, 0 to 1; what is above [`SURE`] is
/// not told closer.
pub(crate) fn chance_of_seeing(looks: &[BinEvidence<'_>], travel: &Range<usize>) -> f64 {
    let mut worst = if travel.len() < WIDTH { 0.0 } else { SURE };
    for from in travel.start..(travel.end + 1).saturating_sub(WIDTH) {
        let mut here = 0.0_f64;
        for looked in looks {
            here = here.max(in_enough(looked, from));
            if here >= worst {
                break; // no worse than another place
            }
        }
        worst = here.min(worst);
    }
    worst
}

/// The chance that enough of the strokes that crossed a zone stand out there.
fn in_enough(looked: &BinEvidence<'_>, from: usize) -> f64 {
    let bins = around(from + WIDTH / 2, looked.neighbours);
    let strokes = looked.strokes.iter().zip(&looked.bursts);
    let mut each: Vec<_> = strokes
        .filter_map(|(energy, bursts)| {
            let seen = in_one_stroke(energy, bins.clone(), &(from..from + WIDTH))?;
            Some((seen, energy, bursts))
        })
        .collect();
    each.sort_by(|a, b| a.0.total_cmp(&b.0));
    let some = each.iter().step_by(each.len().div_ceil(ENOUGH).max(1));
    let (seen, bursts): (Vec<f64>, Vec<f64>) = some
        .map(|(seen, energy, bursts)| {
            let burst = bursts.chance(energy.samples(bins.clone()));
            (*seen, burst.max(LEAST_BURST))
        })
        .unzip();
    let most = FEWEST_STROKES.max(seen.len() / 2 + 1);
    let by_chance = hits_of(&bursts);
    (most..=seen.len())
        .find(|hits| by_chance.iter().skip(*hits).sum::<f64>() < RECURRENCE_CHANCE)
        .map_or(0.0, |hits| tail(&seen, hits))
}

/// The chance that a zone stands out in one stroke, seen over some bins; `None` when the stroke did not cross them.
fn in_one_stroke(energy: &StrokeEnergy, bins: Range<usize>, zone: &Range<usize>) -> Option<f64> {
    let within = bins.start.max(zone.start)..bins.end.min(zone.end);
    let count = energy.samples(bins);
    let share = real(energy.samples(within)) / real(count.max(1));
    let independent = real(count) * energy.independent;
    (count > 0).then(|| stands_out((COUNTED * independent).max(1.0), share))
}

/// The chance that `n` independent residuals stand out, a share of them in the zone.
fn stands_out(n: f64, share: f64) -> f64 {
    let ratio = share * NOISE * NOISE + (1.0 - share);
    let needed = STANDS_OUT.max(chance_ratio(n));
    gamma_upper(n / 2.0, n * needed / ratio / 2.0).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::super::looks::looks;
    use super::*;
    use crate::measure::strokes::segment::Direction;
    use crate::measure::strokes::travel_map::BINS;

    fn chance_of_seeing(energies: &[StrokeEnergy]) -> f64 {
        super::chance_of_seeing(&looks(energies), &(0..BINS))
    }

    #[test]
    fn chance_of_standing_out_is_a_chi_square() {
        // By hand, n = 2: exp(-x/2) at x = 2 c / 25, c the 1 % ratio -ln 0.01 = 4.605 (Wilson and Hilferty: within 1 %).
        let by_hand = (-(-0.01_f64.ln()) / 25.0).exp();
        assert!(
            (stands_out(2.0, 1.0) - by_hand).abs() < 2e-3,
            "{}",
            stands_out(2.0, 1.0)
        );
        // Quiet everywhere: the 1 % that stands out by chance.
        assert!((stands_out(2.0, 0.0) - 0.01).abs() < 1e-3);
        assert!(stands_out(50.0, 1.0) > 0.999_999);
    }

    fn energies(strokes: usize, samples: usize) -> Vec<StrokeEnergy> {
        let one = |k: usize| StrokeEnergy {
            direction: [Direction::Up, Direction::Down][k % 2],
            squares: vec![super::real(samples); BINS],
            independent: 0.5,
            count: vec![samples; BINS],
            dwell: [(0.0, 0); 2],
            own: 1.0,
            relative: vec![super::real(samples); BINS],
            raised: false,
        };
        (0..strokes).map(one).collect()
    }

    #[test]
    fn few_samples_and_few_strokes_do_not_show_a_zone() {
        assert!(chance_of_seeing(&energies(6, 20)) > 0.999);
        // One sample to every fourth percent: one or two on a zone.
        let mut fast = energies(6, 1);
        for energy in &mut fast {
            for bin in (0..BINS).filter(|bin| bin % 4 > 0) {
                energy.count[bin] = 0;
            }
        }
        assert!(chance_of_seeing(&fast) < 0.9);
        // Three strokes at 2.5 % each: 1.6e-5 by chance, too much.
        assert!(chance_of_seeing(&energies(3, 20)) < 1e-9);
        assert!(chance_of_seeing(&[]) < 1e-9);
        // A part of the travel that nobody crossed.
        let mut gap = energies(6, 20);
        for energy in &mut gap {
            energy.count[50..60].fill(0);
        }
        assert!(chance_of_seeing(&gap) < 1e-9);
    }
}
