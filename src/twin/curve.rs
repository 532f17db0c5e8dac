//! The curve and the product, as the core computes them.

use crate::constants::{Factor, Q15_ONE};

/// a x b in Q15, to the nearest: exact when either is 0 or 1. Also scales a code by a Q15 number.
pub(super) fn product(a: u16, b: u16) -> u16 {
    high_word(u32::from(a) * u32::from(b) * 2 + 0x8000)
}

fn high_word(of: u32) -> u16 {
    let [_, _, low, high] = of.to_le_bytes();
    u16::from_le_bytes([low, high])
}

#[derive(Debug, Clone, Copy)]
struct Segment {
    /// Where it ends: travel and command.
    to: u16,
    value: u16,
    slope: u32,
}

/// Straight pieces from the rest edge to the full edge.
#[derive(Debug, Clone)]
pub(super) struct Curve {
    rest_edge: u16,
    falls: bool,
    span: u16,
    segments: Vec<Segment>,
}

impl Curve {
    pub(super) fn new(factor: &Factor) -> Self {
        let mut curve = Self {
            rest_edge: factor.rest_edge,
            falls: factor.full_edge < factor.rest_edge,
            span: factor.full_edge.abs_diff(factor.rest_edge),
            segments: Vec::new(),
        };
        let (mut from, mut value) = (0, 0);
        let points = factor.points.iter().map(|point| (point.code, point.q15));
        for (code, next_value) in points.chain([(factor.full_edge, Q15_ONE)]) {
            let next = curve.travel(code);
            curve.segments.push(Segment {
                to: next,
                value: next_value,
                slope: (u32::from(next_value - value) << 16) / u32::from(next - from),
            });
            (from, value) = (next, next_value);
        }
        curve
    }

    /// Codes from the rest edge towards the full edge, 0 at and before the rest edge.
    pub(super) fn travel(&self, code: u16) -> u16 {
        if self.falls {
            self.rest_edge.saturating_sub(code)
        } else {
            code.saturating_sub(self.rest_edge)
        }
    }

    /// The code so many codes nearer to the rest edge, never beyond it.
    pub(super) fn back(&self, code: u16, codes: u16) -> u16 {
        let by = codes.min(self.travel(code));
        if self.falls { code + by } else { code - by }
    }

    pub(super) fn at(&self, code: u16) -> u16 {
        let travel = self.travel(code);
        if travel >= self.span {
            return Q15_ONE;
        }
        match self.segments.iter().find(|segment| travel < segment.to) {
            Some(segment) => {
                let below = u32::from(segment.to - travel) * segment.slope + 0x8000;
                segment.value - high_word(below)
            }
            None => Q15_ONE, // not reached: the last one ends at the span
        }
    }
}
