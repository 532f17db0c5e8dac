//! Noise, deviation and the agreement of two tracks over travel.

use super::axes::{Area, BAND, Chart, Drawn, GRID, INK, LETTERS, LINE, QUIET, WORN, chart, runs};
use crate::record::ChannelPart;
use crate::report::agreement::Agreement;
use crate::report::recurring::{Along, Seen, Way};
use measure::{CurvePoint, DeviationCurve, TravelMap};
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

const TRAVEL: &str = "% of travel";
const ALL: (f64, f64) = (0.0, 100.0);

/// Noise of each bin of travel, worn zones shaded and named, dropouts marked below.
pub(super) fn noise(area: &Area<'_>, map: &TravelMap, part: &ChannelPart) -> Drawn {
    let (zones, dropouts) = (&part.worn_zones, &part.dropouts);
    let bins = map
        .bins
        .iter()
        .filter_map(|bin| Some((bin, bin.both.median?)));
    let most = largest(bins.clone().map(|(_, noise)| noise), 2.0 * map.overall);
    let floor = if dropouts.is_empty() {
        0.0
    } else {
        -0.1 * most
    };
    let mut chart = chart(area, (TRAVEL, "noise, code rms"), ALL, (floor, 1.15 * most))?;
    let letters = ("sans-serif", LETTERS).into_font().color(&INK);
    let letters = letters.pos(Pos::new(HPos::Center, VPos::Top));
    for zone in zones {
        let place = [(zone.from_pct, floor), (zone.to_pct, 1.15 * most)];
        chart.draw_series([Rectangle::new(place, WORN.mix(0.2).filled())])?;
    }
    chart.draw_series(bins.map(|(bin, noise)| {
        Rectangle::new([(bin.from_pct, 0.0), (bin.to_pct, noise)], LINE.filled())
    }))?;
    for zone in zones {
        let middle = f64::midpoint(zone.from_pct, zone.to_pct).clamp(5.0, 95.0);
        chart.draw_series([Text::new("worn", (middle, 1.13 * most), letters.clone())])?;
    }
    let usual = [(0.0, map.overall), (100.0, map.overall)];
    chart.draw_series(DashedLineSeries::new(usual, 6, 4, INK.stroke_width(1)))?;
    for dropout in dropouts {
        if let Some(travel) = dropout.travel_pct {
            lost(&mut chart, (travel, floor / 2.0), part.acts(dropout))?;
        }
    }
    Ok(())
}

/// A lost contact: a triangle up towards full, down towards rest, a bar where that is not known.
pub(super) fn lost(chart: &mut Chart<'_, '_>, at: (f64, f64), acts: Option<&str>) -> Drawn {
    let corners = match acts {
        Some("full") => vec![(-5, 4), (5, 4), (0, -5)],
        Some(_) => vec![(-5, -4), (5, -4), (0, 5)],
        None => vec![(-1, -5), (1, -5), (1, 5), (-1, 5)],
    };
    chart.draw_series([EmptyElement::at(at) + Polygon::new(corners, WORN.filled())])?;
    Ok(())
}

/// Readings along the travel: what the profile allows at either end, what is a wiring fault, and what was read.
pub(super) fn along(area: &Area<'_>, along: &Along) -> Drawn {
    let (low, high) = along.range();
    let mut chart = chart(area, (TRAVEL, "code"), ALL, (low, high))?;
    let letters = ("sans-serif", LETTERS).into_font().color(&INK);
    let faults = [
        along.faults.0.map(|edge| (low, edge)),
        along.faults.1.map(|edge| (edge, high)),
    ];
    for (from, to) in faults.into_iter().flatten().filter(|(from, to)| from < to) {
        chart.draw_series([Rectangle::new(
            [(0.0, from), (100.0, to)],
            WORN.mix(0.2).filled(),
        )])?;
        let middle = letters.pos(Pos::new(HPos::Center, VPos::Center));
        let words = "counts as a wiring fault";
        chart.draw_series([Text::new(words, (50.0, f64::midpoint(from, to)), middle)])?;
    }
    for (place, allowed) in [(0.0, 12.0), (88.0, 100.0)].into_iter().zip(along.allowed) {
        if let Some((min, max)) = allowed {
            chart.draw_series([Rectangle::new(
                [(place.0, min), (place.1, max)],
                BAND.filled(),
            )])?;
            for edge in [min, max] {
                let edge = [(place.0, edge), (place.1, edge)];
                chart.draw_series(DashedLineSeries::new(edge, 6, 4, INK.stroke_width(1)))?;
            }
        }
    }
    if let [Some(rest), Some(full)] = along.ends {
        let line = [(0.0, rest), (100.0, full)];
        chart.draw_series(DashedLineSeries::new(line, 2, 4, QUIET.stroke_width(1)))?;
    }
    let seen = along
        .seen
        .iter()
        .filter(|seen| (0.0..=100.0).contains(&seen.travel_pct));
    if matches!(along.way, Way::Known(_)) {
        chart.draw_series(
            seen.map(|seen| Circle::new((seen.travel_pct, seen.low), 3, LINE.filled())),
        )?;
    } else {
        let bar = |seen: &Seen| {
            [
                (seen.travel_pct - 0.5, seen.low),
                (seen.travel_pct + 0.5, seen.high),
            ]
        };
        chart.draw_series(seen.map(|seen| Rectangle::new(bar(seen), LINE.stroke_width(2))))?;
    }
    let ends = [0.0, 100.0].into_iter().zip(along.ends);
    let ends = ends.filter_map(|(travel, code)| Some((travel, code?)));
    chart.draw_series(ends.map(|at| Circle::new(at, 5, INK.stroke_width(2))))?;
    Ok(())
}

/// Deviation of each position with its uncertainty, each way alone, the band of the limit, and the narrowest that holds
/// the curve.
pub(super) fn deviation(
    area: &Area<'_>,
    curve: &DeviationCurve,
    band: Option<f64>,
    needed: Option<f64>,
) -> Drawn {
    let reached = curve.points.iter().flat_map(|p| {
        let halfway = p.deviation_pct.abs() + 2.0 * p.u_pct;
        [
            Some(halfway),
            p.up_pct.map(f64::abs),
            p.down_pct.map(f64::abs),
        ]
    });
    let most = 1.15 * largest(reached.flatten(), band.unwrap_or(0.01));
    let mut chart = chart(area, (TRAVEL, "deviation, % of span"), ALL, (-most, most))?;
    bands(&mut chart, band)?;
    for edge in needed.into_iter().flat_map(|needed| [-needed, needed]) {
        let edge = [(0.0, edge), (100.0, edge)];
        chart.draw_series(DashedLineSeries::new(edge, 2, 4, QUIET.stroke_width(1)))?;
    }
    for point in &curve.points {
        let bar = [-2.0, 2.0].map(|k| (point.travel_pct, point.deviation_pct + k * point.u_pct));
        chart.draw_series([PathElement::new(bar.to_vec(), INK.stroke_width(1))])?;
        one_way(&mut chart, point)?;
    }
    let halfway = curve.points.iter().map(|p| (p.travel_pct, p.deviation_pct));
    chart.draw_series([PathElement::new(
        halfway.clone().collect::<Vec<_>>(),
        LINE.stroke_width(2),
    )])?;
    chart.draw_series(halfway.map(|at| Circle::new(at, 3, LINE.filled())))?;
    Ok(())
}

/// A triangle that points where the control went.
fn one_way(chart: &mut Chart<'_, '_>, point: &CurvePoint) -> Drawn {
    for (value, tip) in [(point.up_pct, -5), (point.down_pct, 5)] {
        let Some(value) = value else { continue };
        let corners = vec![(-4, 0), (4, 0), (0, tip), (-4, 0)];
        chart.draw_series([EmptyElement::at((point.travel_pct, value))
            + PathElement::new(corners, QUIET.stroke_width(1))])?;
    }
    Ok(())
}

/// Mean departure of each bin as a line, what single samples reached behind it.
pub(super) fn agreement(area: &Area<'_>, agreement: &Agreement, band: Option<f64>) -> Drawn {
    let seen = agreement.bins.iter().flatten();
    let reached = seen.flat_map(|bin| [bin.low.abs(), bin.high.abs()]);
    let most = 1.15 * largest(reached, band.unwrap_or(0.01));
    let mut chart = chart(area, (TRAVEL, "departure, % of span"), ALL, (-most, most))?;
    bands(&mut chart, band)?;
    let bins = (0_u32..).zip(&agreement.bins);
    let bins = bins.map(|(k, bin)| bin.map(|bin| (f64::from(k), bin)));
    chart.draw_series(bins.clone().flatten().map(|(from, bin)| {
        Rectangle::new(
            [(from, bin.low), (from + 1.0, bin.high)],
            LINE.mix(0.3).filled(),
        )
    }))?;
    let means = bins.map(|bin| bin.map(|(from, bin)| (from + 0.5, bin.mean)));
    for run in runs(means) {
        chart.draw_series([PathElement::new(run, LINE.stroke_width(2))])?;
    }
    Ok(())
}

/// The band of a limit either way, its edges dashed; and the line itself.
fn bands(chart: &mut Chart<'_, '_>, band: Option<f64>) -> Drawn {
    if let Some(band) = band {
        chart.draw_series([Rectangle::new([(0.0, -band), (100.0, band)], BAND.filled())])?;
        for edge in [-band, band] {
            let edge = [(0.0, edge), (100.0, edge)];
            chart.draw_series(DashedLineSeries::new(edge, 6, 4, INK.stroke_width(1)))?;
        }
    }
    let zero = vec![(0.0, 0.0), (100.0, 0.0)];
    chart.draw_series([PathElement::new(zero, GRID.stroke_width(1))])?;
    Ok(())
}

/// The largest of finite values and of `least`; never 0.
fn largest(values: impl Iterator<Item = f64>, least: f64) -> f64 {
    let values = values.filter(|value| value.is_finite());
    values.fold(least, f64::max).max(1e-6)
}
