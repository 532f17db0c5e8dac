//! The largest difference between going up and coming down at the same travel, with its interval.
//!
//! A capture that went one way only has no hysteresis: `None`, not 0.

use crate::measure::statistics::bootstrap::{HYSTERESIS, MaxDeviation, interval};
use crate::measure::travel::candidates::{candidates, largest};
use crate::measure::travel::curve::Curve;

/// Largest gap in codes with its interval, and how many positions were compared.
pub(crate) fn largest_gap(curve: &Curve) -> Option<(MaxDeviation, f64, usize)> {
    if !curve.both_ways() {
        return None;
    }
    let gap = curve.gap();
    let draws = curve.draws(&gap);
    let candidates = candidates(
        &gap.travel,
        &gap.value,
        &gap.sd,
        &draws,
        HYSTERESIS.slack,
        |y| Some(y.to_vec()),
    )?;
    let found = interval(&candidates, &draws, HYSTERESIS, largest);
    Some((found, largest(&gap.value), gap.travel.len()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::reference_file::numbers;
    use crate::measure::travel::bins::{Direction, TravelMode, Visit, Visits};

    fn reference() -> serde_json::Value {
        crate::measure::reference_file::reference("19-backlash-hysteresis.json")
    }

    /// Visits in the order of time, direction from the position before, the first of unknown direction.
    fn loop_of(travel: &[f64], code: &[f64]) -> Curve {
        let mut before = f64::INFINITY;
        let in_order = travel
            .iter()
            .zip(code)
            .enumerate()
            .map(|(i, (&travel_pct, &code))| {
                let up = travel_pct > before || i == 0;
                before = travel_pct;
                Visit {
                    travel_pct,
                    code,
                    direction: if up { Direction::Up } else { Direction::Down },
                    slack: i == 0,
                    se: None,
                    rounding: 0.0,
                }
            })
            .collect();
        let visits = Visits {
            in_order,
            mode: TravelMode::Stations,
            u_rounding: 0.0,
            u_travel_pct: 0.0,
        };
        Curve::through(&visits).unwrap()
    }

    #[test]
    fn play_of_four_widths() {
        let check = reference();
        let tolerance = check["tolerance"]["absolute"].as_f64().unwrap();
        for width in ["0", "2", "5", "20"] {
            let case = &check["expected"]["play_by_width"][width];
            let expected = |name: &str| case[name].as_f64().unwrap();
            let curve = loop_of(&numbers(&case["input_travel"]), &numbers(&case["output"]));
            let (_, read, _) = largest_gap(&curve).unwrap();
            let difference = expected("largest_output_difference_same_travel");
            assert!((read - difference).abs() <= tolerance, "{width}: {read}");
            // The first sweep began with the slack elsewhere: its first point must not stretch the span.
            let (first, last) = curve.measured_ends().unwrap();
            assert!((last - first - expected("loop_output_span")).abs() <= tolerance);
            let pct = 100.0 * read / (last - first);
            assert!((pct - expected("hysteresis_pct_of_loop_span")).abs() <= tolerance);
        }
    }

    #[test]
    fn a_loop_that_closes_smoothly() {
        let case = &reference()["expected"]["smooth_loop"];
        let up: Vec<f64> = numbers(&case["travel"]).iter().map(|t| 100.0 * t).collect();
        let travel: Vec<f64> = up.iter().chain(up.iter().rev()).copied().collect();
        let down = numbers(&case["down"]);
        let code: Vec<f64> = numbers(&case["up"])
            .into_iter()
            .chain(down.into_iter().rev())
            .collect();
        let (_, read, _) = largest_gap(&loop_of(&travel, &code)).unwrap();
        assert!(
            (read - case["largest_gap"].as_f64().unwrap()).abs() <= 1e-9,
            "{read}"
        );
    }

    #[test]
    fn branches_on_uneven_grids() {
        let case = &reference()["expected"]["uneven_grids"];
        let mut travel = numbers(&case["up_travel"]);
        travel.extend(numbers(&case["down_travel"]));
        let mut code = numbers(&case["up_output"]);
        code.extend(numbers(&case["down_output"]));
        let curve = loop_of(&travel, &code);
        let expected = case["output_difference_everywhere"].as_f64().unwrap();
        let gap = curve.gap();
        let common = numbers(&case["common_travel"]);
        assert!((gap.travel[0] - common[0]).abs() < 1e-12);
        for (travel, gap) in gap.travel.iter().zip(&gap.value) {
            assert!((gap.abs() - expected).abs() <= 1e-9, "{gap} at {travel}");
        }
    }
}
