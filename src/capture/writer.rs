//! Writing a capture as it arrives, and knowing at every moment how much of it is on the disk.
//!
//! Belongs here: what is written when, and what is left when the disk refuses. Does not belong here: the system's calls.

use super::aside::SetAside;
use super::disk::{CaptureError, Disk, RealDisk, TableFile, metadata_path};
use super::table::{self, ReferenceCell};
use super::tried::Tried;
use super::types::{LooksTaken, Metadata, RefMeta, StreamCounts};
use crate::files;
use crate::outlet::Visible;
use measure::units::{Code, Step};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

/// What of a capture is on the disk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OnDisk {
    /// Samples in the file. The last line may be cut behind them.
    pub samples: u64,
    /// Samples that were to be written.
    pub taken: u64,
    /// Whether the file is still under its name.
    pub there: bool,
}

/// Writes a capture as it arrives. Rows reach the disk at each [`CaptureWriter::flush`], which the run calls at
/// least once a second; a run that dies in between keeps all before.
#[derive(Debug)]
pub struct CaptureWriter {
    disk: Box<dyn Disk>,
    csv: PathBuf,
    rows: BufWriter<Counted>,
    row: Vec<u8>,
    taken: u64,
    meta: Metadata,
}

/// The table's file, with what it has taken so far.
#[derive(Debug)]
struct Counted {
    file: Box<dyn TableFile>,
    bytes: u64,
    /// Whole rows behind the header.
    rows: u64,
}

impl Write for Counted {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let n = self.file.write(bytes)?;
        self.bytes += n as u64;
        // Whoever reads it takes a line as ended at its carriage return, also where a disk cut the feed off.
        self.rows += memchr::memchr_iter(b'\r', &bytes[..n]).count() as u64;
        Ok(n)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

impl CaptureWriter {
    /// Begins the capture `csv` (and its metadata beside it).
    pub fn create(csv: &Path, meta: Metadata) -> Result<Self, CaptureError> {
        Self::create_on(Box::new(RealDisk), csv, meta)
    }

    /// The same on any disk. The table has its name last, so that whoever finds it finds its metadata, too.
    pub fn create_on(
        mut disk: Box<dyn Disk>,
        csv: &Path,
        meta: Metadata,
    ) -> Result<Self, CaptureError> {
        for path in [csv, &metadata_path(csv)] {
            if disk.exists(path).map_err(unwritable(path))? {
                let path = path.to_owned();
                return Err(CaptureError::Exists { path });
            }
        }
        describe(&mut *disk, csv, &meta)?;
        let mut header = Vec::new();
        let made = table::write_header(&mut header, &meta)
            .and_then(|()| disk.create_new(csv, &header))
            .map_err(|source| match source.kind() {
                io::ErrorKind::AlreadyExists => CaptureError::Exists {
                    path: csv.to_owned(),
                },
                _ => unwritable(csv)(source),
            });
        let file = made.inspect_err(|_| {
            // The error is message already.
            let _ = disk.remove(&metadata_path(csv));
        })?;
        let counted = Counted {
            file,
            bytes: header.len() as u64,
            rows: 0,
        };
        Ok(Self {
            disk,
            csv: csv.to_owned(),
            rows: BufWriter::with_capacity(1 << 16, counted),
            row: Vec::new(),
            taken: 0,
            meta,
        })
    }

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

    /// States what is known of the reference by now; whether there is one was decided when the capture began.
    pub fn set_reference(&mut self, reference: RefMeta) {
        if self.meta.reference.is_some() {
            self.meta.reference = Some(reference);
        }
    }

    /// Takes a stretch back: whoever reads the capture takes its samples as `idle`.
    pub fn set_aside(&mut self, stretch: SetAside) {
        self.meta.set_aside.push(stretch);
    }

    /// Changes what is said of the part and its channels: their number and order stay.
    pub fn describe_anew(&mut self, change: impl FnOnce(&mut Metadata)) {
        change(&mut self.meta);
    }

    /// States what was tried so far, behind all evidence.
    pub fn set_tried(&mut self, tried: &[Tried]) {
        self.meta.tried = tried.to_vec();
    }

    /// Adds a sample. `position` is dropped unless the metadata has a reference.
    pub fn push(
        &mut self,
        t_us: u64,
        step: Step,
        codes: impl Iterator<Item = Code>,
        position: Option<f64>,
    ) -> Result<(), CaptureError> {
        let position = match (&self.meta.reference, position) {
            (None, _) => ReferenceCell::NoColumn,
            (Some(_), None) => ReferenceCell::NotGiven,
            (Some(_), Some(position)) => ReferenceCell::At(position),
        };
        self.taken += 1;
        self.row.clear();
        // As a whole, so that a disk that refuses in between leaves no half row to go on from.
        table::write_row(&mut self.row, t_us, step, codes, position)
            .and_then(|()| self.rows.write_all(&self.row))
            .map_err(unwritable(&self.csv))
    }

    /// Puts everything on the disk, with the stream's counts so far.
    pub fn flush(&mut self, counts: &StreamCounts) -> Result<(), CaptureError> {
        self.rows.flush().map_err(unwritable(&self.csv))?;
        if !self.is_there() {
            let path = self.csv.clone();
            return Err(CaptureError::Gone { path });
        }
        self.meta.stream = counts.clone();
        describe(&mut *self.disk, &self.csv, &self.meta)
    }

    pub fn finish(mut self, counts: &StreamCounts) -> Result<PathBuf, CaptureError> {
        self.end(counts)?;
        Ok(self.csv)
    }

    /// Ends the capture and stays, for [`CaptureWriter::leave`].
    pub fn end(&mut self, counts: &StreamCounts) -> Result<(), CaptureError> {
        self.flush(counts)?;
        let synced = self.rows.get_mut().file.sync();
        synced.map_err(|source| CaptureError::Unconfirmed {
            path: self.csv.clone(),
            source,
        })
    }

    /// Writes no more, and says what of the capture is on the disk. What the disk has refused is not tried again.
    pub fn leave(mut self) -> OnDisk {
        let there = self.is_there();
        let (counted, _refused) = self.rows.into_parts();
        OnDisk {
            samples: counted.rows,
            taken: self.taken,
            there,
        }
    }

    /// Whether the name still leads to what was written, as far as its length tells.
    fn is_there(&mut self) -> bool {
        let written = self.rows.get_ref().bytes;
        match self.disk.length(&self.csv) {
            Ok(length) => length == written,
            Err(e) => e.kind() != io::ErrorKind::NotFound,
        }
    }
}

fn unwritable(path: &Path) -> impl FnOnce(io::Error) -> CaptureError {
    let path = path.to_owned();
    move |source| CaptureError::Unwritable { path, source }
}

/// Writes the metadata under a temporary name and renames it, so that a half-written file never carries the name.
fn describe(disk: &mut dyn Disk, csv: &Path, meta: &Metadata) -> Result<(), CaptureError> {
    let text = meta.to_json(&csv.file_name().unwrap_or_default().to_string_lossy());
    let beside = metadata_path(csv);
    let temporary = beside.with_file_name(files::hidden_name());
    let done = disk
        .write(&temporary, Visible::json(&text).as_str().as_bytes())
        .and_then(|()| disk.rename(&temporary, &beside));
    done.map_err(|source| {
        // Nobody shall wonder what it is; that it stays when the disk is broken is no harm.
        let _ = disk.remove(&temporary);
        unwritable(&beside)(source)
    })
}
