//! The one file of this room that touches the disk.

use super::sheet::{Sheet, SheetError};
use super::text::decode;
use crate::files;
use std::io::{self, Read};
use std::path::Path;
use thiserror::Error;

/// A file to be imported.
#[derive(Debug)]
pub struct Source {
    pub sheet: Sheet,
    /// SHA-256 of the file as it is, lower-case hex.
    pub sha256: String,
}

#[derive(Debug, Error)]
pub enum ImportError {
    #[error("cannot read it: {0}")]
    Unreadable(#[from] io::Error),
    #[error(transparent)]
    Sheet(#[from] SheetError),
}

/// Longest file: an hour of two channels at 1000 samples a second as scopes write them is half of that.
const LONGEST: u64 = 256 << 20;
/// Enough to see what a file is, bytes.
const BEGINS: u64 = 256 << 10;

/// Reads a file of any program that can be one.
pub fn read(path: &Path) -> Result<Source, ImportError> {
    Ok(Source::of(&files::read(path, LONGEST)?)?)
}

/// How many columns of numbers a file seems to hold, by what it begins with; a capture's own are none of them.
pub fn columns(path: &Path) -> Option<usize> {
    let mut begins = Vec::new();
    let file = files::open(path).ok()?;
    file.take(BEGINS).read_to_end(&mut begins).ok()?;
    let sheet = Source::of(&begins).ok()?.sheet;
    if sheet.headings.iter().any(|heading| heading.full == "t_us") {
        return None;
    }
    let columns = sheet.columns.iter();
    Some(columns.filter(|column| !column.is_empty()).count())
}

/// As [`read`], of what is open already.
pub fn read_from(source: impl Read) -> Result<Source, ImportError> {
    Ok(Source::of(&files::read_from(source, LONGEST)?)?)
}

impl Source {
    /// Makes sense of a file's bytes.
    pub fn of(bytes: &[u8]) -> Result<Self, SheetError> {
        let decoded = decode(bytes);
        let mut sheet = Sheet::read(&decoded.text)?;
        sheet.seen.splice(0..0, decoded.encoding.map(str::to_owned));
        Ok(Self {
            sheet,
            sha256: files::sha256(bytes),
        })
    }
}
