//! The upper or lower edge of the convex hull of points sorted by x.

/// Which edge of the hull.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Side {
    /// The edge above all points.
    Upper,
    /// The edge below all points.
    Lower,
}

/// One edge of the hull from the smallest to the largest x, x strictly growing.
#[derive(Debug, Clone)]
pub(crate) struct Chain {
    vertices: Vec<(f64, f64)>,
    /// Slope of the wall before the first corner; the one after the last has the opposite sign.
    wall: f64,
}

impl Chain {
    /// The edge over `points`, which are sorted by x; equal x allowed. O(n).
    pub(crate) fn over(points: &[(f64, f64)], side: Side) -> Self {
        let sign = match side {
            Side::Upper => 1.0,
            Side::Lower => -1.0,
        };
        let mut vertices: Vec<(f64, f64)> = Vec::new();
        for &point in points {
            if let Some(&last) = vertices.last()
                && point.0 <= last.0
            {
                if sign * (point.1 - last.1) <= 0.0 {
                    continue;
                }
                vertices.pop();
            }
            while let [.., a, b] = vertices[..] {
                if sign * cross(a, b, point) < 0.0 {
                    break;
                }
                vertices.pop();
            }
            vertices.push(point);
        }
        Self {
            vertices,
            wall: sign * f64::INFINITY,
        }
    }

    /// Corners of the edge, x growing.
    pub(crate) fn vertices(&self) -> &[(f64, f64)] {
        &self.vertices
    }

    /// Height of the edge at `x`, held at the end's height outside; NaN for no points.
    pub(crate) fn height(&self, x: f64) -> f64 {
        let after = self.vertices.partition_point(|v| v.0 < x);
        match (
            after.checked_sub(1).and_then(|i| self.vertices.get(i)),
            self.vertices.get(after),
        ) {
            (Some(a), Some(b)) => a.1 + (b.1 - a.1) * ((x - a.0) / (b.0 - a.0)),
            (Some(end), None) | (None, Some(end)) => end.1,
            (None, None) => f64::NAN,
        }
    }

    /// Slopes of the edge to the left and to the right of `x`. Beyond its ends the hull is a vertical wall: an upper
    /// edge rises to its first corner (+inf) and falls from its last (-inf), a lower edge the opposite.
    pub(crate) fn slopes(&self, x: f64) -> (f64, f64) {
        let slope = |i: usize| -> Option<f64> {
            let (a, b) = (self.vertices.get(i)?, self.vertices.get(i + 1)?);
            Some((b.1 - a.1) / (b.0 - a.0))
        };
        let before = self.vertices.partition_point(|v| v.0 < x);
        let up_to = self.vertices.partition_point(|v| v.0 <= x);
        let left = before.checked_sub(1).and_then(slope);
        let right = up_to.checked_sub(1).and_then(slope);
        (left.unwrap_or(self.wall), right.unwrap_or(-self.wall))
    }
}

/// Positive when a, b, c turn left.
fn cross(a: (f64, f64), b: (f64, f64), c: (f64, f64)) -> f64 {
    (b.0 - a.0) * (c.1 - a.1) - (b.1 - a.1) * (c.0 - a.0)
}
