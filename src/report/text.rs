//! A document as plain text of at most 80 columns.

use super::document::{Align, Block, Cell, Document, FindingRow, Table};
use comfy_table::presets::NOTHING;
use comfy_table::{CellAlignment, ColumnConstraint, ContentArrangement, Table as Grid};
use std::borrow::Cow;
use textwrap::{Options, WordSplitter};

pub(super) const COLUMNS: u16 = 80;

/// Characters of a name in a table, and of a word among others: a path to be copied is shorter.
const NAME: usize = 120;
const WORD: usize = 400;

pub(super) fn write(document: &Document<'_>) -> String {
    let mut page = Page::default();
    page.title(&document.title);
    page.blocks(&document.intro);
    for section in &document.sections {
        page.gap = true;
        page.title(&section.title);
        page.blocks(&section.blocks);
    }
    page.text
}

/// Words in lines of at most [`COLUMNS`], indented by two.
pub(super) fn wrapped(text: &str) -> Vec<String> {
    wrap("  ", 2, text)
}

/// Words in lines of at most [`COLUMNS`], the first behind `label`, the others `indent` columns in.
fn wrap(label: &str, indent: usize, text: &str) -> Vec<String> {
    let words = text.split_whitespace().map(|word| shortened(word, WORD));
    let text = words.collect::<Vec<_>>().join(" ");
    if text.is_empty() {
        return vec![label.to_owned()];
    }
    let indent = " ".repeat(indent);
    let options = Options::new(COLUMNS.into())
        .initial_indent(label)
        .subsequent_indent(&indent)
        .word_splitter(WordSplitter::NoHyphenation)
        .break_words(false);
    let lines = textwrap::wrap(&text, options).into_iter();
    lines.map(Cow::into_owned).collect()
}

#[derive(Default)]
struct Page {
    text: String,
    /// A blank line is due before the next line.
    gap: bool,
}

impl Page {
    fn line(&mut self, text: &str) {
        if std::mem::take(&mut self.gap) && !self.text.is_empty() {
            self.text.push('\n');
        }
        self.text.push_str(text.trim_end());
        self.text.push('\n');
    }

    fn wrap(&mut self, label: &str, indent: usize, text: &str) {
        for line in wrap(label, indent, text) {
            self.line(&line);
        }
    }

    fn title(&mut self, title: &str) {
        if !title.is_empty() {
            self.wrap("", 2, title);
        }
    }

    fn blocks(&mut self, blocks: &[Block<'_>]) {
        for block in blocks {
            self.block(block);
        }
    }

    fn block(&mut self, block: &Block<'_>) {
        match block {
            Block::Banner(banner) => {
                self.line(&shortened(&banner.headline, WORD));
                self.line(&shortened(&banner.unit, WORD));
                self.list("- ", &banner.why);
            }
            Block::Heading(label, text) => {
                self.gap = true;
                let label = format!("{}  ", label.to_uppercase());
                self.wrap(&label, label.chars().count(), text);
            }
            Block::Caption(text) => {
                self.gap = true;
                self.wrap("  ", 4, text);
            }
            Block::Paragraph(text) => self.wrap("  ", 2, text),
            Block::Item(label, text) => self.wrap(label, label.chars().count().max(2), text),
            Block::Verbatim(lines) => lines.lines().for_each(|line| self.line(line)),
            Block::List(mark, rows) => self.list(mark, rows),
            Block::Terms(terms) => {
                for (term, text) in terms {
                    self.wrap(&format!("  {term:<11} "), 14, text);
                }
            }
            Block::Findings(rows) => rows.iter().for_each(|row| self.finding(row)),
            Block::Table(table) | Block::Folded(table) => self.table(table),
            Block::Picture(picture) => {
                self.gap = true;
                picture.ascii.lines().for_each(|line| self.line(line));
            }
        }
    }

    fn list(&mut self, mark: &str, rows: &[String]) {
        for row in rows {
            self.wrap(&format!("  {mark}"), 4, row);
        }
    }

    fn finding(&mut self, row: &FindingRow) {
        let allowed = match row.allowed.as_str() {
            "" => String::new(),
            "at most 0" => " (none allowed)".to_owned(),
            allowed => format!(" (allowed {allowed})"),
        };
        let outcome = row.outcome.to_string();
        let line = format!("{} {} {}{allowed}", row.channel, row.label, row.value);
        self.wrap(&format!("  {outcome:<12} "), 17, line.trim_end());
        let indent = " ".repeat(15);
        if let Some(reason) = &row.reason {
            self.wrap(&indent, 15, reason);
        }
        if let Some(advice) = &row.advice {
            self.wrap(&format!("{indent}-> "), 18, advice);
        }
    }

    fn table(&mut self, table: &Table) {
        if !table.caption.is_empty() {
            self.gap = true;
            self.wrap("  ", 4, &table.caption);
        }
        let indent = " ".repeat(table.indent);
        for line in grid(table).lines() {
            self.line(&format!("{indent}{line}"));
        }
    }
}

/// The columns of a table; only the one that may be wrapped gives way to the page's width.
fn grid(table: &Table) -> Grid {
    let mut grid = Grid::new();
    let width = COLUMNS.saturating_sub(u16::try_from(table.indent).unwrap_or(0));
    grid.load_style(NOTHING).set_width(width);
    let names = table.columns.iter().map(|column| column.name);
    if names.clone().any(|name| !name.is_empty()) {
        grid.set_header(names);
    }
    let cell = |(at, cell): (usize, &Cell)| match cell.text() {
        prose if table.wrapped == Some(at) => prose,
        name => shortened(&name, NAME).into_owned(),
    };
    let cells = |row: &Vec<Cell>| row.iter().enumerate().map(cell).collect::<Vec<_>>();
    grid.add_rows(table.rows.iter().map(cells));
    grid.discover_columns();
    if table.wrapped.is_some() {
        grid.set_content_arrangement(ContentArrangement::Dynamic);
    }
    for (i, (column, of)) in grid.column_iter_mut().zip(&table.columns).enumerate() {
        column.set_padding((0, 2));
        column.set_cell_alignment(match of.align {
            Align::Left => CellAlignment::Left,
            Align::Right => CellAlignment::Right,
        });
        if table.wrapped != Some(i) {
            column.set_constraint(ColumnConstraint::ContentWidth);
        }
    }
    grid
}

/// A name with its middle left out, where it has more than `most` characters: both ends tell it from others.
fn shortened(name: &str, most: usize) -> Cow<'_, str> {
    let characters = name.chars().count();
    if name.len() <= most || characters <= most {
        return Cow::Borrowed(name);
    }
    let begin: String = name.chars().take(most / 2).collect();
    let end: String = name.chars().skip(characters - most / 2).collect();
    Cow::Owned(format!("{begin}...{end}"))
}

#[cfg(test)]
mod tests {
    use super::super::document::columns;
    use super::*;

    #[test]
    fn words_wrap_and_a_word_too_long_stands_alone() {
        let mut page = Page::default();
        page.wrap("- ", 2, &format!("{} {} b", "a".repeat(77), "c".repeat(90)));
        let want = format!("- {}\n  {}\n  b\n", "a".repeat(77), "c".repeat(90));
        assert_eq!(page.text, want);
    }

    #[test]
    fn a_name_keeps_its_ends() {
        let long = format!("T1-{}-left", "\u{e9}".repeat(1000));
        let short = shortened(&long, 20);
        assert!(
            short.starts_with("T1-\u{e9}") && short.ends_with("\u{e9}-left"),
            "{short}"
        );
        assert_eq!(short.chars().count(), 23);
        assert_eq!(shortened(&"\u{e9}".repeat(20), 20), "\u{e9}".repeat(20));
    }

    #[test]
    fn a_long_name_is_no_wall_of_text() {
        let long = "n".repeat(100_000);
        let table = Table {
            columns: columns(["part", "verdict"]),
            rows: vec![vec![
                Cell::Text(long.clone()),
                Cell::Text("PASS".to_owned()),
            ]],
            ..Table::default()
        };
        let document = Document {
            title: format!("{long} fits"),
            intro: vec![Block::Table(table)],
            ..Document::default()
        };
        let text = write(&document);
        assert!(
            text.len() < 1000 && text.contains("n...n") && text.contains(" fits"),
            "{text}"
        );
        assert!(text.contains("  PASS"), "{text}");
    }
}
