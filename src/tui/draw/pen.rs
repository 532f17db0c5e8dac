//! Writing into a buffer without ever leaving its area.

use super::columns_of;
use crate::outlet;
use crate::tui::theme::{Charset, Glyphs, Theme, Tone};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Span;
use ratatui::widgets::{Clear, Widget};
use std::borrow::Cow;
use textwrap::{Options, WordSplitter};

pub struct Pen<'a> {
    buffer: &'a mut Buffer,
    pub theme: Theme,
}

pub type Piece<'a> = (&'a str, Tone);

/// Columns that a text takes.
pub fn width(text: &str) -> u16 {
    u16::try_from(Span::raw(text).width()).unwrap_or(u16::MAX)
}

/// A text of at most so many characters: of a longer one its beginning and its end, which tell names apart.
pub fn cut(text: &str, most: usize) -> String {
    let length = text.chars().count();
    if length <= most {
        return text.to_owned();
    }
    let end = (most / 3).min(10);
    let start = most.saturating_sub(end + CUT.len());
    let start: String = text.chars().take(start).collect();
    let end: String = text.chars().skip(length - end).collect();
    format!("{start}{CUT}{end}").chars().take(most).collect()
}

/// What stands where text was left out.
const CUT: &str = "..";

impl<'a> Pen<'a> {
    pub fn new(buffer: &'a mut Buffer, theme: Theme) -> Self {
        Self { buffer, theme }
    }

    pub fn glyphs(&self) -> Glyphs {
        self.theme.glyphs()
    }

    /// Writes at most `most` columns at a place; gives the column after the last. Outside of the buffer: nothing.
    pub fn put(&mut self, x: u16, y: u16, most: u16, text: &str, tone: Tone) -> u16 {
        let area = self.buffer.area;
        if most == 0 || x < area.left() || x >= area.right() || y < area.top() || y >= area.bottom()
        {
            return x;
        }
        let style = self.theme.style(tone);
        let text = outlet::line(text);
        self.buffer
            .set_stringn(x, y, text, usize::from(most), style)
            .0
    }

    /// Writes pieces one after the other into the row `y` of an area; gives the column after the last.
    pub fn pieces(&mut self, area: Rect, y: u16, pieces: &[Piece<'_>]) -> u16 {
        let mut x = area.left();
        for (text, tone) in pieces {
            let room = area.right().saturating_sub(x);
            x = self.put(x, y, room, text, *tone);
        }
        x
    }

    /// Writes from the left edge of the area on; gives the column after the last.
    pub fn left(&mut self, area: Rect, y: u16, text: &str, tone: Tone) -> u16 {
        self.put(area.left(), y, area.width, text, tone)
    }

    /// Writes so that the text ends at the right edge of the area; gives the column where it begins.
    pub fn right(&mut self, area: Rect, y: u16, text: &str, tone: Tone) -> u16 {
        let x = area.right().saturating_sub(width(text)).max(area.left());
        self.put(x, y, area.right() - x, text, tone);
        x
    }

    pub fn middle(&mut self, area: Rect, y: u16, text: &str, tone: Tone) {
        let x = area.left() + area.width.saturating_sub(width(text)) / 2;
        self.put(x, y, area.right().saturating_sub(x), text, tone);
    }

    /// Writes text broken at blanks from the top of the area; gives the number of rows taken. Text that is longer than the area
    /// ends in two dots.
    pub fn wrapped(&mut self, area: Rect, text: &str, tone: Tone) -> u16 {
        let rows = wrap(text, area.width);
        let mut taken = 0;
        for row in rows.iter().take(usize::from(area.height)) {
            self.put(area.left(), area.top() + taken, area.width, row, tone);
            taken += 1;
        }
        if usize::from(taken) < rows.len() && taken > 0 {
            let y = area.top() + taken - 1;
            let last = rows.get(usize::from(taken - 1)).map_or(0, |row| width(row));
            let x = area.left() + (last + 1).min(area.width.saturating_sub(3));
            self.put(x, y, area.right().saturating_sub(x), " ..", tone);
        }
        taken
    }

    /// A rule across the area's row with a title on it.
    pub fn rule(&mut self, area: Rect, y: u16, title: &str) {
        let rule = self.glyphs().rule.repeat(usize::from(area.width));
        self.put(area.left(), y, area.width, &rule, Tone::Quiet);
        if !title.is_empty() {
            let title = format!(" {title} ");
            self.put(
                area.left() + 1,
                y,
                area.width.saturating_sub(1),
                &title,
                Tone::Quiet,
            );
        }
    }

    pub fn upright(&mut self, x: u16, top: u16, bottom: u16) {
        let rule = self.glyphs().upright;
        for y in top..bottom {
            self.put(x, y, 1, rule, Tone::Quiet);
        }
    }

    pub fn clear(&mut self, area: Rect) {
        Clear.render(area.intersection(self.buffer.area), self.buffer);
    }

    /// A screen's title, with the program's name at the right.
    pub fn heading(&mut self, area: Rect, title: &str) {
        let spine = self.glyphs().spine;
        let title = cut(title, usize::from(area.width.saturating_sub(16)));
        let pieces = [
            (" ", Tone::Plain),
            (spine, Tone::Now),
            (" ", Tone::Plain),
            (title.as_str(), Tone::Strong),
        ];
        self.pieces(area, area.top(), &pieces);
        self.right(
            columns_of(area, area.x, area.width.saturating_sub(1)),
            area.top(),
            "pedalproof",
            Tone::Quiet,
        );
    }

    /// Two lines in the middle of the area, over what is there.
    pub fn dialog(&mut self, area: Rect, lines: &[String]) {
        let longest = lines.iter().map(|line| line.chars().count()).max();
        let wanted = |n: usize| u16::try_from(n).unwrap_or(u16::MAX);
        let columns = wanted(longest.unwrap_or(0) + 4).max(46).min(area.width);
        let rows = wanted(lines.len() + 2).min(area.height);
        let place = Rect {
            x: area.x + (area.width - columns) / 2,
            y: area.y + (area.height - rows) / 2,
            width: columns,
            height: rows,
        };
        self.clear(place);
        self.rule(place, place.top(), "");
        self.rule(place, place.bottom().saturating_sub(1), "");
        for (y, line) in (place.top() + 1..).zip(lines) {
            self.middle(place, y, line, Tone::Strong);
        }
    }

    /// The mark before an item of a list, and the tone of its name.
    pub fn pointer(&self, chosen: bool) -> (&'static str, Tone) {
        if chosen {
            (self.glyphs().pointer, Tone::Strong)
        } else {
            (" ", Tone::Plain)
        }
    }

    /// In the plain set: what is left of other characters (names, words from elsewhere) becomes a plain one.
    pub fn make_plain(&mut self) {
        if self.theme.charset == Charset::Unicode {
            return;
        }
        for cell in &mut self.buffer.content {
            if !cell.symbol().is_ascii() {
                let plain = match cell.symbol() {
                    "°" => "d",
                    "±" => "~", // one cell: where there is room the text has +-
                    "µ" | "μ" => "u",
                    "–" | "—" | "−" => "-",
                    _ => "?",
                };
                cell.set_symbol(plain);
            }
        }
    }
}

/// Breaks text into rows of at most `columns`, at blanks where there are any; keeps its own line breaks.
pub fn wrap(text: &str, columns: u16) -> Vec<String> {
    if columns == 0 {
        return Vec::new();
    }
    let options = Options::new(columns.into()).word_splitter(WordSplitter::NoHyphenation);
    let mut rows = Vec::new();
    for line in text.lines() {
        let line = line.split_whitespace().collect::<Vec<_>>().join(" ");
        rows.extend(
            textwrap::wrap(&line, &options)
                .into_iter()
                .map(Cow::into_owned),
        );
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_breaks_at_blanks_and_inside_words_that_are_too_long() {
        assert_eq!(wrap("press and hold it", 9), ["press and", "hold it"]);
        assert_eq!(wrap("abcdefgh ij", 4), ["abcd", "efgh", "ij"]);
        assert_eq!(wrap("a\nb", 9), ["a", "b"]);
        assert_eq!(wrap("anything", 0), Vec::<String>::new());
    }

    #[test]
    fn a_long_name_keeps_its_beginning_and_its_end() {
        assert_eq!(cut("T1-pedal.h", 10), "T1-pedal.h");
        // Twelve: four of the end, two dots, six of the beginning.
        assert_eq!(cut("T1-pedal-and-dial.json", 12), "T1-ped..json");
        for most in 0..12 {
            assert!(cut("T1-pedal-and-dial.json", most).chars().count() <= most);
        }
    }

    #[test]
    fn text_longer_than_its_area_says_so() {
        let area = Rect::new(0, 0, 12, 2);
        let mut buffer = Buffer::empty(area);
        let mut pen = Pen::new(&mut buffer, Theme::default());
        pen.wrapped(area, "press and hold it down until told", Tone::Plain);
        let row = |y: u16| -> String { (0..12).map(|x| buffer[(x, y)].symbol()).collect() };
        assert_eq!(row(0), "press and   ");
        assert_eq!(row(1), "hold it d ..");
    }
}
