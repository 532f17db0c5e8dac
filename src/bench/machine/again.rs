//! A machine's constants made again from what was measured: what differs, and what stands against them.

use super::measured::{Judged, shown};
use crate::constants::choose::{self, ChooseOptions, Chosen, MeasuredControl};
use crate::constants::{Block, BlockFields, Build, Factor, Q15_ONE, Watch};
use serde_json::Value;

/// What came of making them again.
pub(super) struct Again {
    /// Numbers that are others than these recordings give.
    pub differs: Vec<String>,
    /// What `constants` objects to.
    pub objections: Vec<String>,
    /// The control that must be at rest before the board starts, and single faults that drive the motor then, unnoticed.
    pub drives: Option<(usize, Vec<(String, String)>)>,
}

/// Makes the constants again. What a person chooses freely is taken as it stands: the output's ends and ramps, the board's rate, the
/// reference in its part, and the persistence as far as the time to stop allows.
pub(super) fn made_again(block: &Block, judged: &[Judged]) -> Result<Again, String> {
    let numbers = block.numbers();
    let mut given = Vec::new();
    for one in judged {
        let (Some(profile), Some((file, capture, assessment))) = (&one.profile, &one.measured)
        else {
            return Err("not every control was measured".to_owned());
        };
        given.push(MeasuredControl {
            file,
            profile,
            capture,
            assessment,
        });
    }
    let vref_mv = given.first().map(|one| one.capture.meta.board.vref_mv);
    let options = options(numbers, vref_mv.unwrap_or_default());
    let chosen = choose::choose(&given, &options).map_err(|e| e.to_string())?;
    let objections = chosen.objections.iter();
    Ok(Again {
        differs: differs(numbers, chosen.block.numbers(), options.curve_error_pct),
        objections: objections.map(|one| shown(&one.words)).collect(),
        drives: drives(&given, &chosen),
    })
}

fn options(numbers: &BlockFields, vref_mv: f64) -> ChooseOptions {
    let usual = ChooseOptions::default();
    let dac_bits = numbers.board.dac_bits;
    let mv = |code: u16| f64::from(code) / f64::from(1_u32 << dac_bits) * usual.dac_vref_mv;
    // Whole hundredths of a millivolt: finer than the windows that a supply can have.
    let gives = |own_mv: &f64| {
        let bits = (numbers.board.adc_bits, dac_bits);
        Watch::usual(bits, vref_mv, *own_mv).supply == numbers.watch.supply
    };
    let usual_mv = usual.own_reference_mv;
    let all = (90_000..=130_000).map(|hundredths| f64::from(hundredths) / 100.0);
    let own_mv = std::iter::once(usual_mv).chain(all).find(gives);
    ChooseOptions {
        board_rate_hz: numbers.board.rate_hz,
        build: Build {
            segments: usize::MAX,
            ..Build::with_inputs(numbers.inputs.len())
        },
        dac_bits,
        zero_mv: mv(numbers.output.zero_dac),
        full_mv: mv(numbers.output.full_dac),
        waits_at_zero: numbers.output.waits_at_zero,
        own_reference_mv: own_mv.unwrap_or(usual_mv),
        persistence: Some(numbers.persistence),
        ..usual
    }
}

fn differs(is: &BlockFields, would: &BlockFields, curve_error_pct: f64) -> Vec<String> {
    if is.inputs.len() != would.inputs.len() {
        return vec![format!(
            "{} inputs, and these recordings have {}",
            is.inputs.len(),
            would.inputs.len()
        )];
    }
    let mut would = would.clone();
    would.output = is.output;
    // Trees of plain values: writing them cannot fail.
    let value = |numbers: &BlockFields| serde_json::to_value(numbers).unwrap_or_default();
    let mut all = Vec::new();
    held("", &value(is), &value(&would), &mut all);
    // Another largest error may have been asked for; both lie about the same curve.
    let most = 2.0 * curve_error_pct;
    for (i, (is, would)) in is.inputs.iter().zip(&would.inputs).enumerate() {
        if let (Some(is), Some(would)) = (is.factor(), would.factor()) {
            let apart = apart_pct(is, would);
            if apart > most {
                all.push(format!(
                    "inputs[{i}].factor.points lie {apart:.1} % of full command off"
                ));
            }
        }
    }
    all
}

/// Every number of two blocks but the points of curves.
fn held(place: &str, is: &Value, would: &Value, differs: &mut Vec<String>) {
    match (is, would) {
        (Value::Object(is), Value::Object(would)) if is.keys().eq(would.keys()) => {
            for ((key, is), would) in is.iter().zip(would.values()) {
                let dot = if place.is_empty() { "" } else { "." };
                if key != "points" {
                    held(&format!("{place}{dot}{key}"), is, would, differs);
                }
            }
        }
        (Value::Array(is), Value::Array(would)) => {
            for (i, (is, would)) in is.iter().zip(would).enumerate() {
                held(&format!("{place}[{i}]"), is, would, differs);
            }
        }
        (Value::Object(_), Value::Object(_)) => differs.push(format!("{place} does another thing")),
        _ if is == would => {}
        _ => differs.push(format!("{place} is {is} and would be {would}")),
    }
}

/// Farthest that two curves lie apart between the edges of either, percent of full command.
fn apart_pct(a: &Factor, b: &Factor) -> f64 {
    let (a, b) = (knots(a), knots(b));
    let codes = a.iter().chain(&b).map(|knot| knot.0);
    codes
        .map(|code| (at(&a, code) - at(&b, code)).abs() * 100.0)
        .fold(0.0, f64::max)
}

/// Code and command where a curve bends, codes rising.
fn knots(factor: &Factor) -> Vec<(f64, f64)> {
    let ends = |code: u16, command: f64| (f64::from(code), command);
    let points = factor.points.iter();
    let points = points.map(|point| ends(point.code, f64::from(point.q15) / f64::from(Q15_ONE)));
    let mut knots = vec![ends(factor.rest_edge, 0.0)];
    knots.extend(points);
    knots.push(ends(factor.full_edge, 1.0));
    knots.sort_by(|a, b| a.0.total_cmp(&b.0));
    knots
}

fn at(knots: &[(f64, f64)], code: f64) -> f64 {
    let piece = knots.windows(2).find(|pair| code <= pair[1].0);
    match (piece, knots.last()) {
        (Some([(from, low), (to, high)]), _) if to > from => {
            low + (high - low) * ((code - from) / (to - from)).max(0.0)
        }
        (Some(pair), _) => pair[1].1,
        (None, last) => last.map_or(0.0, |last| last.1),
    }
}

/// As `constants` sees it with the windows that it chose.
fn drives(
    given: &[MeasuredControl<'_>],
    chosen: &Chosen,
) -> Option<(usize, Vec<(String, String)>)> {
    if chosen.objections.is_empty() {
        return None;
    }
    let at = choose::starter(given.iter().map(|one| one.profile.kind));
    let own = &given.get(at)?.capture.meta.channels;
    let is_own = |channel: &str| {
        let mut parts = channel.split('/');
        parts.any(|part| own.iter().any(|(name, _)| name == part))
    };
    let faults = chosen.hidden.iter();
    let faults = faults.filter(|fault| fault.is_objected_to() && is_own(&fault.channel));
    let named = faults.map(|fault| {
        let words = match fault.at_rest_pct {
            Some(out) if fault.drives_at_rest() => {
                format!("let go, {} brings {out:.0} %", fault.fault)
            }
            _ => format!("{} is never noticed", fault.fault),
        };
        let words = format!("{}: {words}", shown(&fault.channel));
        (fault.fault.clone(), words)
    });
    Some((at, named.collect()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::constants::Point;

    /// From 100 to 300: half-way the one commands 50 %, the other 25 %.
    #[test]
    fn curves_lie_apart_where_they_bend() {
        let straight = Factor {
            rest_edge: 100,
            full_edge: 300,
            points: Vec::new(),
            filter_shift: 0,
        };
        let bent = Factor {
            points: vec![Point {
                code: 200,
                q15: Q15_ONE / 4,
            }],
            ..straight.clone()
        };
        assert!((apart_pct(&straight, &bent) - 25.0).abs() < 1e-9);
        assert!((apart_pct(&bent, &straight) - 25.0).abs() < 1e-9);
        assert!(apart_pct(&bent, &bent.clone()) < 1e-9);
    }

    #[test]
    fn every_number_is_held_and_named() {
        let value = |text: &str| serde_json::from_str::<Value>(text).unwrap();
        let is = value(r#"{"a": [{"b": 1, "points": [1]}], "c": 2, "d": {"e": 1}}"#);
        let would = value(r#"{"a": [{"b": 3, "points": []}], "c": 2, "d": {"f": 1}}"#);
        let mut all = Vec::new();
        held("", &is, &would, &mut all);
        assert_eq!(all, ["a[0].b is 1 and would be 3", "d does another thing"]);
    }
}
