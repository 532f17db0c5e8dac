//! Whole lines of a capture as they stand in the file, and which row begins in which of them.
//!
//! Belongs here: taking lines from the file for the `csv` crate. Does not belong here: what is in a row.

use super::table::TableError;
use csv::ByteRecord;
use std::io::BufRead;

/// A quoted cell that goes on for longer is taken as it is.
const LONGEST: usize = 1 << 20;

/// Whole lines of the file, for the `csv` crate.
pub(super) struct LineBuffer {
    /// A line end and then the lines: after a line end the `csv` crate takes no byte-order mark for the file's own.
    pub bytes: Vec<u8>,
    /// Number of the first of the lines.
    pub line: u64,
}

impl Default for LineBuffer {
    fn default() -> Self {
        Self {
            bytes: Vec::new(),
            line: 1,
        }
    }
}

impl LineBuffer {
    /// Leaves the lines behind.
    pub fn begin_after_last(&mut self) {
        self.line += lines_in(self.own());
        self.bytes.clear();
        self.bytes.push(b'\n');
    }

    /// The lines alone.
    pub fn own(&self) -> &[u8] {
        self.bytes.get(1..).unwrap_or_default()
    }

    /// Adds lines up to `enough` bytes, and more until no quoted cell is open. Gives how many bytes there are.
    pub fn read_on(
        &mut self,
        bytes: &mut impl BufRead,
        enough: usize,
    ) -> Result<usize, TableError> {
        let quotes = |text: &[u8]| memchr::memchr_iter(b'"', text).count();
        let mut open = quotes(&self.bytes);
        while self.own().len() < enough || (open % 2 == 1 && self.own().len() < LONGEST) {
            let before = self.bytes.len();
            let read = bytes.read_until(b'\n', &mut self.bytes);
            if read
                .map_err(|e| TableError::line(self.line + lines_in(self.own()), e.to_string()))?
                == 0
            {
                break;
            }
            open += quotes(&self.bytes[before..]);
        }
        Ok(self.own().len())
    }

    pub fn by_csv(&self) -> csv::Reader<&[u8]> {
        csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .from_reader(&self.bytes)
    }

    /// Whether the last line has an end.
    pub fn is_ended(&self) -> bool {
        matches!(self.own().last(), None | Some(b'\n' | b'\r'))
    }

    /// The line that a row begins in.
    pub fn line_of(&self, row: &ByteRecord) -> u64 {
        let begun = row
            .position()
            .and_then(|at| usize::try_from(at.byte()).ok());
        let begun = begun.unwrap_or(0).min(self.bytes.len());
        let blank = self.bytes[begun..]
            .iter()
            .take_while(|b| matches!(b, b'\r' | b'\n'));
        let begun = begun + blank.count();
        self.line + lines_in(self.bytes.get(1..begun).unwrap_or_default())
    }
}

fn lines_in(text: &[u8]) -> u64 {
    memchr::memchr_iter(b'\n', text).count() as u64
}

/// The next row, if there is one.
pub(super) fn next(
    reader: &mut csv::Reader<&[u8]>,
    row: &mut ByteRecord,
) -> Result<bool, TableError> {
    reader.read_byte_record(row).map_err(|e| {
        let line = e.position().map_or(0, csv::Position::line);
        TableError::line(line, e.to_string())
    })
}
