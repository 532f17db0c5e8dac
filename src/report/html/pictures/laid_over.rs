//! Movements laid over each other.

use super::axes::{Area, BAND, Drawn, INK, LINE, chart};
use crate::report::recurring::Curve;
use plotters::prelude::*;

/// Most curves of one picture, spread over all there are: more only make it black.
const MOST: usize = 24;
/// Columns of a curve: lowest and highest of each is drawn.
const COLUMNS: f64 = 180.0;
/// Of a return, the seconds before it was counted in which it has settled.
const SETTLED_S: f64 = 0.3;

/// The last moments of each return, close up at rest.
pub(super) fn returns(area: &Area<'_>, curves: &[Curve], allowed: Option<(f64, f64)>) -> Drawn {
    let settled = curves.iter().flatten().filter(|(t, _)| *t > -SETTLED_S);
    let (low, high) = around(settled.map(|(_, code)| *code));
    let seconds = (-1.5, 0.0);
    let mut chart = chart(
        area,
        ("seconds before it was counted", "code"),
        seconds,
        (low, high),
    )?;
    if let Some((min, max)) = allowed.map(|(min, max)| (min.max(low), max.min(high)))
        && min < max
    {
        let band = [(seconds.0, min), (seconds.1, max)];
        chart.draw_series([Rectangle::new(band, BAND.filled())])?;
        for edge in [min, max]
            .into_iter()
            .filter(|edge| *edge > low && *edge < high)
        {
            let edge = [(seconds.0, edge), (seconds.1, edge)];
            chart.draw_series(DashedLineSeries::new(edge, 6, 4, INK.stroke_width(1)))?;
        }
    }
    for curve in chosen(curves) {
        for run in inside(curve, (low, high)) {
            let line = drawn(run, seconds);
            chart.draw_series([PathElement::new(line, LINE.mix(0.6).stroke_width(1))])?;
        }
    }
    Ok(())
}

/// Strokes about the middle of each.
pub(super) fn strokes(area: &Area<'_>, curves: &[Curve]) -> Drawn {
    let (low, high) = around(curves.iter().flatten().map(|(_, code)| *code));
    let seconds = (-1.0, 1.0);
    let mut chart = chart(
        area,
        ("seconds about the middle of the stroke", "code"),
        seconds,
        (low, high),
    )?;
    for curve in chosen(curves) {
        let line = drawn(curve, seconds);
        chart.draw_series([PathElement::new(line, LINE.mix(0.6).stroke_width(1))])?;
    }
    Ok(())
}

fn chosen(curves: &[Curve]) -> impl Iterator<Item = &Curve> {
    curves.iter().step_by(curves.len().div_ceil(MOST).max(1))
}

/// The stretches of a curve that lie between two codes.
fn inside(curve: &Curve, (low, high): (f64, f64)) -> impl Iterator<Item = &[(f64, f64)]> {
    let runs = curve.split(move |(_, code)| *code < low || *code > high);
    runs.filter(|run| !run.is_empty())
}

/// A curve in so many columns, lowest and highest of each in the order in which they came: no excursion is lost.
fn drawn(curve: &[(f64, f64)], (from, to): (f64, f64)) -> Vec<(f64, f64)> {
    let column = |t: f64| ((t - from) / (to - from) * COLUMNS).floor();
    curve
        .chunk_by(|a, b| column(a.0).total_cmp(&column(b.0)).is_eq())
        .flat_map(|bin| {
            let by_code = |a: &&(f64, f64), b: &&(f64, f64)| a.1.total_cmp(&b.1);
            let ends = [bin.iter().min_by(by_code), bin.iter().max_by(by_code)];
            let mut ends: Vec<(f64, f64)> = ends.into_iter().flatten().copied().collect();
            ends.sort_by(|a, b| a.0.total_cmp(&b.0));
            ends.dedup();
            ends
        })
        .collect()
}

/// From the lowest to the highest, and eight codes more on either side.
fn around(codes: impl Iterator<Item = f64>) -> (f64, f64) {
    let ends = codes.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), code| {
        (low.min(code), high.max(code))
    });
    match ends {
        (low, high) if low.is_finite() && high.is_finite() => ((low - 8.0).max(0.0), high + 8.0),
        _ => (0.0, 1.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_column_keeps_its_lowest_and_highest_in_order() {
        // Two seconds in 180 columns are 90 a second: the first four samples share a column.
        let curve = [
            (-1.0, 5.0),
            (-0.999, 9.0),
            (-0.998, 1.0),
            (-0.997, 4.0),
            (0.5, 3.0),
        ];
        assert_eq!(
            drawn(&curve, (-1.0, 1.0)),
            [(-0.999, 9.0), (-0.998, 1.0), (0.5, 3.0)]
        );
    }

    #[test]
    fn what_leaves_the_picture_parts_a_curve() {
        let curve = vec![(0.0, 5.0), (0.1, 50.0), (0.2, 6.0), (0.3, 7.0)];
        let runs: Vec<usize> = inside(&curve, (0.0, 10.0)).map(<[_]>::len).collect();
        assert_eq!(runs, [1, 2]);
    }
}
