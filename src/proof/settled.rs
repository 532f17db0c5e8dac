//! Where the inputs stood still long enough: what was put out there, beside what the block says.

use super::bounds::Band;
use super::envelope::{Envelope, Reach};
use super::plausibility::{Plausibility, at_rest, plausibility};
use super::samples::VoltageRange;
use crate::constants::BlockFields;
use measure::statistics::{coverage_factor, mean, real, sd};
use schemars::JsonSchema;
use serde::Serialize;

/// A place lasts at least so long, microseconds, and has at least [`FEWEST`] samples.
const SHORTEST_US: u64 = 50_000;
const FEWEST: usize = 10;
/// A place is cut after this time, so that what happens in it is not averaged away, microseconds.
const LONGEST_US: u64 = 500_000;
/// Inputs stand still while they stay within so many standard deviations of their noise, and two codes.
const STILL_SDS: f64 = 8.0;

/// The inputs stood still and everything had settled.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SettledPoint {
    pub from_s: f64,
    pub to_s: f64,
    pub samples: usize,
    /// Mean code of each input, measuring board's codes.
    pub inputs: Vec<f64>,
    /// Command of each factor in percent, lowest and highest that the codes allow.
    pub factors_pct: Vec<[f64; 2]>,
    /// Lowest and highest output that the block allows, millivolts.
    pub expected_mv: [f64; 2],
    /// Lowest and highest output that the readings allow, millivolts, without noise.
    pub measured_mv: [f64; 2],
    /// Standard uncertainty of the mean output by noise, millivolts.
    pub u_mv: f64,
    /// Middle measured less middle expected, millivolts.
    pub departure_mv: f64,
    /// Lowest and highest amount of the departure, millivolts.
    pub departure_range_mv: [f64; 2],
    /// The start input is at or before its rest edge beyond doubt: the command is exactly zero.
    pub at_rest: bool,
}

impl SettledPoint {
    /// What noise leaves open is less than what the codes do: more samples do not help.
    pub(super) fn noise_is_small(&self) -> bool {
        let codes =
            self.expected_mv[1] - self.expected_mv[0] + self.measured_mv[1] - self.measured_mv[0];
        4.0 * self.u_mv < codes / 2.0
    }
}

pub(super) fn places(envelope: &Envelope<'_>, bands: &[Band]) -> Vec<SettledPoint> {
    let samples = envelope.samples;
    let settled = settled_samples(envelope, bands);
    let mut found = Vec::new();
    let mut from = None;
    for i in 0..=settled.len() {
        let is = settled.get(i).copied().unwrap_or(false);
        let begun =
            from.filter(|begun: &usize| is && samples.t_us[i] - samples.t_us[*begun] <= LONGEST_US);
        if let (None, Some(begun)) = (begun, from) {
            let last = i - 1;
            if i - begun >= FEWEST && samples.t_us[last] - samples.t_us[begun] >= SHORTEST_US {
                found.push(place(envelope, begun..i));
            }
        }
        from = begun.or(is.then_some(i));
    }
    found
}

/// At which samples the inputs have stood still for so long that filters and limits are at their end.
fn settled_samples(envelope: &Envelope<'_>, bands: &[Band]) -> Vec<bool> {
    let samples = envelope.samples;
    let behind = envelope.filter_samples() + 2 * envelope.near;
    let n = samples.t_us.len();
    let windows: Vec<Extremes> = samples
        .inputs
        .iter()
        .map(|codes| Extremes::of(&codes.iter().map(|code| code.0).collect::<Vec<_>>(), behind))
        .collect();
    let reach: Vec<(Extremes, Extremes)> = (0..samples.inputs.len())
        .map(|input| {
            let column = |which: fn(&(u16, u16)) -> u16| -> Vec<u32> {
                let rows = envelope.reach.iter();
                rows.map(|row| u32::from(which(&row[input]))).collect()
            };
            let lows = Extremes::of(&column(|range| range.0), behind);
            (lows, Extremes::of(&column(|range| range.1), behind))
        })
        .collect();
    (0..n)
        .map(|i| {
            if i < behind || !bands[i].runs {
                return false;
            }
            let still = windows.iter().zip(&envelope.noise).all(|(window, sd)| {
                f64::from(window.most[i] - window.least[i]) <= 2.0 + STILL_SDS * sd
            });
            if !still || plausibility(envelope.numbers, &envelope.reach[i]) != Plausibility::Good {
                return false;
            }
            let hull: Reach = reach
                .iter()
                .map(|(low, high)| (narrow(low.least[i]), narrow(high.most[i])))
                .collect();
            let (low, high) = envelope.ends(&hull);
            f64::from(bands[i].low) + 1.0 >= envelope.settled(&low)
                && f64::from(bands[i].high) <= envelope.settled(&high) + 1.0
        })
        .collect()
}

fn narrow(code: u32) -> u16 {
    u16::try_from(code).unwrap_or(u16::MAX)
}

/// Least and most of the last `behind` values at every place of a column.
struct Extremes {
    least: Vec<u32>,
    most: Vec<u32>,
}

impl Extremes {
    fn of(column: &[u32], behind: usize) -> Self {
        Self {
            least: sliding(column, behind, |new, old| new <= old),
            most: sliding(column, behind, |new, old| new >= old),
        }
    }
}

/// The extreme of the last `behind` + 1 values, by a queue of candidates that each newer, better value empties.
fn sliding(column: &[u32], behind: usize, better: fn(u32, u32) -> bool) -> Vec<u32> {
    let mut queue: std::collections::VecDeque<usize> = std::collections::VecDeque::new();
    let mut found = Vec::with_capacity(column.len());
    for (i, value) in column.iter().enumerate() {
        while queue
            .back()
            .is_some_and(|last| better(*value, column[*last]))
        {
            queue.pop_back();
        }
        queue.push_back(i);
        while queue.front().is_some_and(|first| first + behind < i) {
            queue.pop_front();
        }
        found.push(queue.front().map_or(*value, |first| column[*first]));
    }
    found
}

fn place(envelope: &Envelope<'_>, range: std::ops::Range<usize>) -> SettledPoint {
    let &Envelope {
        numbers,
        samples,
        scaling,
        ..
    } = envelope;
    let seconds = |i: usize| measure::units::seconds_from_us(samples.t_us[i] - samples.t_us[0]);
    let outputs: Vec<f64> = samples.output[range.clone()]
        .iter()
        .map(|code| code.as_f64())
        .collect();
    let inputs: Vec<f64> = samples
        .inputs
        .iter()
        .map(|codes| {
            let here: Vec<f64> = codes[range.clone()]
                .iter()
                .map(|code| code.as_f64())
                .collect();
            mean(&here)
        })
        .collect();
    let reaches: Vec<Reach> = range.clone().map(|i| envelope.reach_of_one(i)).collect();
    let expected = expected(envelope, &reaches).map(|code| scaling.dac(code));
    let measured = scaling.output(mean(&outputs));
    let u_mv = noise_of_mean(&outputs, envelope) * scaling.code_mv();
    let hull = hull_of(&reaches);
    let reach = coverage_factor(f64::INFINITY) * u_mv;
    let apart = apart(expected, measured);
    let furthest = (measured.high - expected[0]).max(expected[1] - measured.low);
    SettledPoint {
        from_s: seconds(range.start),
        to_s: seconds(range.end - 1),
        samples: range.len(),
        factors_pct: factors(numbers, &hull),
        expected_mv: expected,
        measured_mv: [measured.low, measured.high],
        u_mv,
        departure_mv: f64::midpoint(measured.low, measured.high)
            - f64::midpoint(expected[0], expected[1]),
        departure_range_mv: [(apart - reach).max(0.0), furthest + reach],
        at_rest: at_rest(numbers, &hull),
        inputs,
    }
}

/// How far two ranges are from each other; 0 when they meet.
pub(super) fn apart(expected: [f64; 2], measured: VoltageRange) -> f64 {
    (expected[0] - measured.high)
        .max(measured.low - expected[1])
        .max(0.0)
}

/// Lowest and highest mean output, DAC codes. Noise that reaches a bend of the curve shifts the mean; a filter keeps some
/// of it back: the truth lies between the mean of the curve and the curve of the mean.
fn expected(envelope: &Envelope<'_>, reaches: &[Reach]) -> [f64; 2] {
    let (lows, highs): (Vec<Vec<u16>>, Vec<Vec<u16>>) =
        reaches.iter().map(|reach| envelope.ends(reach)).unzip();
    let of_mean = |rows: &[Vec<u16>], away: fn(f64) -> f64| {
        let factors = rows.first().map_or(0, Vec::len);
        let codes: Vec<u16> = (0..factors)
            .map(|k| {
                let column: Vec<f64> = rows.iter().map(|row| f64::from(row[k])).collect();
                whole(away(mean(&column)))
            })
            .collect();
        codes
    };
    let mean_of = |rows: &[Vec<u16>]| {
        let values: Vec<f64> = rows.iter().map(|codes| envelope.settled(codes)).collect();
        mean(&values)
    };
    // Which way a code is rounded does not matter much; both ways are allowed for.
    let around = |rows: &[Vec<u16>]| {
        [
            envelope.settled(&of_mean(rows, f64::floor)),
            envelope.settled(&of_mean(rows, f64::ceil)),
            mean_of(rows),
        ]
    };
    let low = around(&lows).into_iter().fold(f64::INFINITY, f64::min);
    let high = around(&highs).into_iter().fold(f64::NEG_INFINITY, f64::max);
    [low.min(high), high]
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // the mean of 16-bit codes
fn whole(code: f64) -> u16 {
    code.clamp(0.0, 65_535.0) as u16
}

/// Standard deviation of the mean, codes: neighbours count as one for as long as the filters remember.
fn noise_of_mean(outputs: &[f64], envelope: &Envelope<'_>) -> f64 {
    let together = (envelope.filter_samples() / 4).max(1);
    let independent = (outputs.len() / together).max(1);
    sd(outputs) / real(independent).sqrt()
}

fn hull_of(reaches: &[Reach]) -> Reach {
    let inputs = reaches.first().map_or(0, Vec::len);
    (0..inputs)
        .map(|k| {
            let column = reaches.iter().map(|reach| reach[k]);
            column.fold((u16::MAX, 0), |all, one| {
                (all.0.min(one.0), all.1.max(one.1))
            })
        })
        .collect()
}

/// Travel of every factor in percent of the way from its rest edge to its full edge.
fn factors(numbers: &BlockFields, hull: &Reach) -> Vec<[f64; 2]> {
    let inputs = numbers.inputs.iter().zip(hull);
    inputs
        .filter_map(|(input, (low, high))| {
            let factor = input.factor()?;
            let full = f64::from(factor.travel(factor.full_edge));
            let pct = |code: u16| (f64::from(factor.travel(code)) / full * 100.0).clamp(0.0, 100.0);
            let (a, b) = (pct(*low), pct(*high));
            Some([a.min(b), a.max(b)])
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_extreme_of_the_last_three() {
        let column = [3, 1, 2, 9, 4, 4, 5];
        let extremes = Extremes::of(&column, 2);
        assert_eq!(extremes.least, [3, 1, 1, 1, 2, 4, 4]);
        assert_eq!(extremes.most, [3, 3, 3, 9, 9, 9, 5]);
    }

    #[test]
    fn ranges_that_meet_are_not_apart() {
        let measured = |low, high| VoltageRange { low, high };
        for (low, high, off) in [(11.0, 15.0, 0.0), (14.0, 15.0, 2.0), (4.0, 5.0, 5.0)] {
            assert!((apart([10.0, 12.0], measured(low, high)) - off).abs() < 1e-12);
        }
    }
}
