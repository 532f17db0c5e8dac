//! The one file of this room that touches the disk.

use super::ahead;
use super::metadata::MetadataError;
use super::table::{self, Position, TableError};
use super::types::{Capture, LooksTaken, Metadata, StreamCounts};
use crate::units::{Code, Step};
use std::fs::{File, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use thiserror::Error;

/// A capture that could not be read or written.
#[derive(Debug, Error)]
pub enum CaptureError {
    /// The file could not be opened or read.
    #[error("cannot read {}: {source}", path.display())]
    Unreadable {
        /// Which file.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// The CSV is there, its metadata is not.
    #[error("{} has no metadata beside it: {} is needed to know the board's bits and reference. Take captures with `pedalproof record`, or write that file by hand", csv.display(), metadata.display())]
    NoMetadata {
        /// The CSV.
        csv: PathBuf,
        /// The file that is missing.
        metadata: PathBuf,
    },
    /// The metadata cannot be.
    #[error("metadata {}: {source}", path.display())]
    Metadata {
        /// Which file.
        path: PathBuf,
        /// What and where.
        source: MetadataError,
    },
    /// The CSV cannot be.
    #[error("capture {}: {source}", path.display())]
    Table {
        /// Which file.
        path: PathBuf,
        /// What and where.
        source: TableError,
    },
    /// There is a file of that name already.
    #[error("{} exists already, and a capture is never overwritten: choose another name", path.display())]
    Exists {
        /// Which file.
        path: PathBuf,
    },
    /// The file could not be written.
    #[error("cannot write {}: {source}. What was flushed before is kept", path.display())]
    Unwritable {
        /// Which file.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
}

/// A capture that was read, with the facts of its file.
#[derive(Debug)]
pub struct Opened {
    /// The capture.
    pub capture: Capture,
    /// SHA-256 of the CSV, lower-case hex.
    pub sha256: String,
}

/// The metadata file of a CSV: its whole name with `-metadata.json` behind it (CSVW, section 5.3).
#[must_use]
pub fn metadata_path(csv: &Path) -> PathBuf {
    let mut name = csv.as_os_str().to_owned();
    name.push("-metadata.json");
    PathBuf::from(name)
}

/// Reads a capture and its metadata.
///
/// # Errors
/// When a file cannot be read or cannot be: with its path, line and column.
pub fn open(csv: &Path) -> Result<Opened, CaptureError> {
    let unreadable = |path: &Path| {
        let path = path.to_owned();
        move |source| CaptureError::Unreadable { path, source }
    };
    let file = File::open(csv).map_err(unreadable(csv))?;
    let beside = metadata_path(csv);
    let text = std::fs::read_to_string(&beside).map_err(|source| match source.kind() {
        io::ErrorKind::NotFound => CaptureError::NoMetadata {
            csv: csv.to_owned(),
            metadata: beside.clone(),
        },
        _ => CaptureError::Unreadable {
            path: beside.clone(),
            source,
        },
    })?;
    let meta = Metadata::from_json(&text).map_err(|source| CaptureError::Metadata {
        path: beside.clone(),
        source,
    })?;
    let size = file.metadata().map_err(unreadable(csv))?.len();
    let (capture, sha256) =
        ahead::hashed(file, |bytes| table::read(bytes, size, meta)).map_err(|source| {
            CaptureError::Table {
                path: csv.to_owned(),
                source,
            }
        })?;
    Ok(Opened { capture, sha256 })
}

/// Writes a capture as it arrives. Rows reach the disk at each [`CaptureWriter::flush`], which the run calls at
/// least once a second; a run that dies in between keeps all before.
#[derive(Debug)]
pub struct CaptureWriter {
    csv: PathBuf,
    rows: BufWriter<File>,
    meta: Metadata,
}

impl CaptureWriter {
    /// Begins the capture `csv` (and its metadata beside it).
    ///
    /// # Errors
    /// When either file exists already or cannot be written.
    pub fn create(csv: &Path, meta: Metadata) -> Result<Self, CaptureError> {
        let beside = metadata_path(csv);
        if beside.exists() {
            return Err(CaptureError::Exists { path: beside });
        }
        let made = OpenOptions::new().write(true).create_new(true).open(csv);
        let file = made.map_err(|source| match source.kind() {
            io::ErrorKind::AlreadyExists => CaptureError::Exists {
                path: csv.to_owned(),
            },
            _ => CaptureError::Unwritable {
                path: csv.to_owned(),
                source,
            },
        })?;
        let mut writer = Self {
            csv: csv.to_owned(),
            rows: BufWriter::with_capacity(1 << 16, file),
            meta,
        };
        let header = table::write_header(&mut writer.rows, &writer.meta);
        header.map_err(|source| writer.unwritable(source))?;
        writer.flush(&StreamCounts::default())?;
        Ok(writer)
    }

    /// Where the CSV lies.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.csv
    }

    /// States the rate that was measured of a board that says none, in samples a second.
    pub fn set_rate_hz(&mut self, rate_hz: f64) {
        self.meta.board.rate_hz = rate_hz;
    }

    /// States the look at the findings that the capture has come to.
    pub fn set_looks(&mut self, looks: LooksTaken) {
        self.meta.looks = Some(looks);
    }

    /// Adds a sample. `position` is dropped unless the metadata has a reference.
    ///
    /// # Errors
    /// When the disk does not take it.
    pub fn push(
        &mut self,
        t_us: u64,
        step: Step,
        codes: impl Iterator<Item = Code>,
        position: Option<f64>,
    ) -> Result<(), CaptureError> {
        let position = match (&self.meta.reference, position) {
            (None, _) => Position::NoColumn,
            (Some(_), None) => Position::NotGiven,
            (Some(_), Some(position)) => Position::At(position),
        };
        table::write_row(&mut self.rows, t_us, step, codes, position)
            .map_err(|source| self.unwritable(source))
    }

    /// Puts everything on the disk, with the stream's counts so far.
    ///
    /// # Errors
    /// When the disk does not take it.
    pub fn flush(&mut self, counts: &StreamCounts) -> Result<(), CaptureError> {
        self.rows
            .flush()
            .map_err(|source| self.unwritable(source))?;
        self.meta.stream = counts.clone();
        let beside = metadata_path(&self.csv);
        let text = self
            .meta
            .to_json(&self.csv.file_name().unwrap_or_default().to_string_lossy());
        replace(&beside, text.as_bytes()).map_err(|source| CaptureError::Unwritable {
            path: beside,
            source,
        })
    }

    /// Ends the capture.
    ///
    /// # Errors
    /// When the disk does not take it.
    pub fn finish(mut self, counts: &StreamCounts) -> Result<PathBuf, CaptureError> {
        self.flush(counts)?;
        self.rows
            .get_ref()
            .sync_all()
            .map_err(|source| self.unwritable(source))?;
        Ok(self.csv)
    }

    fn unwritable(&self, source: io::Error) -> CaptureError {
        CaptureError::Unwritable {
            path: self.csv.clone(),
            source,
        }
    }
}

/// Writes under a temporary name and renames, so that a half-written file never carries the name.
fn replace(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut temporary = path.as_os_str().to_owned();
    temporary.push(".part");
    let temporary = PathBuf::from(temporary);
    std::fs::write(&temporary, bytes)?;
    std::fs::rename(&temporary, path)
}
