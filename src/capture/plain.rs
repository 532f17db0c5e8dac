//! The fast way over a capture's rows: whole lines of unquoted cells in which everything is as it should be.
//!
//! Belongs here: taking such rows, and leaving everything else alone, errors too. Does not belong here: what is wrong with a row
//! (`table`, through the `csv` crate).

use super::table::{Layout, Rows, position};
use measure::units::{Code, MOST_DIGITS, Step, leading_decimal};
use std::io::{self, BufRead};

/// What stands in a column.
#[derive(Debug, Clone, Copy)]
pub(super) enum Column {
    /// Board time.
    Time,
    /// The step's word.
    Step,
    /// A code of the channel of this index.
    Channel(usize),
    /// The reference position.
    Reference,
}

/// What stands in each column.
pub(super) fn cells(layout: &Layout) -> Vec<Column> {
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

/// Takes plain rows until there is one that is none, or none that is whole in its block. Gives how many lines were taken.
///
/// # Errors
/// When the file cannot be read on, with the lines taken before.
pub(super) fn rows(
    bytes: &mut impl BufRead,
    size: u64,
    rows: &mut Rows<'_>,
) -> Result<u64, (u64, io::Error)> {
    let mut lines = 0;
    loop {
        let block = bytes.fill_buf().map_err(|e| (lines, e))?;
        let mut taken = 0;
        while let Some(length) = rows.push_plain(&block[taken..]) {
            taken += length;
            lines += 1;
        }
        let whole = taken == block.len() && !block.is_empty();
        if lines > 0 && lines == rows.t_us.len() as u64 {
            rows.make_room(taken, size);
        }
        bytes.consume(taken);
        if !whole {
            return Ok(lines);
        }
    }
}

impl Rows<'_> {
    /// Takes the row that `text` begins with, if it is plain and as it should be, and gives its length with its end.
    #[inline]
    pub(super) fn push_plain(&mut self, text: &[u8]) -> Option<usize> {
        let taken = self.plain_row(text);
        if taken.is_none() {
            self.unpush();
        }
        taken
    }

    /// What was pushed of the last row goes again.
    #[cold]
    fn unpush(&mut self) {
        let whole = self.t_us.len();
        for codes in &mut self.codes {
            codes.truncate(whole);
        }
        if let Some(positions) = &mut self.reference {
            positions.truncate(whole);
        }
    }

    fn plain_row(&mut self, text: &[u8]) -> Option<usize> {
        let (mut at, mut t_us, mut step) = (0, 0, None);
        for (column, cell) in self.cells.iter().enumerate() {
            if column > 0 {
                (*text.get(at)? == b',').then_some(())?;
                at += 1;
            }
            let rest = text.get(at..)?;
            match *cell {
                Column::Time => {
                    let (number, digits) = leading_decimal(rest);
                    (1..=MOST_DIGITS).contains(&digits).then_some(())?;
                    (t_us, at) = (number, at + digits);
                }
                Column::Channel(channel) => {
                    let (number, digits) = leading_decimal(rest);
                    (1..=MOST_DIGITS).contains(&digits).then_some(())?;
                    let code = u32::try_from(number).ok()?;
                    (code <= self.max_code).then_some(())?;
                    self.codes[channel].push(Code(code));
                    at += digits;
                }
                Column::Step => {
                    let running = self.passages.last().map(|passage| passage.step);
                    let running = running.filter(|step| rest.starts_with(step.word().as_bytes()));
                    let found = running.or_else(|| other_step(rest))?;
                    (step, at) = (Some(found), at + found.word().len());
                }
                Column::Reference => {
                    let end = memchr::memchr3(b',', b'\r', b'\n', rest)?;
                    self.reference.as_mut()?.push(position(&rest[..end]).ok()?);
                    at += end;
                }
            }
        }
        let length = match text.get(at..)? {
            [b'\n', ..] => at + 1,
            [b'\r', b'\n', ..] => at + 2,
            _ => return None,
        };
        if self.t_us.last().is_some_and(|last| *last > t_us) {
            return None;
        }
        self.extend(step?);
        self.t_us.push(t_us);
        Some(length)
    }
}

/// The step whose word the text begins with: no word is the beginning of another.
#[cold]
fn other_step(text: &[u8]) -> Option<Step> {
    Step::ALL
        .into_iter()
        .find(|step| text.starts_with(step.word().as_bytes()))
}
