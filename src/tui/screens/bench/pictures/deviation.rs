//! The picture of the deviation from the straightest line along known travel, in the band of its limit.

use super::plot::{self, Axis, LEFT};
use super::travel::{beside, column, frame, parts};
use crate::tui::draw::{Pen, columns_of};
use crate::tui::run::Run;
use crate::tui::theme::Tone;
use measure::DeviationCurve;
use measure::figure::FigureName;
use measure::figure::numbers::{fixed, plain};
use ratatui::layout::Rect;

/// Deviation along known travel, a part for each channel.
pub fn draw(run: &Run, pen: &mut Pen<'_>, area: Rect) {
    let parts = parts(run, |part| part.curve.is_some());
    let marks = pen.glyphs().curve;
    let title = format!(
        "deviation from the straightest line, % of span: {} up, {} down, {} halfway",
        marks[1], marks[2], marks[0]
    );
    let none = "It needs stations, or a reference on the same shaft.";
    let Some(inner) = frame(run, pen, area, &title, &parts, none) else {
        return;
    };
    for ((lane, part), place) in parts.iter().zip(plot::shares(inner, parts.len())) {
        if let Some(curve) = &part.curve {
            let name = run.lane_name(*lane);
            let limit = run.limit(name, FigureName::LinearityIndependent);
            let band = limit.and_then(measure::judge::Limit::max);
            curve_of(pen, place, *lane, curve, band, name);
        }
    }
}

fn curve_of(
    pen: &mut Pen<'_>,
    area: Rect,
    lane: usize,
    curve: &DeviationCurve,
    band: Option<f64>,
    name: &str,
) {
    let inner = plot::inner(area);
    let points = curve.points.iter();
    let values = points
        .flat_map(|p| [Some(p.deviation_pct), p.up_pct, p.down_pct])
        .flatten();
    let worst = values
        .filter(|v| v.is_finite())
        .fold(0.0, |most: f64, v| most.max(v.abs()));
    let top = worst.max(band.unwrap_or(0.0)).max(0.01) * 1.15;
    let axis = Axis {
        low: -top,
        high: top,
    };
    backdrop(pen, inner, axis, band);
    let glyphs = pen.glyphs().curve;
    for point in &curve.points {
        let Some(column) = column(point.travel_pct, inner.width) else {
            continue;
        };
        let marks = [
            (point.up_pct, glyphs[1], Tone::Quiet),
            (point.down_pct, glyphs[2], Tone::Quiet),
            (Some(point.deviation_pct), glyphs[0], Tone::Lane(lane)),
        ];
        for (value, glyph, tone) in marks {
            if let Some(value) = value.filter(|v| v.is_finite()) {
                let y = inner.top() + axis.row(value, inner.height);
                pen.put(inner.left() + column, y, 1, glyph, tone);
            }
        }
    }
    let before = columns_of(area, area.x, LEFT - 1);
    pen.right(
        before,
        area.top(),
        &format!("+{}", fixed(top, 1)),
        Tone::Quiet,
    );
    pen.right(
        before,
        area.bottom() - 1,
        &format!("-{}", fixed(top, 1)),
        Tone::Quiet,
    );
    let worst = format!("worst {}", fixed(worst, 2));
    let limit = band.map_or_else(
        || "no limit".to_owned(),
        |band| format!("limit {}", plain(band)),
    );
    beside(pen, area, lane, &[name, &worst, &limit]);
}

/// The band of the linearity limit and the line itself.
fn backdrop(pen: &mut Pen<'_>, inner: Rect, axis: Axis, band: Option<f64>) {
    let glyphs = pen.glyphs();
    let fill = glyphs.band.repeat(usize::from(inner.width));
    let rule = glyphs.rule.repeat(usize::from(inner.width));
    for row in 0..inner.height {
        let (low, high) = axis.codes(row, inner.height);
        let y = inner.top() + row;
        if low <= 0.0 && high > 0.0 {
            pen.left(inner, y, &rule, Tone::Quiet);
        } else if band.is_some_and(|band| low < band && high > -band) {
            pen.left(inner, y, &fill, Tone::Band);
        }
    }
}
