//! The output over time, for the picture.

use std::collections::VecDeque;

/// Length of a point, microseconds: a fault of a few steps still shows in its extremes.
const POINT_US: u64 = 20_000;
/// Points kept: a minute and a half.
const POINTS: usize = 4500;

/// A stretch of the picture over time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProofPoint {
    /// When it begins, board time in microseconds.
    pub t_us: u64,
    /// Lowest and highest output measured, millivolts.
    pub measured_mv: [f64; 2],
    /// Lowest and highest output that the block allows; absent while it is not known whether the board runs.
    pub allowed_mv: Option<[f64; 2]>,
}

/// Adds a sample to the last point, or begins a new one.
pub(super) fn push(
    points: &mut VecDeque<ProofPoint>,
    t_us: u64,
    mv: f64,
    allowed: Option<[f64; 2]>,
) {
    let begins = t_us - t_us % POINT_US;
    match points.back_mut() {
        Some(last) if last.t_us == begins => {
            last.measured_mv = hull(last.measured_mv, [mv, mv]);
            last.allowed_mv = match (last.allowed_mv, allowed) {
                (Some(before), Some(now)) => Some(hull(before, now)),
                (before, now) => before.and(now),
            };
        }
        _ => points.push_back(ProofPoint {
            t_us: begins,
            measured_mv: [mv, mv],
            allowed_mv: allowed,
        }),
    }
    if points.len() > POINTS {
        points.pop_front();
    }
}

fn hull(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0].min(b[0]), a[1].max(b[1])]
}
