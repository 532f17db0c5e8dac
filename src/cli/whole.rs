//! Files that are whole or not there: written under a hidden name, put on the disk, then given their name.

use crate::files;
use anyhow::{Context, bail};
use std::fs::File;
use std::io::{self, Write};
use std::path::Path;
use tempfile::NamedTempFile;

/// Writes a file that must not exist yet.
pub(super) fn create(path: &Path, text: &str) -> anyhow::Result<()> {
    let taken = || {
        format!(
            "{} is already there and is not overwritten: choose another name, or move it away",
            path.display()
        )
    };
    // Told before anything is written; who comes in between is met below.
    if path.symlink_metadata().is_ok() {
        bail!(taken());
    }
    match written(path, &mut text.as_bytes())?.persist_noclobber(path) {
        Err(e) if e.error.kind() == io::ErrorKind::AlreadyExists => bail!(taken()),
        Err(e) => Err(e.error).with_context(|| failed(path)),
        Ok(_) => Ok(()),
    }
}

/// Writes a file in place of what had its name. What is no ordinary file (`/dev/stdout`, a pipe) is written to.
pub(super) fn replace(path: &Path, text: &str) -> anyhow::Result<()> {
    if path
        .metadata()
        .is_ok_and(|is| !is.is_file() && !is.is_dir())
    {
        return std::fs::write(path, text).with_context(|| failed(path));
    }
    let file = written(path, &mut text.as_bytes())?;
    file.persist(path).map(|_| ()).with_context(|| failed(path))
}

/// Copies a file to a name that is free.
pub(super) fn copy(from: &Path, to: &Path) -> anyhow::Result<()> {
    let mut source = File::open(from).with_context(|| format!("cannot read {}", from.display()))?;
    let file = written(to, &mut source)?;
    file.persist_noclobber(to)
        .map(|_| ())
        .with_context(|| failed(to))
}

fn written(path: &Path, content: &mut dyn io::Read) -> anyhow::Result<NamedTempFile> {
    let mut file = files::hidden(".writing-")
        .tempfile_in(files::folder_of(path))
        .with_context(|| failed(path))?;
    io::copy(content, &mut file)
        .and_then(|_| file.flush())
        .and_then(|()| file.as_file().sync_all())
        .with_context(|| failed(path))?;
    Ok(file)
}

fn failed(path: &Path) -> String {
    format!("cannot write {}", path.display())
}
