//! One row of a capture by RFC 4180, whatever its quotes and line ends.
//!
//! Belongs here: cells, and where a row begins and ends. Does not belong here: what is in a cell (`table`).

use std::io::{self, BufRead};

/// A quoted cell that goes on for longer ends with its line: what follows a stray quote is not all taken into memory.
const LONGEST: usize = 1 << 20;

/// Bytes of a row that can be one; blank lines ahead of it belong to it.
const LONGEST_ROW: usize = LONGEST + (1 << 16);

#[derive(Default)]
pub(super) struct Row {
    pub cells: Vec<Vec<u8>>,
    /// The line that it begins in.
    pub line: u64,
    /// Whether it has a line end.
    pub is_ended: bool,
}

#[derive(Clone, Copy)]
enum Cell {
    Begins,
    Bare,
    Quoted,
    /// A quote within quotes: the end of them, or half of one that is meant.
    Unquoted,
}

/// The next row that is not blank, if there is one. `line` is the number of the line that the bytes stand in.
pub(super) fn next(bytes: &mut impl BufRead, line: &mut u64) -> io::Result<Option<Row>> {
    let mut row = Row::default();
    let (mut text, mut cell, mut length) = (Vec::new(), Cell::Begins, 0);
    while let Some(&byte) = bytes.fill_buf()?.first() {
        let ends = matches!(byte, b'\r' | b'\n');
        if row.line == 0 && !ends {
            row.line = *line;
        }
        bytes.consume(1);
        length += 1;
        if length > LONGEST_ROW {
            return Err(io::Error::other(
                "it goes on for more than a megabyte, which no row of a recording does: is this the right file?",
            ));
        }
        *line += u64::from(byte == b'\n');
        row.is_ended = ends;
        match (cell, byte) {
            _ if row.line == 0 => continue,
            (Cell::Quoted, b'"') => {
                cell = Cell::Unquoted;
                continue;
            }
            (Cell::Begins, b'"') => {
                cell = Cell::Quoted;
                continue;
            }
            (Cell::Quoted, _) if !ends || text.len() < LONGEST => {}
            (Cell::Unquoted, b'"') => cell = Cell::Quoted,
            (_, b',') => {
                row.cells.push(std::mem::take(&mut text));
                cell = Cell::Begins;
                continue;
            }
            _ if ends => {
                if byte == b'\r' && bytes.fill_buf()?.first() == Some(&b'\n') {
                    bytes.consume(1);
                    *line += 1;
                }
                break;
            }
            _ => cell = Cell::Bare,
        }
        text.push(byte);
    }
    row.cells.push(text);
    Ok((row.line > 0).then_some(row))
}
