//! Fewest straight pieces that follow a curve within a stated error, exactly.
//!
//! Belongs here: where the knots lie and, when they need not lie on the curve, their values. Does not belong here: what the
//! knots are for (the constants' curve), rounding to whole codes.
//!
//! Knots lie at samples, the first and the last sample are knots. The error is that at the samples. Two problems:
//! *on the curve* (a knot's value is the sample's): shortest path over allowed segments; *free* (a knot's value may be
//! off by the error too): for each count of segments the set of values that can be reached at each sample, carried
//! forward exactly as intervals, then walked back. Free needs fewer segments or as many, never more.

/// Relative slack, so that a curve that just keeps the error is not refused for rounding.
const SLACK: f64 = 1e-12;

/// A knot: index of its sample and its value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Knot {
    /// Index of the sample.
    pub sample: usize,
    /// Value there.
    pub value: f64,
}

/// Fewest knots on the curve's own samples. O(n^2).
///
/// `None` for fewer than two samples, unequal lengths, x that does not grow strictly, a negative error or values that
/// are not finite.
#[must_use]
pub fn on_curve(x: &[f64], y: &[f64], max_error: f64) -> Option<Vec<Knot>> {
    let curve = Samples::new(x, y, max_error)?;
    let n = x.len();
    // Fewest segments from the first sample to each, and the knot before it.
    let mut best: Vec<(usize, usize)> = vec![(usize::MAX, 0); n];
    best[0] = (0, 0);
    for i in 0..n - 1 {
        // Segments are counted in order, and every sample can be reached by single steps.
        let segments = best[i].0 + 1;
        let (mut least, mut most) = (f64::NEG_INFINITY, f64::INFINITY);
        for j in i + 1..n {
            let run = x[j] - x[i];
            let slope = (y[j] - y[i]) / run;
            let room = curve.error * SLACK / run;
            if slope >= least - room && slope <= most + room && segments < best[j].0 {
                best[j] = (segments, i);
            }
            least = least.max(slope - curve.error / run);
            most = most.min(slope + curve.error / run);
            if least > most {
                break;
            }
        }
    }
    let mut knots = vec![n - 1];
    while let Some(&last) = knots.last()
        && last > 0
    {
        knots.push(best[last].1);
    }
    let on = |&sample: &usize| Knot {
        sample,
        value: y[sample],
    };
    Some(knots.iter().rev().map(on).collect())
}

/// Fewest knots whose values may leave the curve by the error. About O(n^2) for each segment.
///
/// `None` as for [`on_curve`].
#[must_use]
pub fn free(x: &[f64], y: &[f64], max_error: f64) -> Option<Vec<Knot>> {
    let curve = Samples::new(x, y, max_error)?;
    let last = x.len() - 1;
    let mut first = vec![Vec::new(); x.len()];
    first[0].push(curve.band(0));
    let mut layers = vec![first];
    while layers.last()?[last].is_empty() {
        let next = curve.next_layer(layers.last()?);
        if layers.len() > last {
            return None; // cannot be: single steps reach the end in n - 1 segments
        }
        layers.push(next);
    }
    curve.walk_back(&layers)
}

/// Values that can be reached.
type Interval = (f64, f64);

/// For each sample the values that can be reached there, as separate intervals.
type Layer = Vec<Vec<Interval>>;

struct Samples<'a> {
    x: &'a [f64],
    y: &'a [f64],
    error: f64,
}

impl<'a> Samples<'a> {
    fn new(x: &'a [f64], y: &'a [f64], max_error: f64) -> Option<Self> {
        let finite = x.iter().chain(y).all(|v| v.is_finite()) && max_error.is_finite();
        let grows = x.windows(2).all(|w| w[0] < w[1]);
        let proper = x.len() == y.len() && x.len() >= 2 && finite && grows && max_error >= 0.0;
        proper.then_some(Self {
            x,
            y,
            error: max_error * (1.0 + SLACK),
        })
    }

    fn band(&self, sample: usize) -> Interval {
        (self.y[sample] - self.error, self.y[sample] + self.error)
    }

    fn next_layer(&self, layer: &Layer) -> Layer {
        let mut next = vec![Vec::new(); layer.len()];
        for (i, intervals) in layer.iter().enumerate() {
            for &interval in intervals {
                let mut lines = Lines::from(interval, self.slopes(i));
                for (j, reached_at) in next.iter_mut().enumerate().skip(i + 1) {
                    let run = self.x[j] - self.x[i];
                    let (low, high) = self.band(j);
                    lines.keep_between(run, low, high);
                    match lines.values_at(run) {
                        Some(reached) => reached_at.push(reached),
                        None => break,
                    }
                }
            }
        }
        next.into_iter().map(joined).collect()
    }

    /// Slopes that no line from sample `i` to its neighbour can leave.
    fn slopes(&self, i: usize) -> Interval {
        let Some(next) = self.x.get(i + 1) else {
            return (0.0, 0.0);
        };
        let run = next - self.x[i];
        let slope = (self.y[i + 1] - self.y[i]) / run;
        (
            slope - 3.0 * self.error / run,
            slope + 3.0 * self.error / run,
        )
    }

    /// Knots from the last sample back to the first, each the middle of what keeps the rest possible.
    fn walk_back(&self, layers: &[Layer]) -> Option<Vec<Knot>> {
        let last = self.x.len() - 1;
        let (low, high) = *layers.last()?[last].first()?;
        let mut knots = vec![Knot {
            sample: last,
            value: f64::midpoint(low, high),
        }];
        for layer in layers.iter().rev().skip(1) {
            let to = *knots.last()?;
            let from = (0..to.sample).find_map(|i| {
                let values = layer[i].iter().find_map(|&from| self.starts(i, from, to))?;
                Some(Knot {
                    sample: i,
                    value: f64::midpoint(values.0, values.1),
                })
            })?;
            knots.push(from);
        }
        knots.reverse();
        Some(knots)
    }

    /// Values at sample `i`, within `from`, from which one segment leads to `to`.
    fn starts(&self, i: usize, from: Interval, to: Knot) -> Option<Interval> {
        let run = self.x[to.sample] - self.x[i];
        // The line through `to` and sample k within its band, seen at i: an interval for each k.
        let mut values = from;
        for k in i + 1..to.sample {
            let share = (self.x[k] - self.x[i]) / run;
            let at_start = |v: f64| (v - share * to.value) / (1.0 - share);
            let (low, high) = self.band(k);
            values = (values.0.max(at_start(low)), values.1.min(at_start(high)));
        }
        let room = self.error * 1e-9;
        (values.0 <= values.1 + room).then_some(values)
    }
}

/// Overlapping intervals joined, in order.
fn joined(mut intervals: Vec<Interval>) -> Vec<Interval> {
    intervals.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut out: Vec<Interval> = Vec::new();
    for (low, high) in intervals {
        match out.last_mut() {
            Some(last) if low <= last.1 => last.1 = last.1.max(high),
            _ => out.push((low, high)),
        }
    }
    out
}

/// Lines from one sample on as a convex polygon of (value there, slope).
struct Lines {
    corners: Vec<(f64, f64)>,
}

impl Lines {
    fn from(values: Interval, slopes: Interval) -> Self {
        let (a, b) = values;
        let (c, d) = slopes;
        Self {
            corners: vec![(a, c), (b, c), (b, d), (a, d)],
        }
    }

    /// Keeps the lines that `run` further on lie between `low` and `high`.
    fn keep_between(&mut self, run: f64, low: f64, high: f64) {
        self.clip(|(value, slope)| value + slope * run - low);
        self.clip(|(value, slope)| high - value - slope * run);
    }

    /// Keeps the side of the polygon where `room` is not negative (Sutherland and Hodgman 1974).
    fn clip(&mut self, room: impl Fn((f64, f64)) -> f64) {
        let mut kept = Vec::with_capacity(self.corners.len() + 1);
        for (i, &b) in self.corners.iter().enumerate() {
            let before = i.checked_sub(1).unwrap_or(self.corners.len() - 1);
            let a = self.corners[before];
            let (at_a, at_b) = (room(a), room(b));
            if (at_a > 0.0 && at_b < 0.0) || (at_a < 0.0 && at_b > 0.0) {
                let share = at_a / (at_a - at_b);
                kept.push((a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share));
            }
            if at_b >= 0.0 {
                kept.push(b);
            }
        }
        self.corners = kept;
    }

    /// Values that the lines take `run` further on; `None` when none is left.
    fn values_at(&self, run: f64) -> Option<Interval> {
        let at = self
            .corners
            .iter()
            .map(|(value, slope)| value + slope * run);
        let low = at.clone().reduce(f64::min)?;
        Some((low, at.reduce(f64::max)?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_needs_one_piece_and_a_corner_two() {
        let x: Vec<f64> = (0..9).map(f64::from).collect();
        let line: Vec<f64> = x.iter().map(|x| 3.0 - 2.0 * x).collect();
        assert_eq!(on_curve(&x, &line, 0.0).unwrap().len(), 2);
        assert_eq!(free(&x, &line, 0.01).unwrap().len(), 2);
        let corner: Vec<f64> = x.iter().map(|x| (x - 4.0).abs()).collect();
        let knots = on_curve(&x, &corner, 0.1).unwrap();
        let at: Vec<usize> = knots.iter().map(|k| k.sample).collect();
        assert_eq!(at, [0, 4, 8]);
        assert_eq!(free(&x, &corner, 0.1).unwrap().len(), 3);
        // By hand: half the sagitta of 4 lets one level line pass.
        assert_eq!(free(&x, &corner, 2.0).unwrap().len(), 2);
    }

    #[test]
    fn what_is_no_curve() {
        assert!(on_curve(&[], &[], 1.0).is_none());
        assert!(on_curve(&[1.0], &[1.0], 1.0).is_none());
        assert!(free(&[1.0, 1.0], &[1.0, 2.0], 1.0).is_none());
        assert!(free(&[0.0, 1.0], &[1.0, f64::NAN], 1.0).is_none());
        assert!(on_curve(&[0.0, 1.0], &[1.0, 2.0], -1.0).is_none());
    }
}
