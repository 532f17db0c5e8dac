//! The filter's shift: noise against delay.
//!
//! `y += (x - y) / 2^k` passes of white noise the share `a / (2 - a)`, `a = 2^-k`: its standard deviation falls by
//! `sqrt(2^(k+1) - 1)`. Behind a steady ramp it lags `2^k - 1` samples. Source: first-order recursive filter, any textbook;
//! reference file 15.

use super::{Choice, Margin};
use measure::statistics::ROUNDING_RMS;

/// Most that the filter may lag, as a share of the time in which a fault must have stopped the output. Common practice, no
/// source: the hand should not feel it.
const LAG_SHARE: f64 = 0.2;

/// What a filter is chosen from.
#[derive(Debug, Clone, Copy)]
pub(super) struct FilterInput<'a> {
    pub channel: &'a str,
    /// Standard deviation in codes.
    pub noise: f64,
    /// DAC codes that one input code moves where the curve is steepest, the other inputs at 1.
    pub dac_per_code: f64,
    pub rate_hz: f64,
    pub stop_within_ms: f64,
    /// Largest shift that the block can have.
    pub most: u8,
}

fn after(noise: f64, shift: u8) -> f64 {
    noise / (f64::from(1_u32 << (shift + 1)) - 1.0).sqrt()
}

fn lag_samples(shift: u8) -> f64 {
    f64::from((1_u32 << shift) - 1)
}

/// The smallest shift that leaves less noise than one DAC code, or than the rounding to a whole input code that follows the
/// filter, whichever is more; never one that lags more than a fifth of the stopping time.
pub(super) fn shift(of: &FilterInput<'_>) -> (u8, Choice) {
    let enough = (1.0 / of.dac_per_code).max(ROUNDING_RMS);
    let allowed = LAG_SHARE * of.stop_within_ms * of.rate_hz / 1000.0;
    let fast: Vec<u8> = (0..=of.most)
        .filter(|shift| lag_samples(*shift) <= allowed)
        .collect();
    let quiet = fast
        .iter()
        .copied()
        .find(|shift| after(of.noise, *shift) <= enough);
    let shift = quiet.or(fast.last().copied()).unwrap_or(0);
    let lag_ms = lag_samples(shift) * 1000.0 / of.rate_hz;
    let left = after(of.noise, shift);
    let verdict = if quiet.is_some() {
        "the smallest that does"
    } else {
        "more would lag too long: the command keeps some noise"
    };
    let choice = Choice {
        place: String::new(),
        channel: of.channel.to_owned(),
        what: "filter shift",
        value: f64::from(shift),
        unit: "1",
        reason: format!(
            "noise {:.2} codes becomes {left:.2} (white noise), {enough:.2} wanted: one DAC code, or the rounding to a whole \
             input code (1/sqrt 12) where that is more; {verdict}",
            of.noise
        ),
        margin: Margin::words(format!(
            "lags {lag_ms:.1} ms behind a moving control, {:.1} ms allowed (a fifth of the stopping time); faults are judged \
             before it and lose no time",
            allowed * 1000.0 / of.rate_hz
        )),
    };
    (shift, choice)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn noisy(noise: f64) -> FilterInput<'static> {
        FilterInput {
            channel: "x",
            noise,
            dac_per_code: 6.0,
            rate_hz: 1000.0,
            stop_within_ms: 50.0,
            most: 6,
        }
    }

    /// By hand: 0.75 / sqrt(3) = 0.433, / sqrt(7) = 0.283 < 0.289. 2 / sqrt(31) = 0.36 with a lag of 15 ms is over 10 ms, so
    /// shift 3 with 7 ms: 2 / sqrt(15) = 0.516.
    #[test]
    fn noise_against_delay() {
        let chosen = |noise| shift(&noisy(noise)).0;
        assert_eq!([chosen(0.25), chosen(0.75), chosen(2.0)], [0, 2, 3]);
        assert!((after(2.0, 3) - 0.516_398).abs() < 1e-6);
        let slow = FilterInput {
            rate_hz: 50.0,
            ..noisy(2.0)
        };
        assert_eq!(
            shift(&slow).0,
            0,
            "a fifth of 50 ms is half a sample: no room for any lag"
        );
        // A fine input: one DAC code is four input codes, and 2 codes of noise are less than that.
        let fine = FilterInput {
            dac_per_code: 0.25,
            ..noisy(2.0)
        };
        assert_eq!(shift(&fine).0, 0);
    }
}
