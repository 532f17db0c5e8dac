//! `NAME.csv`: RFC 4180, header `t_us,step,<channel>,...[,ref]`, read row by row and written row by row.

use super::types::{Capture, ChannelMeta, Metadata};
use crate::units::{Code, Passage, Step};
use csv::ByteRecord;
use std::io::{Read, Write};
use thiserror::Error;

/// What is wrong in a capture's CSV, and where: lines count from 1, the header is line 1.
#[derive(Debug, Error)]
#[error("line {line}{}: {what}", column.as_deref().map(|c| format!(", column `{c}`")).unwrap_or_default())]
pub struct TableError {
    /// Which line.
    pub line: u64,
    /// Which column, when it is about one.
    pub column: Option<String>,
    /// What is wrong and what to do.
    pub what: String,
}

impl TableError {
    fn line(line: u64, what: impl Into<String>) -> Self {
        Self {
            line,
            column: None,
            what: what.into(),
        }
    }
}

/// Where each column of interest stands in the CSV.
struct Layout {
    t_us: usize,
    step: usize,
    channels: Vec<usize>,
    reference: Option<usize>,
    names: Vec<String>,
}

impl Layout {
    fn read(header: &ByteRecord, meta: &mut Metadata) -> Result<Self, TableError> {
        let names: Vec<String> = header
            .iter()
            .map(|cell| {
                String::from_utf8_lossy(cell.strip_prefix(b"\xef\xbb\xbf").unwrap_or(cell))
                    .trim()
                    .to_owned()
            })
            .collect();
        let find = |wanted: &str| names.iter().position(|name| name == wanted);
        let needed = |wanted: &str| {
            find(wanted).ok_or_else(|| {
                let told = format!(
                    "the header has no column `{wanted}`: a capture begins `t_us,step,<channel>`"
                );
                TableError::line(1, told)
            })
        };
        let (t_us, step) = (needed("t_us")?, needed("step")?);
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
            let told = format!(
                "the metadata describes channel `{name}`, but the header has no such column"
            );
            return Err(TableError::line(1, told));
        }
        let mut channels = Vec::new();
        for (at, name) in names.iter().enumerate() {
            if super::metadata::RESERVED.contains(&name.as_str()) {
                continue;
            }
            let Some(entry) = described.iter().find(|(known, _)| known == name) else {
                let told = format!(
                    "column `{name}` is not described in the metadata: add it to `pedalproof.channels`"
                );
                return Err(TableError::line(1, told));
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

impl Capture {
    /// Reads a capture's CSV from memory: `meta.channels` is put into the order of its columns. A last line that was not
    /// ended is left out, and said so in `lost`.
    ///
    /// # Errors
    /// The first line that cannot be, with its number and column.
    pub fn from_csv(csv: &[u8], meta: Metadata) -> Result<Self, TableError> {
        read(csv, meta, || matches!(csv.last(), Some(b'\n' | b'\r')))
    }
}

/// Reads a capture's CSV. `meta.channels` is put into the order of the columns.
///
/// The last line is kept only if it was ended: `ended` says so after the reading (a killed run cuts a line
/// anywhere, and a cut number is a wrong number).
///
/// # Errors
/// The first line that cannot be, with its number and column.
pub(super) fn read(
    bytes: impl Read,
    mut meta: Metadata,
    ended: impl Fn() -> bool,
) -> Result<Capture, TableError> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(bytes);
    let mut row = ByteRecord::new();
    if !next(&mut reader, &mut row)? {
        return Err(TableError::line(
            1,
            "the file is empty: a capture begins `t_us,step,<channel>`",
        ));
    }
    let layout = Layout::read(&row, &mut meta)?;
    let mut rows = Rows::new(&layout, &meta);
    let mut pending = false;
    let mut held = ByteRecord::new();
    let mut line = 1;
    while next(&mut reader, &mut row)? {
        if pending {
            rows.push(&held, line)?;
        }
        std::mem::swap(&mut held, &mut row);
        line = held.position().map_or(line + 1, csv::Position::line);
        pending = true;
    }
    let lost = if ended() {
        if pending {
            rows.push(&held, line)?;
        }
        None
    } else {
        pending.then(|| format!("line {line} was cut before its end and is left out"))
    };
    Ok(rows.finish(meta, lost))
}

fn next<R: Read>(reader: &mut csv::Reader<R>, row: &mut ByteRecord) -> Result<bool, TableError> {
    reader.read_byte_record(row).map_err(|e| {
        let line = e.position().map_or(0, csv::Position::line);
        TableError::line(line, e.to_string())
    })
}

/// Rows as they are read.
struct Rows<'a> {
    layout: &'a Layout,
    max_code: u32,
    t_us: Vec<u64>,
    codes: Vec<Vec<Code>>,
    reference: Option<Vec<f64>>,
    passages: Vec<Passage>,
}

impl<'a> Rows<'a> {
    fn new(layout: &'a Layout, meta: &Metadata) -> Self {
        Self {
            layout,
            max_code: 1u32
                .checked_shl(meta.board.bits)
                .map_or(u32::MAX, |codes| codes - 1),
            t_us: Vec::new(),
            codes: vec![Vec::new(); layout.channels.len()],
            reference: layout.reference.map(|_| Vec::new()),
            passages: Vec::new(),
        }
    }

    fn push(&mut self, row: &ByteRecord, line: u64) -> Result<(), TableError> {
        let layout = self.layout;
        if row.len() != layout.names.len() {
            let told = format!(
                "has {} fields, the header has {}",
                row.len(),
                layout.names.len()
            );
            return Err(TableError::line(line, told));
        }
        let wrong = |at: usize, told: String| TableError {
            line,
            column: Some(layout.names[at].clone()),
            what: told,
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
            .map_err(|told| wrong(layout.step, told))?;
        for (column, at) in self.codes.iter_mut().zip(&layout.channels) {
            let code = whole(&row[*at]).ok_or_else(|| wrong(*at, not_whole(&row[*at])))?;
            match u32::try_from(code) {
                Ok(code) if code <= self.max_code => column.push(Code(code)),
                _ => {
                    let told = format!(
                        "code {code} is above {}, the largest that the board's bits allow",
                        self.max_code
                    );
                    return Err(wrong(*at, told));
                }
            }
        }
        if let (Some(column), Some(at)) = (&mut self.reference, layout.reference) {
            let position = position(&row[at]).map_err(|told| wrong(at, told))?;
            column.push(position);
        }
        self.t_us.push(t_us);
        Ok(())
    }

    /// Extends the running passage, or begins a new one.
    fn step(&mut self, word: &[u8]) -> Result<(), String> {
        let at = self.t_us.len();
        match self.passages.last_mut() {
            Some(passage) if passage.step.word().as_bytes() == word => passage.range.end = at + 1,
            _ => {
                let step = String::from_utf8_lossy(word)
                    .parse::<Step>()
                    .map_err(|e| e.to_string())?;
                self.passages.push(Passage {
                    step,
                    range: at..at + 1,
                });
            }
        }
        Ok(())
    }

    fn finish(self, meta: Metadata, lost: Option<String>) -> Capture {
        let Self {
            t_us,
            codes,
            reference,
            passages,
            ..
        } = self;
        Capture {
            meta,
            t_us,
            passages,
            codes,
            reference,
            lost,
        }
    }
}

/// An unsigned decimal of at most 19 digits.
fn whole(digits: &[u8]) -> Option<u64> {
    if digits.is_empty() || digits.len() > 19 {
        return None;
    }
    digits.iter().try_fold(0u64, |sum, digit| {
        digit
            .is_ascii_digit()
            .then(|| sum * 10 + u64::from(digit - b'0'))
    })
}

fn not_whole(cell: &[u8]) -> String {
    format!(
        "`{}` is not an unsigned whole number",
        String::from_utf8_lossy(cell).escape_debug()
    )
}

/// A reference position; an empty cell is NaN: none was given.
fn position(cell: &[u8]) -> Result<f64, String> {
    if cell.is_empty() {
        return Ok(f64::NAN);
    }
    let text = String::from_utf8_lossy(cell);
    let number = text.parse::<f64>().ok().filter(|x| x.is_finite());
    number.ok_or_else(|| format!("`{}` is not a position", text.escape_debug()))
}

/// What stands in a row's `ref` column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Position {
    /// The capture has no such column.
    NoColumn,
    /// No position was given for this sample.
    NotGiven,
    /// The position, in the reference's unit.
    At(f64),
}

/// Writes the header. Names are quoted where RFC 4180 asks for it.
pub(super) fn write_header(out: &mut impl Write, meta: &Metadata) -> std::io::Result<()> {
    let names = ["t_us", "step"]
        .into_iter()
        .chain(meta.channels.iter().map(|(name, _)| name.as_str()));
    let mut header = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(out);
    header.write_record(names.chain(meta.reference.as_ref().map(|_| "ref")))?;
    header.flush()
}

/// Writes one row. `position` is written when there is a `ref` column.
pub(super) fn write_row(
    out: &mut impl Write,
    t_us: u64,
    step: Step,
    codes: impl Iterator<Item = Code>,
    position: Position,
) -> std::io::Result<()> {
    write!(out, "{t_us},{}", step.word())?;
    for code in codes {
        write!(out, ",{}", code.0)?;
    }
    match position {
        Position::NoColumn => {}
        Position::At(position) => write!(out, ",{position}")?,
        Position::NotGiven => write!(out, ",")?,
    }
    out.write_all(b"\r\n")
}
