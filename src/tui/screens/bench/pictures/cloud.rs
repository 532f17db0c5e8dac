//! What pictures of dots share: a title with a scale below, the codes at the ends, the dots themselves.

use super::plot::{self, Axis, LEFT};
use crate::tui::draw::{Pen, columns_of, rows_of};
use crate::tui::theme::{Charset, Tone};
use ratatui::layout::Rect;
use std::collections::BTreeMap;

/// A dot: across from 0 to 1, and what stands up.
pub(super) type Dot = (f64, f64);

/// Title and a scale below; gives what is between them.
pub(super) fn framed(pen: &mut Pen<'_>, area: Rect, title: &str, left: &str, right: &str) -> Rect {
    pen.rule(area, area.top(), title);
    let scale = rows_of(plot::inner(area), area.bottom() - 1, 1);
    pen.left(scale, scale.y, left, Tone::Quiet);
    pen.right(scale, scale.y, right, Tone::Quiet);
    rows_of(area, area.y + 1, area.height - 2)
}

/// The codes at the top and the bottom of a place, left of it.
pub(super) fn ends(pen: &mut Pen<'_>, place: Rect, axis: Axis) {
    let before = columns_of(place, place.x, LEFT - 1);
    let bottom = place.bottom().saturating_sub(1);
    for (y, code) in [(place.top(), axis.high), (bottom, axis.low)] {
        pen.right(before, y, &format!("{code:.0}"), Tone::Quiet);
    }
}

/// Dots of a lane; those off the axis are left out.
pub(super) fn scattered(
    pen: &mut Pen<'_>,
    inner: Rect,
    lane: usize,
    dots: impl Iterator<Item = Dot>,
    axis: Axis,
) {
    let (across, down) = plot::dots(pen.theme.charset);
    let (columns, rows) = (inner.width * across, inner.height * down);
    let mut cells: BTreeMap<(u16, u16), u8> = BTreeMap::new();
    for (x, code) in dots {
        if !(0.0..1.0).contains(&x) || code < axis.low || code > axis.high {
            continue;
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // of 0 .. columns
        let column = (x * f64::from(columns)) as u16;
        let row = axis.row(code, rows);
        *cells.entry((column / across, row / down)).or_insert(0) |=
            plot::bit(column % across, row % down);
    }
    for ((x, y), cell) in cells {
        let mut letters = [0; 4];
        let symbol = match pen.theme.charset {
            Charset::Unicode => char::from_u32(0x2800 + u32::from(cell))
                .unwrap_or('?')
                .encode_utf8(&mut letters),
            Charset::Ascii => "*",
        };
        let (x, y) = (inner.left() + x, inner.top() + y);
        pen.put(x, y, 1, symbol, Tone::Lane(lane));
    }
}
