//! `NAME.csv`: RFC 4180, header `t_us,step,<channel>,...[,ref]`: what stands in its rows, taken and written row by row.
//!
//! What is wrong with a row is said here.

use super::row::{self, Row};
use super::running::RunningStep;
use super::types::{Capture, ChannelMeta, Metadata};
use crate::outlet;
use measure::units::{Code, MOST_DIGITS, OWN_COLUMNS, Passage, Step, UnknownWord, leading_decimal};
use std::io::{BufRead, Write};
use thiserror::Error;

/// What is wrong in a capture's CSV, and where: lines count from 1, the header is line 1.
#[derive(Debug, Error)]
#[error("line {line}{}: {what}", column.as_deref().map(|c| format!(", column `{c}`")).unwrap_or_default())]
pub struct TableError {
    pub line: u64,
    pub column: Option<String>,
    pub what: String,
}

impl TableError {
    pub(super) fn line(line: u64, what: impl Into<String>) -> Self {
        Self {
            line,
            column: None,
            what: what.into(),
        }
    }
}

/// Columns that a header may have: as many as a line of the stream has numbers, and their time, step and reference.
const MOST_COLUMNS: usize = 82;

/// Where each column of interest stands in the CSV.
pub(super) struct Layout {
    pub t_us: usize,
    pub step: usize,
    pub channels: Vec<usize>,
    pub reference: Option<usize>,
    pub names: Vec<String>,
}

impl Layout {
    pub fn read(header: &Row, meta: &mut Metadata) -> Result<Self, TableError> {
        let names: Vec<String> = header
            .cells
            .iter()
            .map(|cell| {
                let cell = cell.strip_prefix(b"\xef\xbb\xbf").unwrap_or(cell);
                outlet::line(String::from_utf8_lossy(cell).trim()).into_owned()
            })
            .collect();
        if names.len() > MOST_COLUMNS {
            let message = format!(
                "the header has {} columns, and a board has {MOST_COLUMNS} at most: is this the right file?",
                names.len()
            );
            return Err(TableError::line(1, message));
        }
        let find = |wanted: &str| names.iter().position(|name| name == wanted);
        let needed = |wanted: &str| {
            find(wanted).ok_or_else(|| TableError::line(1, no_column(wanted, &names)))
        };
        let (t_us, step) = (needed("t_us")?, needed("step")?);
        if names.last().is_some_and(String::is_empty) {
            let message = "the header ends with a comma, which makes an empty column, as a spreadsheet does when a cell of it was touched: delete that column there and save it again, or take the file as it was recorded";
            return Err(TableError::line(1, message));
        }
        if let Some(twice) = names
            .iter()
            .enumerate()
            .find(|(i, name)| names[..*i].contains(name))
        {
            return Err(TableError::line(
                1,
                format!("column `{}` stands twice in the header", twice.1),
            ));
        }
        let described: Vec<(String, ChannelMeta)> = std::mem::take(&mut meta.channels);
        if let Some((name, _)) = described.iter().find(|(name, _)| find(name).is_none()) {
            let message = format!(
                "the metadata describes channel `{name}`, but the header has no such column"
            );
            return Err(TableError::line(1, message));
        }
        let mut channels = Vec::new();
        for (at, name) in names.iter().enumerate() {
            if OWN_COLUMNS.contains(&name.as_str()) {
                continue;
            }
            let Some(entry) = described.iter().find(|(known, _)| known == name) else {
                let message = format!(
                    "column `{name}` is not described in the metadata: add it to `pedalproof.channels`"
                );
                return Err(TableError::line(1, message));
            };
            meta.channels.push(entry.clone());
            channels.push(at);
        }
        Ok(Self {
            t_us,
            step,
            channels,
            reference: find("ref"),
            names,
        })
    }
}

/// The ways out for a recording that something else has saved anew.
const AGAIN: &str = "Save it as \"CSV UTF-8 (comma delimited)\", or make a recording of what is left with `pedalproof import`; the file as it was recorded is better";

/// Rows ahead of a header, of which it is said that they are no part of a recording.
const AHEAD: usize = 20;

impl TableError {
    /// A table without a header in its first row, where one of the next is it, after all.
    pub(super) fn or_ahead_of_header(self, bytes: &mut impl BufRead, mut line: u64) -> Self {
        for _ in 0..AHEAD {
            let Ok(Some(row)) = row::next(bytes, &mut line) else {
                break;
            };
            let words = row.cells.iter().flat_map(|cell| {
                cell.split(|byte| matches!(byte, b';' | b'\t' | b'|' | b' ' | b'"'))
            });
            if words.into_iter().any(|word| word == b"t_us") {
                let what = format!(
                    "the header stands in line {}, and something else ahead of it. Take that out in a text editor, or make a recording of what is left with `pedalproof import`; the file as it was recorded is better",
                    row.line
                );
                return Self::line(1, what);
            }
        }
        self
    }
}

/// Why a header lacks a column: as a spreadsheet has saved it, it may stand there all the same.
fn no_column(wanted: &str, names: &[String]) -> String {
    let again = AGAIN;
    let first = names.first().map_or("", String::as_str);
    // What is unseen in it was written out.
    let by = [
        (";", "semicolons"),
        ("\\t", "tabs"),
        ("|", "bars"),
        (" ", "blanks"),
    ];
    let parted = |by: &str| first.split(by).any(|name| name.trim_matches('"') == "t_us");
    if first
        .get(..4)
        .is_some_and(|mark| mark.eq_ignore_ascii_case("sep="))
    {
        return format!("a spreadsheet's own line `sep=` stands ahead of the header. {again}");
    }
    if let Some((_, by)) = by.iter().find(|(by, _)| first.contains(by) && parted(by)) {
        return format!(
            "its columns are parted by {by} and not by commas, as some spreadsheets save them. {again}"
        );
    }
    if first.contains("\\u{0}") {
        return format!("it is in UTF-16 without the mark that says so. {again}");
    }
    let other = names.iter().find(|name| name.eq_ignore_ascii_case(wanted));
    let instead = other.map_or(String::new(), |other| {
        format!(" (`{other}` is written otherwise)")
    });
    format!(
        "the header has no column `{wanted}`{instead}: a recording begins `t_us,step,<channel>`"
    )
}

#[derive(Debug, Clone, Copy)]
pub(super) enum Column {
    Time,
    Step,
    /// A code of the channel of this index.
    Channel(usize),
    Reference,
}

fn cells(layout: &Layout) -> Vec<Column> {
    let cell = |at| {
        let channel = layout.channels.iter().position(|&channel| channel == at);
        match channel {
            Some(channel) => Column::Channel(channel),
            None if at == layout.t_us => Column::Time,
            None if at == layout.step => Column::Step,
            None => Column::Reference,
        }
    };
    (0..layout.names.len()).map(cell).collect()
}

pub(super) struct Rows<'a> {
    layout: &'a Layout,
    pub cells: Vec<Column>,
    pub max_code: u32,
    pub t_us: Vec<u64>,
    pub codes: Vec<Vec<Code>>,
    pub reference: Option<Vec<f64>>,
    pub passages: Vec<Passage>,
    /// The last passage's step.
    pub running: Option<RunningStep>,
    /// A sensor on the same shaft says where the control stands.
    has_sensor: bool,
}

impl<'a> Rows<'a> {
    pub fn new(layout: &'a Layout, meta: &Metadata) -> Self {
        Self {
            layout,
            cells: cells(layout),
            max_code: 1u32
                .checked_shl(meta.board.bits)
                .map_or(u32::MAX, |codes| codes - 1),
            t_us: Vec::new(),
            codes: vec![Vec::new(); layout.channels.len()],
            reference: layout.reference.map(|_| Vec::new()),
            passages: Vec::new(),
            running: None,
            has_sensor: meta.reference_channel().is_some(),
        }
    }

    /// Whether a row whose cells are in lacks the position that its step must have.
    pub fn lacks_position(&self, step: Step) -> bool {
        let given = self.reference.as_ref().and_then(|column| column.last());
        step == Step::Stations && !self.has_sensor && given.is_none_or(|at| at.is_nan())
    }

    /// Makes room for the rows of a file of `size` bytes, when those of its first `taken` bytes are in. It is no harm when
    /// there is none: then room is made as it is needed.
    pub fn make_room(&mut self, taken: usize, size: u64) {
        let times = usize::try_from(size).unwrap_or(0) / taken.max(1);
        let more = self.t_us.len().saturating_mul(times);
        let mut made = self.t_us.try_reserve_exact(more);
        for codes in &mut self.codes {
            made = made.and_then(|()| codes.try_reserve_exact(more));
        }
        if let (Ok(()), Some(positions)) = (made, &mut self.reference) {
            positions.try_reserve_exact(more).ok();
        }
    }

    pub fn push(&mut self, row: &Row) -> Result<(), TableError> {
        let (layout, line, row) = (self.layout, row.line, &row.cells);
        if row.len() != layout.names.len() {
            let (has, names) = (row.len(), layout.names.len());
            let message = format!("has {has} fields, the header has {names}");
            return Err(TableError::line(line, message));
        }
        let wrong = |at: usize, message: String| TableError {
            line,
            column: Some(layout.names[at].clone()),
            what: message,
        };
        let t_us = whole(&row[layout.t_us])
            .ok_or_else(|| wrong(layout.t_us, not_whole(&row[layout.t_us])))?;
        if let Some(last) = self.t_us.last().filter(|last| **last > t_us) {
            return Err(wrong(
                layout.t_us,
                format!("time goes back from {last} to {t_us} us"),
            ));
        }
        self.step(&row[layout.step])
            .map_err(|message| wrong(layout.step, message))?;
        for (column, at) in self.codes.iter_mut().zip(&layout.channels) {
            let code = whole(&row[*at]).ok_or_else(|| wrong(*at, not_whole(&row[*at])))?;
            match u32::try_from(code) {
                Ok(code) if code <= self.max_code => column.push(Code(code)),
                _ => {
                    let message = format!(
                        "code {code} is above {}, the largest that the board's bits allow",
                        self.max_code
                    );
                    return Err(wrong(*at, message));
                }
            }
        }
        if let (Some(column), Some(at)) = (&mut self.reference, layout.reference) {
            let position = position(&row[at]).map_err(|message| wrong(at, message))?;
            column.push(position);
        }
        let step = self.passages.last().map(|passage| passage.step);
        if step.is_some_and(|step| self.lacks_position(step)) {
            return Err(wrong(layout.step, no_position(layout)));
        }
        self.t_us.push(t_us);
        Ok(())
    }

    fn step(&mut self, word: &[u8]) -> Result<(), String> {
        let running = self.passages.last().map(|passage| passage.step);
        let step = match running.filter(|step| step.word().as_bytes() == word) {
            Some(step) => step,
            None => String::from_utf8_lossy(word)
                .parse()
                .map_err(|e: UnknownWord| e.to_string())?,
        };
        self.extend(step);
        Ok(())
    }

    /// Extends the running passage, or begins a new one.
    #[inline]
    pub fn extend(&mut self, step: Step) {
        let at = self.t_us.len();
        match self.passages.last_mut() {
            Some(passage) if passage.step == step => passage.range.end = at + 1,
            _ => {
                self.running = Some(RunningStep::new(step));
                self.passages.push(Passage {
                    step,
                    range: at..at + 1,
                });
            }
        }
    }

    pub fn finish(self, meta: Metadata, lost: Option<String>) -> Capture {
        let Self {
            t_us,
            codes,
            reference,
            mut passages,
            ..
        } = self;
        for stretch in &meta.set_aside {
            stretch.apply(&mut passages, &t_us);
        }
        // A sensor on the same shaft is the reference where no other is stated.
        let reference = reference.or_else(|| {
            let codes = codes.get(meta.reference_channel()?)?;
            Some(codes.iter().map(|code| code.as_f64()).collect())
        });
        let mut capture = Capture {
            meta,
            t_us,
            passages,
            codes,
            reference,
            lost,
        };
        capture.part_before_trials();
        capture
    }
}

/// Of a row of a known position that does not say which.
fn no_position(layout: &Layout) -> String {
    let missing = if layout.reference.is_some() {
        "its cell in column `ref` is empty"
    } else {
        "there is no column `ref`"
    };
    format!(
        "`stations` are held at known positions, and {missing}: write where the control stood, or call the step `idle`"
    )
}

/// An unsigned decimal of at most 19 digits.
fn whole(digits: &[u8]) -> Option<u64> {
    let (number, count) = leading_decimal(digits);
    (count == digits.len() && (1..=MOST_DIGITS).contains(&count)).then_some(number)
}

fn not_whole(cell: &[u8]) -> String {
    let text = String::from_utf8_lossy(cell);
    let digits = |c: char| c.is_ascii_digit() || "+-.,eE' ".contains(c);
    let spreadsheet = text.starts_with(|c: char| c.is_ascii_digit())
        && text.chars().all(digits)
        && text.contains(['e', 'E', ',', '.', '\'']);
    let advice = if spreadsheet {
        ", as a spreadsheet writes numbers: take the file as it was recorded, what is rounded is lost"
    } else {
        ""
    };
    format!(
        "`{}` is not an unsigned whole number{advice}",
        outlet::line(&text)
    )
}

/// A reference position; an empty cell is NaN: none was given.
pub(super) fn position(cell: &[u8]) -> Result<f64, String> {
    if cell.is_empty() {
        return Ok(f64::NAN);
    }
    let text = String::from_utf8_lossy(cell);
    let number = text.parse::<f64>().ok().filter(|x| x.is_finite());
    number.ok_or_else(|| format!("`{}` is not a position", outlet::line(&text)))
}

/// What stands in a row's `ref` column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum ReferenceCell {
    /// The capture has no such column.
    NoColumn,
    /// No position was given for this sample.
    NotGiven,
    At(f64),
}

/// Writes the header. Names are quoted where RFC 4180 asks for it.
pub(super) fn write_header(out: &mut impl Write, meta: &Metadata) -> std::io::Result<()> {
    let names = ["t_us", "step"]
        .into_iter()
        .chain(meta.channels.iter().map(|(name, _)| name.as_str()));
    let names = names.chain(meta.reference.as_ref().map(|_| "ref"));
    let quoted = names.map(|name| {
        if name.contains([',', '"', '\r', '\n']) {
            format!("\"{}\"", name.replace('"', "\"\""))
        } else {
            name.to_owned()
        }
    });
    write!(out, "{}\r\n", quoted.collect::<Vec<_>>().join(","))
}

/// Writes one row. `position` is written when there is a `ref` column.
pub(super) fn write_row(
    out: &mut impl Write,
    t_us: u64,
    step: Step,
    codes: impl Iterator<Item = Code>,
    position: ReferenceCell,
) -> std::io::Result<()> {
    write!(out, "{t_us},{}", step.word())?;
    for code in codes {
        write!(out, ",{}", code.0)?;
    }
    match position {
        ReferenceCell::NoColumn => {}
        ReferenceCell::At(position) => write!(out, ",{position}")?,
        ReferenceCell::NotGiven => write!(out, ",")?,
    }
    out.write_all(b"\r\n")
}
