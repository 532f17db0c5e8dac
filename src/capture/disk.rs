//! The one file of this room that touches the disk.

use super::metadata::MetadataError;
use super::read_ahead;
use super::reader;
use super::table::TableError;
use super::types::{Capture, Metadata};
use crate::files;
use crate::outlet::{self, Shown};
use serde_json::value::RawValue;
use std::fmt::Debug;
use std::fs::File;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use thiserror::Error;

#[derive(Debug, Error)]
pub enum CaptureError {
    #[error("cannot read {}: {source}", path.shown())]
    Unreadable { path: PathBuf, source: io::Error },
    #[error("{0} is no recording ({1} is missing). From a scope or logger: pedalproof import {0} ...; copied from elsewhere: copy both files", csv.shown(), metadata.shown())]
    NoMetadata { csv: PathBuf, metadata: PathBuf },
    #[error(
        "what comes through the standard input is no recording: it is to begin with the metadata and go on with the CSV"
    )]
    NotPiped,
    #[error("metadata {}: {source}", path.shown())]
    Metadata {
        path: PathBuf,
        source: MetadataError,
    },
    #[error("recording {}: {source}", path.shown())]
    Table { path: PathBuf, source: TableError },
    #[error("{} exists already, and a recording is never overwritten: choose another name", path.shown())]
    Exists { path: PathBuf },
    #[error("cannot write {}: {source}\n  {}", path.shown(), what_to_do(source))]
    Unwritable { path: PathBuf, source: io::Error },
    #[error("{} is no longer the file that this run writes: it or its folder was moved, removed or changed meanwhile\n  \
             Leave the folder alone until the run has ended, then take the recording again", path.shown())]
    Gone { path: PathBuf },
    #[error("the system does not confirm that {} is on the disk: {source}\n  \
             Look at that disk before it is unplugged or switched off", path.shown())]
    Unconfirmed { path: PathBuf, source: io::Error },
}

/// The next step for somebody whose disk refuses.
fn what_to_do(why: &io::Error) -> &'static str {
    use io::ErrorKind as Kind;
    match why.kind() {
        Kind::StorageFull | Kind::QuotaExceeded | Kind::FileTooLarge => {
            "Make room on that disk, or go to a folder on another one, and take the recording again"
        }
        Kind::PermissionDenied | Kind::ReadOnlyFilesystem => {
            "Go to a folder that you may write to, and take the recording again"
        }
        Kind::NotFound | Kind::NotADirectory => {
            "Make that folder (`mkdir -p`), or name another, and take the recording again"
        }
        _ => "Look at that disk, or go to a folder on another one, and take the recording again",
    }
}

/// A capture that was read, with the facts of its file.
#[derive(Debug)]
pub struct Opened {
    pub capture: Capture,
    /// SHA-256 of the CSV, lower-case hex.
    pub sha256: String,
}

/// What a capture says of itself, and the digest of its file, without its samples.
#[derive(Debug)]
pub struct CaptureSummary {
    /// Everything known of it but its samples; channels in the order of the metadata file.
    pub meta: Metadata,
    /// SHA-256 of the CSV, lower-case hex.
    pub sha256: String,
}

/// The metadata file of a CSV: its whole name with `-metadata.json` behind it (CSVW, section 5.3).
pub fn metadata_path(csv: &Path) -> PathBuf {
    let mut name = csv.as_os_str().to_owned();
    name.push("-metadata.json");
    PathBuf::from(name)
}

/// Reads a capture and its metadata.
pub fn open(csv: &Path) -> Result<Opened, CaptureError> {
    let unreadable = |path: &Path| {
        let path = path.to_owned();
        move |source| CaptureError::Unreadable { path, source }
    };
    let file = files::open(csv).map_err(unreadable(csv))?;
    let meta = read_metadata(csv).map_err(|e| spreadsheet(csv).unwrap_or(e))?;
    let size = file.metadata().map_err(unreadable(csv))?.len();
    let (capture, sha256) = read_ahead::hashed(file, |bytes| reader::read(bytes, size, meta))
        .map_err(|source| CaptureError::Table {
            path: csv.to_owned(),
            source,
        })?;
    Ok(Opened { capture, sha256 })
}

/// Whether a file without metadata could never be a recording, whatever stood beside it.
fn spreadsheet(csv: &Path) -> Option<CaptureError> {
    let mut begins = [0; 4];
    files::open(csv).ok()?.read_exact(&mut begins).ok()?;
    let what = reader::own_file(&begins)?;
    Some(CaptureError::Table {
        path: csv.to_owned(),
        source: TableError::line(1, what),
    })
}

/// Most bytes of a capture that comes through a pipe.
pub const LONGEST_PIPED: u64 = reader::LONGEST;

/// A capture in one piece: its metadata, and its CSV behind it.
pub fn piped(bytes: &[u8]) -> Result<Opened, CaptureError> {
    let path = || PathBuf::from("-");
    let mut values = serde_json::Deserializer::from_slice(bytes).into_iter::<&RawValue>();
    let text = match values.next() {
        Some(Ok(text)) => text.get(),
        _ => return Err(CaptureError::NotPiped),
    };
    let meta = Metadata::from_json(text).map_err(|source| CaptureError::Metadata {
        path: path(),
        source,
    })?;
    let csv = bytes[values.byte_offset()..].trim_ascii_start();
    let capture =
        reader::read(csv, csv.len() as u64, meta).map_err(|source| CaptureError::Table {
            path: path(),
            source,
        })?;
    let sha256 = files::sha256(csv);
    Ok(Opened { capture, sha256 })
}

/// Reads a capture's metadata, and its CSV only for the digest: in little memory, however long it is.
pub fn summary(csv: &Path) -> Result<CaptureSummary, CaptureError> {
    let unreadable = |source| CaptureError::Unreadable {
        path: csv.to_owned(),
        source,
    };
    let meta = read_metadata(csv)?;
    let file = files::open(csv).map_err(unreadable)?;
    let through = |mut bytes| io::copy(&mut bytes, &mut io::sink());
    let (_, sha256) = read_ahead::hashed(file, through).map_err(unreadable)?;
    Ok(CaptureSummary { meta, sha256 })
}

fn read_metadata(csv: &Path) -> Result<Metadata, CaptureError> {
    let beside = metadata_path(csv);
    let text = files::read_text(&beside).map_err(|source| match source.kind() {
        io::ErrorKind::NotFound if !csv.exists() => CaptureError::Unreadable {
            path: csv.to_owned(),
            source,
        },
        io::ErrorKind::NotFound => CaptureError::NoMetadata {
            csv: csv.to_owned(),
            metadata: beside.clone(),
        },
        _ => CaptureError::Unreadable {
            path: beside.clone(),
            source,
        },
    })?;
    Metadata::from_json(&text).map_err(|source| CaptureError::Metadata {
        path: beside.clone(),
        source,
    })
}

/// A capture's table while it is written.
pub trait TableFile: Write + Send + Debug {
    /// Waits until everything written is on the medium.
    fn sync(&mut self) -> io::Result<()>;
}

/// What writing a capture asks of a disk: the [`RealDisk`], or in a test one that fails when message to.
pub trait Disk: Send + Debug {
    fn exists(&mut self, path: &Path) -> io::Result<bool>;
    /// Bytes of the file of this name.
    fn length(&mut self, path: &Path) -> io::Result<u64>;
    /// A new file that begins with `first` and has its name only once that is in it; an error when the name is taken.
    fn create_new(&mut self, path: &Path, first: &[u8]) -> io::Result<Box<dyn TableFile>>;
    /// Writes a whole new file; after an error part of it may be there.
    fn write(&mut self, path: &Path, bytes: &[u8]) -> io::Result<()>;
    /// Gives a file another name, in place of what had that.
    fn rename(&mut self, from: &Path, to: &Path) -> io::Result<()>;
    fn remove(&mut self, path: &Path) -> io::Result<()>;
}

#[derive(Debug, Clone, Copy, Default)]
pub struct RealDisk;

impl TableFile for File {
    fn sync(&mut self) -> io::Result<()> {
        self.sync_all()
    }
}

impl Disk for RealDisk {
    fn exists(&mut self, path: &Path) -> io::Result<bool> {
        match path.symlink_metadata() {
            Ok(_) => Ok(true), // a link to nowhere, too
            Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(false),
            Err(e) => Err(e),
        }
    }

    fn length(&mut self, path: &Path) -> io::Result<u64> {
        Ok(std::fs::metadata(path)?.len())
    }

    fn create_new(&mut self, path: &Path, first: &[u8]) -> io::Result<Box<dyn TableFile>> {
        // Rows go to the end, wherever somebody has put that meanwhile: so it shows in the length.
        let mut file = files::hidden()
            .append(true)
            .tempfile_in(files::folder_of(path))?;
        file.write_all(first)?;
        let file = file.persist_noclobber(path)?;
        outlet::did(|| format!("begun: {}, a row for each sample", path.shown()));
        Ok(Box::new(file))
    }

    fn write(&mut self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        // Never through a link, nor over a file: the name must be free.
        File::create_new(path)?.write_all(bytes)
    }

    fn rename(&mut self, from: &Path, to: &Path) -> io::Result<()> {
        std::fs::rename(from, to)
    }

    fn remove(&mut self, path: &Path) -> io::Result<()> {
        std::fs::remove_file(path)
    }
}
