//! Drift: `drift_per_min`, the slope of the longest hold, and how long averaging still pays.

use crate::figure::{Evidence, Figure, Law, Shrink};
use crate::measure::holds::hold::Hold;
use crate::measure::recording::Recording;
use crate::measure::statistics::blocks::{self, Blocks};
use crate::measure::statistics::interval::Budget;
use crate::measure::statistics::moments::real;
use crate::units::{Code, seconds_from_us};

/// Seconds in a minute.
const MINUTE_S: f64 = 60.0;

/// `drift_per_min`: slope of the longest of some holds, in codes a minute. `None` when none has four blocks.
///
/// Uncertainty from the correlation of the residuals of block means; where noise does not dither the rounding, a
/// ramp of one code over the hold could hide, and that is a bound. The method names the block length at which the
/// Allan deviation is least: averaging longer gains nothing.
pub fn per_minute(recording: &Recording<'_>, codes: &[Code], holds: &[&Hold]) -> Option<Figure> {
    let lasted = |hold: &Hold| {
        let times = recording.t_us.get(hold.range.clone())?;
        Some(seconds_from_us(
            times.last()?.saturating_sub(*times.first()?),
        ))
    };
    let longest = holds.iter().max_by(|a, b| {
        lasted(a)
            .unwrap_or(0.0)
            .total_cmp(&lasted(b).unwrap_or(0.0))
    })?;
    let seconds = lasted(longest)?;
    let range = longest.range.clone();
    let blocks = blocks::block_means(recording.t_us.get(range.clone())?, codes.get(range)?)?;
    let line = blocks::fit_slope(&blocks.time_s, &blocks.mean)?;
    let budget = Budget {
        scatter: vec![(line.u, line.dof)],
        bounds: vec![2.0 * longest.rounding_bound() / seconds],
    }
    .scaled(MINUTE_S);
    let method = format!(
        "slope of the longest hold, {seconds:.1} s in {} blocks of {:.2} s, their lag-1 correlation {:.2} in the uncertainty{}{}",
        blocks.mean.len(),
        blocks.block_s,
        line.lag1,
        averaging_words(&blocks),
        if recording.board.board_time {
            ""
        } else {
            "; host time"
        }
    );
    let law = Law::Slope { dof: line.dof };
    let shrink = Shrink::by(law, Evidence::Seconds, seconds, budget.floor_u());
    let figure = budget.figure(line.slope * MINUTE_S, longest.n(), method);
    Some(figure.shrinking(shrink))
}

/// Where the overlapping Allan deviation of the blocks is least, among 1, 2, 4 ... blocks.
fn averaging_words(blocks: &Blocks) -> String {
    let mut best: Option<(usize, f64)> = None;
    let mut averaged = 1;
    // From 1/4 of the record on, the deviation is too badly known to choose by.
    while averaged * 4 <= blocks.mean.len() {
        if let Some(deviation) = overlapping_allan(&blocks.mean, averaged)
            && best.is_none_or(|(_, least)| deviation < least)
        {
            best = Some((averaged, deviation));
        }
        averaged *= 2;
    }
    best.map_or_else(String::new, |(averaged, deviation)| {
        let seconds = real(averaged) * blocks.block_s;
        format!("; averaging pays up to {seconds:.1} s (Allan deviation {deviation:.3} code)")
    })
}

/// Overlapping Allan deviation at `m` values (NIST SP 1065, 5.2.4): every pair of neighbouring averages, from every
/// start. `None` below `2 m` values.
fn overlapping_allan(values: &[f64], m: usize) -> Option<f64> {
    if m == 0 || values.len() < 2 * m {
        return None;
    }
    let mut gap: f64 = (0..m).map(|i| values[i + m] - values[i]).sum();
    let starts = values.len() - 2 * m + 1;
    let mut squares = 0.0;
    for i in 0..starts {
        squares += (gap / real(m)).powi(2);
        if i + 1 < starts {
            gap += values[i] - 2.0 * values[i + m] + values[i + 2 * m];
        }
    }
    Some((squares / (2.0 * real(starts))).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::reference_file::{numbers, reference};

    /// NIST SP 1065, test suites: 1000-point and 9-point sets (file 05).
    ///
    /// Only the overlapping deviation is asked for: at which length a mean of codes is steadiest.
    #[test]
    fn allan_deviation_of_the_handbook() {
        let file = reference("05-allan-deviation.json");
        let (mut n, mut y) = (1_234_567_890_u64, Vec::new());
        for _ in 0..1000 {
            y.push(f64::from(u32::try_from(n).unwrap()) / 2_147_483_647.0);
            n = n * 16_807 % 2_147_483_647;
        }
        // The generator is the handbook's: its statistics say so.
        let told = |name: &str| {
            file["expected"]["statistics_1000_point"][name]
                .as_f64()
                .unwrap()
        };
        let median = crate::measure::statistics::robust::median(&mut y.clone()).unwrap();
        for (got, name) in [
            (crate::measure::statistics::moments::mean(&y), "mean"),
            (crate::measure::statistics::moments::sd(&y), "sd_n_minus_1"),
            (median, "median"),
            (y.iter().copied().fold(f64::INFINITY, f64::min), "min"),
            (y.iter().copied().fold(0.0, f64::max), "max"),
        ] {
            assert!((got / told(name) - 1.0).abs() <= 1e-10, "{name}: {got}");
        }
        let nine = numbers(&file["inputs"]["nbs_9_point_frequency"]);
        let tol = file["tolerance"]["published_relative"].as_f64().unwrap();
        let close = file["tolerance"]["recomputed_relative"].as_f64().unwrap();
        let expected = &file["expected"];
        for (values, lengths, published) in [
            (&y, &[1, 10, 100][..], &expected["published_1000_point"]),
            (&nine, &[1, 2][..], &expected["published_9_point_m_1_2"]),
        ] {
            for (m, wanted) in lengths.iter().zip(numbers(&published["oadev"])) {
                let got = overlapping_allan(values, *m).unwrap();
                assert!((got / wanted - 1.0).abs() <= tol, "{m}: {got} for {wanted}");
            }
        }
        let values = numbers(&expected["recomputed_1000_point"]["oadev"]["value"]);
        for (m, wanted) in [1, 10, 100].into_iter().zip(values) {
            assert!((overlapping_allan(&y, m).unwrap() / wanted - 1.0).abs() <= close);
        }
    }

    #[test]
    fn none_one_two_constant() {
        assert!(overlapping_allan(&[], 1).is_none() && overlapping_allan(&[1.0], 1).is_none());
        assert!(overlapping_allan(&[1.0, 2.0], 0).is_none());
        // By hand: one difference of 2: sqrt(4 / 2).
        assert!((overlapping_allan(&[1.0, 3.0], 1).unwrap() - 2.0_f64.sqrt()).abs() < 1e-15);
        assert!(overlapping_allan(&[5.0; 10], 2).unwrap().abs() < 1e-15);
    }
}
