//! A number of the block that can be changed, to see whether the capture would notice.

use crate::constants::{Block, BlockFields, Factor, Point, Q15_ONE, Task};

/// Edges and ends are tried off by these shares of their span, up to the largest that still counts as shown.
pub const EDGE_LADDER: [f64; 4] = [0.005, 0.01, 0.015, 0.02];
/// Limits of rise and fall are tried off by these shares of themselves.
pub const RAMP_LADDER: [f64; 3] = [0.05, 0.1, 0.15];

type Setter = Box<dyn Fn(&mut BlockFields, f64)>;

/// A number and what it may be changed to.
pub struct Number {
    pub claim: String,
    pub unit: &'static str,
    pub value: f64,
    /// Least and most that it can be.
    pub range: [f64; 2],
    /// By how much it is tried off, rising.
    pub steps: Vec<f64>,
    put: Setter,
}

impl Number {
    /// The block with this number instead; `None` when there is no such block, or it is the same.
    pub fn changed(&self, numbers: &BlockFields, value: f64) -> Option<Block> {
        if value < self.range[0] || value > self.range[1] {
            return None;
        }
        let mut fields = numbers.clone();
        (self.put)(&mut fields, value);
        let same = &fields == numbers;
        Block::new(fields).ok().filter(|_| !same)
    }

    /// `7 codes`.
    pub fn by(&self, step: f64) -> String {
        format!("{} {}", step.round(), self.unit)
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped first
pub fn whole(value: f64) -> u16 {
    value.round().clamp(0.0, f64::from(u16::MAX)) as u16
}

fn ladder(span: f64, shares: &[f64]) -> Vec<f64> {
    let mut steps: Vec<f64> = shares
        .iter()
        .map(|share| (share * span.abs()).round().max(1.0))
        .collect();
    steps.dedup();
    steps
}

/// A change of one factor.
fn on_factor(i: usize, change: impl Fn(&mut Factor, u16) + 'static) -> Setter {
    Box::new(move |numbers, value| {
        if let Some(Task::Factor(factor)) = numbers.inputs.get_mut(i).map(|input| &mut input.task) {
            change(factor, whole(value));
        }
    })
}

/// Edges and points of every factor, both ends of the output: what shows where the inputs stand still.
pub fn settled(numbers: &BlockFields) -> Vec<Number> {
    let mut all = Vec::new();
    let top = f64::from((1_u32 << numbers.board.adc_bits) - 1);
    for (i, factor) in factors(numbers) {
        let span = f64::from(factor.full_edge) - f64::from(factor.rest_edge);
        let edge = |part: &str, value: u16, change: fn(&mut Factor, u16)| Number {
            claim: format!("inputs[{i}].factor.{part}"),
            unit: "codes",
            value: f64::from(value),
            range: [0.0, top],
            steps: ladder(span, &EDGE_LADDER),
            put: on_factor(i, change),
        };
        all.push(edge("rest_edge", factor.rest_edge, |factor, code| {
            factor.rest_edge = code;
        }));
        all.push(edge("full_edge", factor.full_edge, |factor, code| {
            factor.full_edge = code;
        }));
        all.extend(points(i, factor));
    }
    let span = f64::from(numbers.output.full_dac) - f64::from(numbers.output.zero_dac);
    let most = f64::from(u16::MAX >> (16 - numbers.board.dac_bits.min(16)));
    let end = |part: &str, value: u16, put: fn(&mut BlockFields, f64)| Number {
        claim: format!("output.{part}"),
        unit: "DAC codes",
        value: f64::from(value),
        range: [0.0, most],
        steps: ladder(span, &EDGE_LADDER),
        put: Box::new(put),
    };
    all.push(end("zero_dac", numbers.output.zero_dac, |numbers, code| {
        numbers.output.zero_dac = whole(code);
    }));
    all.push(end("full_dac", numbers.output.full_dac, |numbers, code| {
        numbers.output.full_dac = whole(code);
    }));
    all
}

/// Filters and limits: what shows only while something moves.
pub fn moving(numbers: &BlockFields) -> Vec<Number> {
    let mut all = Vec::new();
    for (i, factor) in factors(numbers) {
        all.push(Number {
            claim: format!("inputs[{i}].factor.filter_shift"),
            unit: "",
            value: f64::from(factor.filter_shift),
            range: [0.0, f64::from(16 - numbers.board.adc_bits.min(16))],
            steps: vec![1.0],
            put: on_factor(i, |factor, shift| {
                factor.filter_shift = u8::try_from(shift).unwrap_or(u8::MAX);
            }),
        });
    }
    let output = numbers.output;
    let ramp = |part: &str, value: u16, put: fn(&mut BlockFields, f64)| Number {
        claim: format!("output.{part}"),
        unit: "of 32768 a step",
        value: f64::from(value),
        range: [1.0, f64::from(Q15_ONE)],
        steps: ladder(f64::from(value), &RAMP_LADDER),
        put: Box::new(put),
    };
    all.push(ramp("rise_q15", output.rise_q15, |numbers, limit| {
        numbers.output.rise_q15 = whole(limit);
    }));
    all.push(ramp("fall_q15", output.fall_q15, |numbers, limit| {
        numbers.output.fall_q15 = whole(limit);
    }));
    all
}

fn factors(numbers: &BlockFields) -> impl Iterator<Item = (usize, &Factor)> {
    let inputs = numbers.inputs.iter().enumerate();
    inputs.filter_map(|(i, input)| Some((i, input.factor()?)))
}

/// Every point of a curve, code and command, or the middle of a straight line.
fn points(i: usize, factor: &Factor) -> Vec<Number> {
    let one = f64::from(Q15_ONE);
    let claim = format!("inputs[{i}].factor.points");
    let command = |value: u16, put: Setter| Number {
        claim: claim.clone(),
        unit: "of 32768",
        value: f64::from(value),
        range: [0.0, one],
        steps: ladder(one, &EDGE_LADDER),
        put,
    };
    if factor.points.is_empty() {
        let middle = u16::midpoint(factor.rest_edge, factor.full_edge);
        return vec![command(
            Q15_ONE / 2,
            on_factor(i, move |factor, q15| {
                factor.points.push(Point { code: middle, q15 });
            }),
        )];
    }
    let span = f64::from(factor.full_edge) - f64::from(factor.rest_edge);
    let places = factor.points.iter().enumerate();
    places
        .flat_map(|(n, point)| {
            let q15 = command(
                point.q15,
                on_factor(i, move |factor, q15| {
                    if let Some(point) = factor.points.get_mut(n) {
                        point.q15 = q15;
                    }
                }),
            );
            let code = Number {
                claim: claim.clone(),
                unit: "codes",
                value: f64::from(point.code),
                range: [0.0, f64::from(u16::MAX)],
                // A point is moved along its own line: what shows is the command that it changes.
                steps: ladder(span, &[0.01, 0.02, 0.04, 0.08]),
                put: on_factor(i, move |factor, code| {
                    if let Some(point) = factor.points.get_mut(n) {
                        point.code = code;
                    }
                }),
            };
            [q15, code]
        })
        .collect()
}
