//! The help page: the figure under the pointer explained, then every key.

use crate::tui::draw::{Pen, rows_of};
use crate::tui::keys::{self, Binding, Situation};
use crate::tui::theme::Tone;
use ratatui::layout::Rect;

/// Draws the page over a screen with these keys. `explain` draws what that screen has to explain and gives the row after it.
pub fn view(
    situation: Situation,
    pen: &mut Pen<'_>,
    area: Rect,
    explain: impl FnOnce(&mut Pen<'_>, Rect) -> u16,
) {
    let listed: Vec<&Binding> = keys::within(situation)
        .filter(|b| !b.long.is_empty())
        .collect();
    // Every key has its place; a long explanation is cut for it.
    let rows = u16::try_from(listed.len().div_ceil(2)).unwrap_or(u16::MAX);
    let above = rows_of(area, area.y, area.height.saturating_sub(rows + 2));
    let y = explain(pen, above);
    let below = rows_of(area, y, area.bottom().saturating_sub(y));
    table(&listed, pen, below);
}

/// Keys in as many columns as fit.
fn table(bindings: &[&Binding], pen: &mut Pen<'_>, area: Rect) {
    if area.height < 2 {
        return;
    }
    pen.rule(area, area.top(), "keys");
    let columns = match (area.width / 64).clamp(1, 3) {
        1 if bindings.len() > usize::from(area.height - 1) => 2,
        columns => columns,
    };
    let each = bindings.len().div_ceil(usize::from(columns)).max(1);
    let width = area.width / columns;
    for (x, column) in (area.left() + 2..)
        .step_by(usize::from(width.max(1)))
        .zip(bindings.chunks(each))
    {
        for (y, binding) in (area.top() + 1..area.bottom()).zip(column) {
            pen.put(x, y, 7, binding.shown, Tone::Strong);
            pen.put(x + 7, y, width.saturating_sub(9), binding.long, Tone::Plain);
        }
    }
}
