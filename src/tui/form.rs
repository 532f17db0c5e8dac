//! Rows to type into.
//!
//! A text that is longer than its place shows its end: that is where it is typed.

use crate::tui::draw::{Pen, rows_of};
use crate::tui::keys::Action;
use crate::tui::list::shift;
use crate::tui::theme::Tone;
use crossterm::event::KeyCode;
use ratatui::layout::Rect;

/// The longest text that can be typed.
const LENGTH: usize = 240;
/// Columns that a label takes.
const LABEL: u16 = 24;

#[derive(Debug, Clone)]
pub struct Row {
    pub label: &'static str,
    pub text: String,
    /// What stands there as long as nothing is typed.
    pub hint: String,
}

impl Row {
    pub fn new(label: &'static str, text: &str, hint: &str) -> Self {
        Self {
            label,
            text: text.to_owned(),
            hint: hint.to_owned(),
        }
    }
}

#[derive(Debug, Clone)]
pub struct Form {
    pub rows: Vec<Row>,
    /// The row that is typed into.
    at: usize,
    /// Whether what stands in it goes with the first letter: nobody typed it.
    fresh: bool,
}

impl Form {
    pub fn new(rows: Vec<Row>, at: usize) -> Self {
        Self {
            rows,
            at,
            fresh: true,
        }
    }

    pub fn text(&self, label: &str) -> Option<&str> {
        let row = self.rows.iter().find(|row| row.label == label)?;
        Some(row.text.trim()).filter(|text| !text.is_empty())
    }

    /// Puts the pointer at the row of this label.
    pub fn point(&mut self, label: &str) {
        if let Some(at) = self.rows.iter().position(|row| row.label == label) {
            self.at = at;
            self.fresh = true;
        }
    }

    pub fn update(&mut self, action: Action, key: KeyCode) {
        let last = self.rows.len().saturating_sub(1);
        match (action, key) {
            (Action::Up, _) => shift(&mut self.at, -1, self.rows.len()),
            (Action::Down, KeyCode::Tab) if self.at == last => self.at = 0,
            (Action::Down, _) => shift(&mut self.at, 1, self.rows.len()),
            (Action::Type, KeyCode::Char(letter)) => return self.put(letter),
            (Action::Erase, _) => {
                if let Some(row) = self.rows.get_mut(self.at) {
                    row.text.pop();
                }
                self.fresh = false;
                return;
            }
            _ => return,
        }
        self.fresh = true;
    }

    fn put(&mut self, letter: char) {
        let Some(row) = self.rows.get_mut(self.at) else {
            return;
        };
        if std::mem::take(&mut self.fresh) {
            row.text.clear();
        }
        if row.text.chars().count() < LENGTH {
            row.text.push(letter);
        }
    }

    /// Draws it; gives the rows taken.
    pub fn view(&self, pen: &mut Pen<'_>, area: Rect) -> u16 {
        let mut taken = 0;
        for (place, (at, row)) in area.rows().zip(self.rows.iter().enumerate()) {
            let (pointer, tone) = pen.pointer(at == self.at);
            let pieces = [(pointer, Tone::Now), (" ", Tone::Plain), (row.label, tone)];
            pen.pieces(place, place.y, &pieces);
            let x = place.left() + LABEL;
            let room = place.right().saturating_sub(x);
            let end = pen.put(x, place.y, room, tail(&row.text, room), Tone::Strong);
            let at_hint = if at == self.at {
                pen.put(
                    end,
                    place.y,
                    place.right().saturating_sub(end),
                    "_",
                    Tone::Now,
                ) + 1
            } else {
                end
            };
            if row.text.is_empty() {
                let room = place.right().saturating_sub(at_hint);
                pen.put(at_hint, place.y, room, &row.hint, Tone::Quiet);
            }
            taken += 1;
        }
        taken
    }
}

/// As much of the end of a text as there is room for, and for the mark behind it.
fn tail(text: &str, room: u16) -> &str {
    let most = usize::from(room.saturating_sub(1));
    let over = text.chars().count().saturating_sub(most);
    let begins = text.char_indices().nth(over);
    begins.map_or("", |(at, _)| &text[at..])
}

/// Rows to choose from, numbered.
pub fn choices<'a>(
    pen: &mut Pen<'_>,
    area: Rect,
    at: usize,
    rows: impl IntoIterator<Item = (&'a str, &'a str)>,
) {
    for (place, row, (name, detail)) in crate::tui::draw::scrolled(area, at, rows) {
        let (pointer, tone) = pen.pointer(row == at);
        let number = if row < 9 {
            format!(" {} ", row + 1)
        } else {
            "   ".to_owned()
        };
        let pieces = [
            (pointer, Tone::Now),
            (number.as_str(), Tone::Quiet),
            (name, tone),
        ];
        let x = pen.pieces(place, place.y, &pieces);
        let x = (x + 2).max(place.left() + 44);
        let room = place.right().saturating_sub(x + 1);
        pen.put(x, place.y, room, detail, Tone::Quiet);
    }
}

/// A picture in text, as much of it as there is room for.
pub fn picture(pen: &mut Pen<'_>, area: Rect, text: &str) {
    for (place, line) in area.rows().zip(text.lines()) {
        pen.left(rows_of(area, place.y, 1), place.y, line, Tone::Plain);
    }
}
