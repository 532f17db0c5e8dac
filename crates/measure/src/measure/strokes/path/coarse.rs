//! Stamps too coarse for a single step to tell a missing sample: whole milliseconds are 1 or 2 apart at 800 samples a second.

use crate::measure::statistics::moments::real;
use crate::measure::statistics::robust::median;
use crate::units::{missing_in, seconds_from_us};

/// Stamps of more than this share of a period are coarse; of more than that share of it a lost sample is not told from rounding.
const COARSE: f64 = 0.25;
const TOO_COARSE: f64 = 0.81;
/// A period this near to whole stamps is told by single steps, stamps.
const WHOLE: f64 = 0.05;
/// The usual step over the nominal period is within these: above 1 where samples are missing.
const LIKELY: std::ops::RangeInclusive<f64> = 0.95..=1.3;
/// First samples of which the first stamp's own rounding is found.
const FIRST: usize = 32;
/// Share of what a stamp is off by which the count follows: it takes some fifty samples.
const FOLLOWS: f64 = 0.02;
/// Steps over which the board's own period shows, of which most are without a lost sample.
const WINDOW: usize = 64;

/// Samples counted through coarse stamps.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Counted {
    /// The place of each sample among all that were taken.
    pub places: Vec<u32>,
    /// Seconds between two.
    pub period: f64,
}

/// The places of samples by their stamps in microseconds, of a nominal period in seconds. `None` where single steps tell it, where
/// nothing does, or where the stamps are of another rate.
///
/// A sample is early or late by its stamp's rounding alone, which does not add up: what single stamps are off by is less than half a
/// period, and a sample that is missing puts all that follow a whole one late.
pub(super) fn counted(t_us: &[u64], nominal: f64) -> Option<Counted> {
    let stamp = unit(t_us, COARSE * nominal)?;
    let in_stamps = nominal / stamp;
    if stamp > TOO_COARSE * nominal || (in_stamps - in_stamps.round()).abs() < WHOLE {
        return None;
    }
    let lasts = seconds_from_us(t_us.last()?.saturating_sub(*t_us.first()?));
    if !LIKELY.contains(&(lasts / real(t_us.len() - 1) / nominal)) {
        return None;
    }
    let last = *places(t_us, usual(t_us, stamp).unwrap_or(nominal)).last()?;
    let period = lasts / f64::from(last.max(1));
    let places = places(t_us, period);
    Some(Counted { places, period })
}

/// The board's own period, which is not the nominal one: the mean over the usual windows, from one to the next a stamp apart at most.
fn usual(t_us: &[u64], stamp: f64) -> Option<f64> {
    let over = |some: &[u64]| seconds_from_us(some[WINDOW].saturating_sub(some[0]));
    let mut windows: Vec<f64> = t_us.windows(WINDOW + 1).map(over).collect();
    let middle = median(&mut windows)?;
    windows.retain(|window| (window - middle).abs() < 1.5 * stamp);
    Some(windows.iter().sum::<f64>() / real(windows.len()) / real(WINDOW))
}

/// The longest time of which all steps are whole multiples, seconds; `None` below `least`.
fn unit(t_us: &[u64], least: f64) -> Option<f64> {
    let mut unit = 0;
    for pair in t_us.windows(2) {
        unit = common(pair[1].saturating_sub(pair[0]), unit);
        if unit > 0 && seconds_from_us(unit) < least {
            return None;
        }
    }
    (unit > 0).then(|| seconds_from_us(unit))
}

/// Greatest common divisor (Euclid).
fn common(mut a: u64, mut b: u64) -> u64 {
    while b > 0 {
        (a, b) = (b, a % b);
    }
    a
}

fn places(t_us: &[u64], period: f64) -> Vec<u32> {
    let since = |at: usize| seconds_from_us(t_us[at].saturating_sub(t_us[0]));
    let mut first: Vec<f64> = (0..t_us.len().min(FIRST))
        .map(|at| since(at) - real(at) * period)
        .collect();
    let mut expected = median(&mut first).unwrap_or(0.0);
    let mut place = 0_u32;
    let mut places = Vec::with_capacity(t_us.len());
    places.push(0);
    for at in 1..t_us.len() {
        let late = since(at) - expected;
        let missing = u32::try_from(missing_in(late / period)).unwrap_or(u32::MAX);
        expected += period * (1.0 + f64::from(missing));
        expected += FOLLOWS * (since(at) - expected);
        place = place.saturating_add(missing).saturating_add(1);
        places.push(place);
    }
    places
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Stamps in whole `stamp` microseconds of samples `period` microseconds apart from `start` on, without the places `lost`.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // microseconds
    fn stamps(n: u32, period: f64, start: f64, stamp: u32, lost: &[u32]) -> (Vec<u64>, Vec<u32>) {
        let there = (0..n).filter(|k| !lost.contains(k));
        let at = |k: u32| {
            let stamps = (start + period * f64::from(k)) / f64::from(stamp);
            stamps.floor() as u64 * u64::from(stamp)
        };
        there.map(|k| (at(k), k)).unzip()
    }

    /// Each place is the one that the sample was taken at; at any phase of the first stamp, with a clock 0.4 % off.
    #[test]
    fn samples_find_their_places_again() {
        for rate_hz in [300.0, 450.0, 700.0, 800.0] {
            for phase in 0..20 {
                let period = 1.004e6 / rate_hz;
                let lost = [40, 41, 300, 701, 702, 703, 950];
                let (t_us, taken) = stamps(1000, period, 53.0 * f64::from(phase), 1000, &lost);
                let found = counted(&t_us, 1.0 / rate_hz).unwrap();
                assert_eq!(found.places, taken, "{rate_hz} {phase}");
                assert!(
                    (found.period * 1e6 / period - 1.0).abs() < 2e-3,
                    "{found:?}"
                );
            }
        }
    }

    #[test]
    fn stamps_that_single_steps_tell_are_left_as_they_are() {
        let none = |n, period: f64, stamp, lost: &[u32], rate_hz: f64| {
            let (t_us, _) = stamps(n, period, 0.0, stamp, lost);
            assert_eq!(counted(&t_us, 1.0 / rate_hz), None, "{period} {stamp}");
        };
        none(1000, 1250.0, 1, &[7], 800.0);
        none(1000, 1250.0, 4, &[7], 800.0);
        none(1000, 4000.0, 1000, &[7], 250.0);
        none(1000, 1000.0, 1000, &[7, 9, 11], 1000.0);
        none(1000, 1010.0, 1000, &[], 990.0);
        none(1000, 1149.0, 1000, &[], 870.0);
        none(1000, 1250.0, 1000, &[], 1600.0); // another rate
        none(1, 1250.0, 1000, &[], 800.0);
        assert_eq!(counted(&[], 0.001), None);
        assert_eq!(counted(&[5; 9], 0.001), None);
    }
}
