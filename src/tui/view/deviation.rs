//! The picture of the deviation from the straightest line along known travel, in the band of its limit.
//!
//! Belongs here: which column and row a thing stands in. Does not belong here: what a deviation is.

use super::pen::Pen;
use super::plot::Axis;
use super::trace::{LEFT, RIGHT};
use super::travel::{beside, column, each, frame, name, parts};
use crate::tui::state::State;
use crate::tui::theme::Tone;
use measure::DeviationCurve;
use measure::figure::FigureName;
use measure::figure::numbers::{fixed, plain};
use ratatui::layout::Rect;

/// Deviation along known travel, a part for each channel.
pub fn draw(state: &State, pen: &mut Pen<'_>, area: Rect) {
    let parts = parts(state, |part| part.curve.is_some());
    let marks = pen.glyphs().curve;
    let title = format!(
        "deviation from the straightest line, % of span: {} up, {} down, {} halfway",
        marks[1], marks[2], marks[0]
    );
    let none = "It needs stations, or a reference on the same shaft.";
    let Some(inner) = frame(state, pen, area, &title, &parts, none) else {
        return;
    };
    each(inner, parts.len(), |nth, place| {
        let Some((lane, part)) = parts.get(nth) else {
            return;
        };
        if let Some(curve) = &part.curve {
            let band = state
                .limit(name(state, *lane), FigureName::LinearityIndependent)
                .and_then(measure::judge::Limit::max);
            curve_of(pen, place, *lane, curve, band, name(state, *lane));
        }
    });
}

fn curve_of(
    pen: &mut Pen<'_>,
    area: Rect,
    lane: usize,
    curve: &DeviationCurve,
    band: Option<f64>,
    name: &str,
) {
    let inner = Rect {
        x: area.x + LEFT,
        width: area.width - LEFT - RIGHT,
        ..area
    };
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
    let before = Rect {
        width: LEFT - 1,
        ..area
    };
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
            pen.put(inner.left(), y, inner.width, &rule, Tone::Quiet);
        } else if band.is_some_and(|band| low < band && high > -band) {
            pen.put(inner.left(), y, inner.width, &fill, Tone::Band);
        }
    }
}
