//! The curve: fewest points that keep the command within the asked error of the travel.

use super::edges::Edges;
use super::{Choice, ChooseError, ErrorKind, Margin};
use crate::constants::{Point, Q15_ONE};
use measure::DeviationCurve;
use measure::statistics::fewest_knots;

/// Rounding of the points to Q15 and of the core's own line, together at most (each at most one: half for a point, one for
/// the line between them).
const ROUNDING: f64 = 1.5 / 32_768.0;

/// Most samples that a curve is searched over; above it, every second, third ... code.
const MOST_SAMPLES: u32 = 4096;

/// What the command should be between the edges.
#[derive(Debug, Clone, PartialEq)]
pub enum Target {
    /// Proportional to the code: nothing is known of the travel.
    Straight,
    /// Proportional to the resistance of a rheostat under a pull-up: the divider's inverse, code / 2^bits = r.
    Divider {
        /// 2^bits.
        codes: f64,
    },
    /// Proportional to a measured travel: codes growing, with the travel at each.
    Measured {
        /// Codes, growing.
        codes: Vec<f64>,
        /// Travel there, any unit.
        travel: Vec<f64>,
    },
}

impl Target {
    /// From a curve over known travel; `None` where codes do not grow or fall all the way.
    pub fn measured(curve: &DeviationCurve) -> Option<Self> {
        let mut points: Vec<(f64, f64)> = curve
            .points
            .iter()
            .map(|point| (point.code, point.travel_pct))
            .collect();
        let falls = points.first()?.0 > points.last()?.0;
        if falls {
            points.reverse();
        }
        let grows = points.len() >= 2 && points.windows(2).all(|pair| pair[0].0 < pair[1].0);
        grows.then(|| {
            let (codes, travel) = points.into_iter().unzip();
            Self::Measured { codes, travel }
        })
    }

    /// What is linear in travel at a code.
    fn travel(&self, code: f64) -> f64 {
        match self {
            Self::Straight => code,
            Self::Divider { codes } => {
                let ratio = code / codes;
                ratio / (1.0 - ratio)
            }
            Self::Measured { codes, travel } => {
                let after = codes
                    .partition_point(|at| *at < code)
                    .clamp(1, codes.len() - 1);
                let share = (code - codes[after - 1]) / (codes[after] - codes[after - 1]);
                travel[after - 1] + share * (travel[after] - travel[after - 1])
            }
        }
    }

    /// The command wanted at a code between the edges, 0 to 1.
    pub fn command(&self, zero: u16, one: u16, code: u16) -> f64 {
        let at = |code: u16| self.travel(f64::from(code));
        (at(code) - at(zero)) / (at(one) - at(zero))
    }

    fn describe(&self) -> String {
        match self {
            Self::Straight => {
                "no travel is known (no reference, no divider): command proportional to the reading, the error is that of rounding alone".to_owned()
            }
            Self::Divider { .. } => {
                "rheostat under a pull-up: the divider's inverse r/(1-r), in which the parts' values cancel between the edges".to_owned()
            }
            Self::Measured { codes, .. } => format!(
                "proportional to the travel measured with the reference, code {:.1} to {:.1}, straight on beyond",
                codes.first().copied().unwrap_or(f64::NAN),
                codes.last().copied().unwrap_or(f64::NAN)
            ),
        }
    }
}

/// Points between the edges, and the choice; refused when the target does not grow, or the points cannot keep the bound.
pub(super) fn points(
    channel: &str,
    target: &Target,
    edges: Edges,
    bound_pct: f64,
) -> Result<(Vec<Point>, Choice), ChooseError> {
    let refuse = |kind, words: String| Err(ChooseError::new(kind, format!("{channel}: {words}")));
    let room = bound_pct / 100.0 - ROUNDING;
    if room.is_nan() || room <= 0.0 {
        return refuse(
            ErrorKind::BadInput,
            format!(
                "a curve error of {bound_pct} % cannot be kept: whole steps of 1/32768 alone need 0.005 %"
            ),
        );
    }
    let wanted = |code: u16| target.command(edges.zero, edges.one, code);
    let codes = between(edges);
    let values: Vec<f64> = codes.iter().map(|code| wanted(*code)).collect();
    if !values.windows(2).all(|pair| pair[0] <= pair[1]) {
        return refuse(
            ErrorKind::Fail,
            "the measured travel goes back and forth between the edges: record the stations again"
                .to_owned(),
        );
    }
    let away: Vec<f64> = codes
        .iter()
        .map(|code| f64::from(code.abs_diff(edges.zero)))
        .collect();
    let Some(knots) = fewest_knots(&away, &values, room) else {
        return refuse(
            ErrorKind::Fail,
            "no curve can be laid through its travel".to_owned(),
        );
    };
    let points: Vec<Point> = knots
        .iter()
        .skip(1)
        .take(knots.len().saturating_sub(2))
        .map(|&knot| Point {
            code: codes[knot],
            q15: to_q15(values[knot]),
        })
        .collect();
    let worst = largest_error(&points, edges, wanted);
    let error_pct = 100.0 * (worst + 1.0 / f64::from(Q15_ONE));
    if error_pct > bound_pct {
        return refuse(
            ErrorKind::Fail,
            format!(
                "the curve comes out {error_pct:.3} % off, more than the {bound_pct} % asked for"
            ),
        );
    }
    let choice = Choice {
        place: String::new(),
        channel: channel.to_owned(),
        what: "curve points",
        value: f64::from(u32::try_from(points.len()).unwrap_or(u32::MAX)),
        unit: "1",
        reason: match target {
            Target::Straight => target.describe(),
            _ => format!(
                "{}; fewest points on that curve that keep the error under {bound_pct} % of full command",
                target.describe()
            ),
        },
        margin: Margin {
            pct: Some(bound_pct - error_pct),
            words: format!("largest error {error_pct:.3} %, rounding included"),
            ..Margin::default()
        },
    };
    Ok((points, choice))
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 0 to 32768
fn to_q15(value: f64) -> u16 {
    (value * f64::from(Q15_ONE))
        .round()
        .clamp(0.0, f64::from(Q15_ONE)) as u16
}

/// Codes from the zero edge to the other, both with it.
fn between(edges: Edges) -> Vec<u16> {
    let (low, high) = (edges.zero.min(edges.one), edges.zero.max(edges.one));
    let step = usize::from(u16::try_from(u32::from(high - low) / MOST_SAMPLES + 1).unwrap_or(1));
    let mut codes: Vec<u16> = (low..high).step_by(step).chain([high]).collect();
    if edges.zero > edges.one {
        codes = (low..=high).rev().step_by(step).collect();
        if codes.last() != Some(&low) {
            codes.push(low);
        }
    }
    codes
}

/// Largest departure of the straight pieces from what is wanted, over every code.
fn largest_error(points: &[Point], edges: Edges, wanted: impl Fn(u16) -> f64) -> f64 {
    let one = f64::from(Q15_ONE);
    let mut knots = vec![(edges.zero, 0.0)];
    knots.extend(
        points
            .iter()
            .map(|point| (point.code, f64::from(point.q15) / one)),
    );
    knots.push((edges.one, 1.0));
    let mut worst = 0.0_f64;
    for pair in knots.windows(2) {
        let [(from, low), (to, high)] = [pair[0], pair[1]];
        for code in from.min(to)..=from.max(to) {
            let share = f64::from(code.abs_diff(from)) / f64::from(to.abs_diff(from));
            worst = worst.max((low + share * (high - low) - wanted(code)).abs());
        }
    }
    worst
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 10 kohm over 4.7 kohm reads r = t / (t + 0.47). From t = 0.1 (code 179.65) to t = 0.9 (672.68): half the
    /// travel is r = 0.5 / 0.97, code 527.8. With edges on whole codes near these the middle comes out within a code.
    #[test]
    fn the_divider_is_undone() {
        let target = Target::Divider { codes: 1024.0 };
        assert!((target.command(180, 673, 528) - 0.5).abs() < 0.002);
        let edges = Edges {
            zero: 180,
            one: 673,
        };
        let (points, choice) = points("dial", &target, edges, 1.0).unwrap();
        assert!((1..=5).contains(&points.len()), "{points:?}");
        assert!(choice.margin.pct.unwrap() >= 0.0);
        // One point fewer cannot: every set with one point less, tried over all codes, is off by more than 1 %.
        if points.len() == 2 {
            let best = (181..673)
                .map(|code| {
                    let only = [Point {
                        code,
                        q15: to_q15(target.command(180, 673, code)),
                    }];
                    largest_error(&only, edges, |c| target.command(180, 673, c))
                })
                .fold(1.0, f64::min);
            assert!(best > 0.01 - ROUNDING, "{best}");
        }
    }

    #[test]
    fn falling_and_straight() {
        let edges = Edges {
            zero: 900,
            one: 100,
        };
        let (points, _) = points("x", &Target::Straight, edges, 1.0).unwrap();
        assert_eq!(points, []);
        let target = Target::Divider { codes: 1024.0 };
        let (points, _) = super::points("x", &target, edges, 0.5).unwrap();
        assert!(!points.is_empty());
        assert!(
            points
                .windows(2)
                .all(|p| p[0].code > p[1].code && p[0].q15 <= p[1].q15)
        );
    }

    #[test]
    fn a_measured_bow_is_followed_between_its_stations() {
        // Travel = code^2 at codes 100 .. 500: by hand (300 - 100: (9 - 1) / (25 - 1) = 1/3).
        let codes: Vec<f64> = (1..=5).map(|i| f64::from(i) * 100.0).collect();
        let travel = codes.iter().map(|c| c * c).collect();
        let target = Target::Measured { codes, travel };
        assert!((target.command(100, 500, 300) - 1.0 / 3.0).abs() < 1e-12);
        let refused = points(
            "x",
            &target,
            Edges {
                zero: 100,
                one: 500,
            },
            0.001,
        )
        .unwrap_err();
        assert_eq!(refused.kind, ErrorKind::BadInput);
        assert!(
            points(
                "x",
                &target,
                Edges {
                    zero: 100,
                    one: 500
                },
                f64::NAN
            )
            .is_err()
        );
    }
}
