//! Where answers and captures go.

use crate::files;
use anyhow::{Context, bail};
use serde::Serialize;
use std::fs::File;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// Writes to stdout; a reader that has gone away is no error.
pub(super) fn print(text: &str) -> anyhow::Result<()> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(e) if e.kind() != io::ErrorKind::BrokenPipe => Err(anyhow::Error::from(e).context(
            "the answer cannot be written to the standard output, and what is there of it is not whole",
        )),
        _ => Ok(()),
    }
}

pub(super) fn print_json(value: &impl Serialize) -> anyhow::Result<()> {
    print(&format!("{}\n", serde_json::to_string_pretty(value)?))
}

/// Writes a file that must not exist yet.
pub(super) fn create(path: &Path, text: &str) -> anyhow::Result<()> {
    match files::create_new(path, text.as_bytes()) {
        Err(e) if e.kind() == io::ErrorKind::AlreadyExists => bail!(
            "{} is already there and is not overwritten: choose another name, or move it away",
            path.display()
        ),
        done => done.with_context(|| cannot_write(path)),
    }
}

/// Writes a file in place of what had its name.
pub(super) fn replace(path: &Path, text: &str) -> anyhow::Result<()> {
    files::replace(path, text).with_context(|| cannot_write(path))
}

/// Copies a file to a name that is free.
pub(super) fn copy(from: &Path, to: &Path) -> anyhow::Result<()> {
    let source = File::open(from).with_context(|| format!("cannot read {}", from.display()))?;
    files::create_new(to, source).with_context(|| cannot_write(to))
}

fn cannot_write(path: &Path) -> String {
    format!("cannot write {}", path.display())
}

/// A folder that is removed at the end.
pub(super) fn temporary_folder(purpose: &str) -> anyhow::Result<TempDir> {
    let prefix = format!("pedalproof-{purpose}-");
    let folder = tempfile::Builder::new().prefix(&prefix).tempdir();
    folder.with_context(|| format!("cannot make a folder in {}", std::env::temp_dir().display()))
}

/// Where a capture goes: to the name that was given, else into a temporary folder.
pub(super) struct CaptureDestination {
    pub(super) csv: PathBuf,
    pub(super) temporary: Option<TempDir>,
}

impl CaptureDestination {
    pub(super) fn new(name: Option<&Path>, purpose: &str, file: &str) -> anyhow::Result<Self> {
        let Some(name) = name else {
            let folder = temporary_folder(purpose)?;
            return Ok(Self {
                csv: folder.path().join(file),
                temporary: Some(folder),
            });
        };
        let csv = csv_name(name);
        refuse_overwriting(&csv)?;
        Ok(Self {
            csv,
            temporary: None,
        })
    }
}

/// A capture is never overwritten; said before anything is opened.
pub(super) fn refuse_overwriting(csv: &Path) -> anyhow::Result<()> {
    if csv.exists() {
        bail!(
            "{} exists already, and a capture is never overwritten: choose another name",
            csv.display()
        );
    }
    Ok(())
}

/// `NAME` -> `NAME.csv`; a name that ends so already stays.
pub(super) fn csv_name(name: &Path) -> PathBuf {
    if name
        .extension()
        .is_some_and(|extension| extension.eq_ignore_ascii_case("csv"))
    {
        return name.to_owned();
    }
    let mut name = name.as_os_str().to_owned();
    name.push(".csv");
    PathBuf::from(name)
}
