//! Drawing that every screen shares: the pen, and dividing an area.

mod big;
mod pen;

pub use big::LETTER;
pub use pen::{Pen, Piece, cut, width, wrap};

use super::theme::Tone;
use ratatui::layout::Rect;

/// The smallest screen that everything fits on.
pub const LEAST: (u16, u16) = (64, 18);

/// So many columns of an area, from column `x` on.
pub fn columns_of(area: Rect, x: u16, width: u16) -> Rect {
    Rect { x, width, ..area }
}

/// So many rows of an area, from row `y` on.
pub fn rows_of(area: Rect, y: u16, height: u16) -> Rect {
    Rect { y, height, ..area }
}

/// The first `rows` rows of an area, and the rest.
pub fn split(area: Rect, rows: u16) -> (Rect, Rect) {
    let rows = rows.min(area.height);
    let rest = rows_of(area, area.y + rows, area.height - rows);
    (rows_of(area, area.y, rows), rest)
}

/// Two columns less on either side.
pub fn inset(area: Rect) -> Rect {
    let x = area.x + 2.min(area.width);
    columns_of(area, x, area.width.saturating_sub(4))
}

/// An area from column `x` on.
pub fn from_column(area: Rect, x: u16) -> Rect {
    columns_of(area, x, area.right().saturating_sub(x))
}

/// The rows of a list that there is room for, so that the one under the pointer is among them: a row of the screen with each.
pub fn scrolled<T>(
    area: Rect,
    pointer: usize,
    items: impl IntoIterator<Item = T>,
) -> impl Iterator<Item = (Rect, usize, T)> {
    let items = items
        .into_iter()
        .enumerate()
        .skip(first_shown(area, pointer));
    area.rows()
        .zip(items)
        .map(|(row, (at, item))| (row, at, item))
}

/// The item on top of a list: as far down as the pointer needs.
pub fn first_shown(area: Rect, pointer: usize) -> usize {
    (pointer + 1).saturating_sub(usize::from(area.height))
}

/// What must be so before anything is connected to a drive (DESIGN 8).
const SAFETY: &str = "Before anything is connected to a drive: wheels off the ground or motor leads off, traction battery \
isolated while wiring, an emergency stop that does not pass through this board. A bench verdict is no type approval.";

/// Writes the safety words into the last rows; gives what is left above them.
pub fn safety(pen: &mut Pen<'_>, area: Rect) -> Rect {
    let columns = area.width.saturating_sub(4).min(110);
    let rows = u16::try_from(wrap(SAFETY, columns).len()).unwrap_or(3);
    let (above, foot) = split(area, area.height.saturating_sub(rows.clamp(3, 4)));
    let place = columns_of(foot, foot.x + 3, columns);
    pen.wrapped(place, SAFETY, Tone::Open);
    above
}
