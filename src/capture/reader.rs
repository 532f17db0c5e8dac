//! A capture's CSV read row by row: rows as this program writes them by `plain`, what is otherwise (quoted, cut, wrong) by `row`.

use super::plain;
use super::row::{self, Row};
use super::table::{Layout, Rows, TableError};
use super::types::{Capture, Clock, Metadata};
use crate::files;
use crate::outlet;
use measure::units::seconds_from_us;
use std::io::{BufRead, Read};

/// Most bytes of a capture that is read whole: two hours of two channels at a thousand samples a second.
pub(super) const LONGEST: u64 = 256 << 20;

/// Samples from which a rate can be told.
const ENOUGH: usize = 100;

#[cfg(feature = "inside")]
impl Capture {
    /// Reads a capture's CSV from memory: `meta.channels` is put into the order of its columns. A last line that was not
    /// ended is left out, and said so in `lost`.
    pub fn from_csv(csv: &[u8], meta: Metadata) -> Result<Self, TableError> {
        read(csv, csv.len() as u64, meta)
    }
}

/// Reads a capture's CSV of `size` bytes (it only says how much room to make). `meta.channels` is put into the order of the
/// columns.
///
/// The last line is kept only if it was ended (a killed run cuts a line anywhere, and a cut number is a wrong number).
pub(super) fn read(
    mut bytes: impl BufRead,
    size: u64,
    meta: Metadata,
) -> Result<Capture, TableError> {
    let whole = |e: std::io::Error| TableError::line(1, e.to_string());
    // A pipe may give a byte at a time.
    let mut begins = Vec::new();
    let first = bytes.by_ref().take(8).read_to_end(&mut begins);
    first.map_err(whole)?;
    if let Some(what) = own_file(&begins) {
        return Err(TableError::line(1, what));
    }
    // What is quoted behind the mark is a quoted cell only without it.
    let unmarked = begins.strip_prefix(b"\xef\xbb\xbf");
    let all = unmarked.unwrap_or(&begins).chain(bytes);
    if !matches!(begins[..], [0xff, 0xfe, ..] | [0xfe, 0xff, ..]) {
        return rows(all, size, meta);
    }
    // A spreadsheet's "Unicode text": of such a size that it fits.
    let text = files::read_from(all, LONGEST).and_then(files::text_of);
    let text = text.map_err(whole)?;
    rows(text.as_bytes(), text.len() as u64, meta)
}

/// What a file is that a spreadsheet keeps for itself, and what to do with it.
pub(super) fn own_file(begins: &[u8]) -> Option<&'static str> {
    // A ZIP archive (APPNOTE 4.3.7), as .xlsx and .ods are, and a compound file ([MS-CFB] 2.2), as .xls is; from memory.
    let own = begins.starts_with(b"PK\x03\x04") || begins.starts_with(b"\xd0\xcf\x11\xe0");
    own.then_some(
        "this is a spreadsheet's own file (or an archive) and no table of text: open it there and save it as \"CSV UTF-8 (comma delimited)\"; the file as it was recorded is better",
    )
}

fn rows(mut bytes: impl BufRead, size: u64, mut meta: Metadata) -> Result<Capture, TableError> {
    let (mut line, mut lost) = (1, None);
    let unreadable = |line: u64, e: std::io::Error| TableError::line(line, e.to_string());
    let header = row::next(&mut bytes, &mut line).map_err(|e| unreadable(line, e))?;
    let Some(header) = header else {
        let what = "the file is empty: a recording begins `t_us,step,<channel>`";
        return Err(TableError::line(1, what));
    };
    let layout = Layout::read(&header, &mut meta).map_err(|e| {
        let told = |cell: &Vec<u8>| {
            let mark = cell.get(..4).unwrap_or_default();
            memchr::memmem::find(cell, b"t_us").is_some() || mark.eq_ignore_ascii_case(b"sep=")
        };
        if header.cells.iter().any(told) {
            return e;
        }
        e.or_ahead_of_header(&mut bytes, line)
    })?;
    let mut rows = Rows::new(&layout, &meta);
    loop {
        plain::rows(&mut bytes, size, &mut rows, &mut line).map_err(|e| unreadable(line, e))?;
        match row::next(&mut bytes, &mut line).map_err(|e| unreadable(line, e))? {
            None => {
                lost = believe_times(&mut meta, &rows.t_us).or(lost);
                return Ok(rows.finish(meta, lost));
            }
            Some(row) if row.is_ended => rows.push(&row)?,
            Some(Row { line, .. }) => {
                lost = Some(format!(
                    "line {line} was cut before its end and is left out"
                ));
            }
        }
    }
}

/// A rate that the board's own times contradict is none: theirs is taken, and said.
fn believe_times(meta: &mut Metadata, t_us: &[u64]) -> Option<String> {
    if meta.board.clock == Some(Clock::Host) || t_us.len() < ENOUGH {
        return None;
    }
    let steps = t_us.windows(2).map(|pair| pair[1] - pair[0]);
    let middle = steps.len() / 2;
    let as_stated = |step: u64| (0.5..=2.0).contains(&(meta.board.rate_hz * seconds_from_us(step)));
    // More than half of them: so is their median.
    if steps
        .clone()
        .filter(|step| as_stated(*step))
        .nth(middle)
        .is_some()
    {
        return None;
    }
    let mut steps: Vec<u64> = steps.collect();
    let (_, &mut median, _) = steps.select_nth_unstable(middle);
    let hz = 1.0 / seconds_from_us(median);
    if !hz.is_finite() || as_stated(median) {
        return None;
    }
    let words = format!(
        "the metadata says {} samples a second, its times say {hz:.0}: the times are believed",
        outlet::number(meta.board.rate_hz)
    );
    meta.board.rate_hz = hz;
    Some(words)
}

#[cfg(test)]
mod tests;
