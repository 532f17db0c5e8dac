//! Letters to be read from where the foot is.

use super::Pen;
use crate::tui::theme::Tone;
use font8x8::legacy::BASIC_LEGACY;
use ratatui::layout::Rect;

/// Rows of a letter at its smallest.
pub const LETTER: u16 = 8;

/// A letter's rows, each a row of cells.
type Rows = [Vec<bool>; LETTER as usize];

/// A text in cells, one column between letters. A character that the font lacks is a blank.
fn rows(text: &str) -> Rows {
    let mut rows: Rows = Default::default();
    for (at, letter) in text.chars().enumerate() {
        let code = usize::try_from(u32::from(letter)).unwrap_or_default();
        let glyph = BASIC_LEGACY.get(code).copied().unwrap_or_default();
        let used = glyph.iter().fold(0, |used, row| used | row);
        // Columns without a cell are left out, so that more letters fit; a blank keeps three.
        let (first, last) = match used {
            0 => (0, 3),
            used => (used.trailing_zeros(), 8 - used.leading_zeros()),
        };
        for (row, bits) in rows.iter_mut().zip(glyph) {
            if at > 0 {
                row.push(false);
            }
            row.extend((first..last).map(|column| bits >> column & 1 == 1));
        }
    }
    rows
}

impl Pen<'_> {
    /// Writes a text in the middle of an area in letters of 8 rows, or 16 where there is room; where they do not fit, in one row of
    /// ordinary ones.
    pub fn big(&mut self, area: Rect, text: &str, tone: Tone) {
        let rows = rows(text);
        let columns = u16::try_from(rows[0].len()).unwrap_or(u16::MAX);
        let fits = |by: u16| columns.saturating_mul(by) <= area.width && LETTER * by <= area.height;
        let Some(by) = [2, 1].into_iter().find(|by| fits(*by)) else {
            return self.middle(area, area.top() + area.height / 2, text, tone);
        };
        let cell = self.theme.either("█", "#").repeat(usize::from(by));
        let left = area.left() + (area.width - columns * by) / 2;
        let top = area.top() + (area.height - LETTER * by) / 2;
        for (y, row) in (0..).zip(&rows) {
            for (x, _) in (0..).zip(row).filter(|(_, set)| **set) {
                for line in 0..by {
                    self.put(left + x * by, top + y * by + line, by, &cell, tone);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_letter_is_as_wide_as_its_cells() {
        let width = |text: &str| rows(text)[0].len();
        assert!(width("I") < width("M"));
        assert_eq!(width("II"), 2 * width("I") + 1);
        assert_eq!(width(" "), 3);
        assert_eq!(rows("")[0].len(), 0);
        // No letter of the font: a blank, never a panic.
        assert_eq!(width("\u{1F600}"), 3);
    }

    #[test]
    fn whatever_is_said_of_a_card_fits_on_a_small_screen() {
        for text in [
            "LET GO", "LEAVE IT", "PRESS", "TO FULL", "TO ZERO", "WIGGLE", "PLUG IN", "12 of 24",
        ] {
            let columns = rows(text)[0].len();
            assert!(columns <= 64, "{text}: {columns}");
        }
    }
}
