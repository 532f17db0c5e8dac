//! The chance that a quantity lies outside its limit, given its figure.
//!
//! A figure states its value and a 95 % interval. On each side of the value the distribution is taken as one half of
//! a normal one whose 97.5 % quantile is that side's end of the interval. With both sides equal and a coverage factor
//! of 1.96 that is the normal distribution of JCGM 106:2012, 7.2; with a factor above 1.96 (few degrees of freedom)
//! the tails are those of a normal distribution scaled to the same interval, which is lighter beyond the interval
//! and heavier inside it than Student's t. Each half carries a probability of one half.

use super::Limit;
use crate::figure::Figure;
use crate::measure::statistics::interval::normal_cdf;

/// 97.5 % quantile of the standard normal distribution.
const Z: f64 = 1.959_963_984_540_054;

/// The chance, 0 ..= 1, that the quantity lies outside `limit`; `None` when the figure is counted, or an end of its
/// interval that matters is open.
#[must_use]
pub fn probability_outside(limit: Limit, figure: &Figure) -> Option<f64> {
    figure.u?;
    let below = limit
        .min()
        .map_or(Some(0.0), |min| probability_below(min, figure))?;
    let above = limit
        .max()
        .map_or(Some(0.0), |max| Some(1.0 - probability_below(max, figure)?))?;
    Some((below + above).clamp(0.0, 1.0))
}

fn probability_below(bound: f64, figure: &Figure) -> Option<f64> {
    let end = if bound < figure.value {
        figure.low
    } else {
        figure.high
    }?;
    let scale = (end - figure.value).abs() / Z;
    let away = bound - figure.value;
    if scale <= 0.0 {
        return Some(if away < 0.0 { 0.0 } else { 1.0 });
    }
    Some(normal_cdf(away / scale))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    fn outside(value: f64, low: f64, high: f64, min: Option<f64>, max: Option<f64>) -> f64 {
        let figure = Figure {
            value,
            u: Some(1.0),
            low: Some(low),
            high: Some(high),
            n: 1,
            method: String::new(),
            shrink: None,
        };
        probability_outside(Limit::new(min, max).unwrap(), &figure).unwrap()
    }

    /// tests/reference/06-quantiles-guard-bands.json: conformance probabilities (JCGM 106), computed there with scipy
    /// and by Monte Carlo.
    #[test]
    fn conformance_probabilities_agree_with_the_reference() {
        let file: Value = serde_json::from_str(include_str!(concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../../tests/reference/06-quantiles-guard-bands.json"
        )))
        .unwrap();
        let rows = conformance_rows(&file["expected"]["conformance_cases"]);
        assert!(rows.len() >= 3, "{} rows found", rows.len());
        for (x, u, lower, upper, conforming) in rows {
            let outside = outside(x, x - Z * u, x + Z * u, lower, upper);
            assert!(
                (1.0 - outside - conforming).abs() < 1e-7,
                "x {x} u {u}: {outside} against {conforming}"
            );
        }
    }

    /// Estimate, its u, lower and upper limit, conformance probability.
    type Case = (f64, f64, Option<f64>, Option<f64>, f64);

    fn conformance_rows(file: &Value) -> Vec<Case> {
        let mut rows = Vec::new();
        let mut open = vec![file];
        while let Some(value) = open.pop() {
            match value {
                Value::Array(items) => open.extend(items),
                Value::Object(map) => {
                    let number =
                        |names: &[&str]| names.iter().find_map(|name| map.get(*name)?.as_f64());
                    if let (Some(x), Some(u), Some(p)) = (
                        number(&["x", "y", "estimate"]),
                        number(&["u"]),
                        number(&["conformance_probability", "p_conform", "probability"]),
                    ) {
                        rows.push((
                            x,
                            u,
                            number(&["lower", "T_L", "tl"]),
                            number(&["upper", "T_U", "tu"]),
                            p,
                        ));
                    }
                    open.extend(map.values());
                }
                _ => {}
            }
        }
        rows
    }

    #[test]
    fn ends_of_the_interval_leave_one_fortieth_each() {
        assert!((outside(1.0, 0.9, 1.3, Some(0.9), None) - 0.025).abs() < 1e-9);
        assert!((outside(1.0, 0.9, 1.3, None, Some(1.3)) - 0.025).abs() < 1e-9);
        assert!((outside(1.0, 0.9, 1.3, Some(0.9), Some(1.3)) - 0.05).abs() < 1e-9);
        assert!((outside(1.0, 0.9, 1.3, None, Some(1.0)) - 0.5).abs() < 1e-9);
    }

    #[test]
    fn no_width_is_certainty_and_counted_figures_have_no_risk() {
        assert!(outside(1.0, 1.0, 1.0, None, Some(2.0)) <= 0.0);
        assert!(outside(1.0, 1.0, 1.0, Some(2.0), None) >= 1.0);
        let counted = Figure::counted(3.0, 3, "");
        assert_eq!(
            probability_outside(Limit::new(None, Some(1.0)).unwrap(), &counted),
            None
        );
    }
}
