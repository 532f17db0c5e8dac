//! The one file of this room that touches the disk: a machine's file. Evidence is only ever added.
//!
//! Two programs that add at once wait for each other: the folder is locked while the file is read, added to and put in its place.

use super::add::{AddError, NewEvidence};
use super::change::Changed;
use super::format::InvalidMachine;
use super::types::{Control, Evidence, Machine};
use crate::files;
use crate::outlet::{self, Shown, Visible};
use std::fs::File;
use std::io;
use std::path::{Component, Path, PathBuf};
use thiserror::Error;

#[derive(Debug, Error)]
pub enum MachineError {
    #[error("cannot read the machine {}: {source}{}", path.shown(), hint(source))]
    Unreadable { path: PathBuf, source: io::Error },
    #[error("cannot read {}: {source}", path.shown())]
    NoEvidence { path: PathBuf, source: io::Error },
    #[error("the machine {}: {source}", path.shown())]
    Invalid {
        path: PathBuf,
        source: InvalidMachine,
    },
    #[error("{} is there already, and is not overwritten: choose another name, or add to it with `pedalproof machine add`", path.shown())]
    Exists { path: PathBuf },
    #[error("cannot write the machine {}: {source}", path.shown())]
    Unwritable { path: PathBuf, source: io::Error },
    #[error("{} is not in the folder of the machine ({}) or below it: copy it there first, so that the folder holds everything", file.shown(), folder.shown())]
    Outside { file: PathBuf, folder: PathBuf },
    #[error(transparent)]
    Add(#[from] AddError),
}

fn hint(why: &io::Error) -> &'static str {
    match why.kind() {
        io::ErrorKind::NotFound => {
            ". Start one: pedalproof machine new FILE --name NAME --control NAME=PROFILE"
        }
        _ => "",
    }
}

/// Reads a machine.
pub fn read(path: &Path) -> Result<Machine, MachineError> {
    let text = files::read_text(path).map_err(|source| MachineError::Unreadable {
        path: path.to_owned(),
        source,
    })?;
    Machine::from_json(&text).map_err(|source| MachineError::Invalid {
        path: path.to_owned(),
        source,
    })
}

/// Writes a new machine, never over another file.
pub fn create(path: &Path, machine: &Machine) -> Result<(), MachineError> {
    machine.check().map_err(|source| MachineError::Invalid {
        path: path.to_owned(),
        source,
    })?;
    files::create_new(path, &Visible::json(&machine.to_json())).map_err(|source| {
        match source.kind() {
            io::ErrorKind::AlreadyExists => MachineError::Exists {
                path: path.to_owned(),
            },
            _ => MachineError::Unwritable {
                path: path.to_owned(),
                source,
            },
        }
    })
}

/// Adds to a machine what is not in it yet; gives the machine with it, and which of these were new. Nothing that another program adds at
/// the same time is lost.
pub fn add(
    path: &Path,
    new: &[NewEvidence],
) -> Result<(Machine, Vec<Option<Evidence>>), MachineError> {
    let unwritable = |source| MachineError::Unwritable {
        path: path.to_owned(),
        source,
    };
    let _held = lock(path).map_err(unwritable)?;
    let mut machine = read(path)?;
    let typed = outlet::typed(path);
    let mut added = Vec::new();
    for one in new {
        added.push(machine.take(one, &typed)?);
    }
    if added.iter().any(Option::is_some) {
        write(path, &machine)?;
    }
    Ok((machine, added))
}

/// Says of a control that it was replaced or rewired; gives it as it is now.
pub fn change(path: &Path, changed: &Changed) -> Result<Control, MachineError> {
    let unwritable = |source| MachineError::Unwritable {
        path: path.to_owned(),
        source,
    };
    let _held = lock(path).map_err(unwritable)?;
    let mut machine = read(path)?;
    let control = machine.change(changed)?;
    write(path, &machine)?;
    Ok(control)
}

/// Puts a changed machine in the place of what it was.
fn write(path: &Path, machine: &Machine) -> Result<(), MachineError> {
    machine.check().map_err(|source| MachineError::Invalid {
        path: path.to_owned(),
        source,
    })?;
    let text = Visible::json(&machine.to_json());
    files::replace(path, &text).map_err(|source| MachineError::Unwritable {
        path: path.to_owned(),
        source,
    })
}

/// Held until it is dropped, and by the system's doing also when this program dies. The folder itself where the system locks folders, so
/// that no file is left lying; else a hidden file beside.
fn lock(path: &Path) -> io::Result<File> {
    // The folder of the file itself: who comes by a link to it waits for who does not.
    let path = &path.canonicalize().unwrap_or_else(|_| path.to_owned());
    let folder = File::open(files::folder_of(path));
    let held = folder.and_then(|folder| folder.lock().map(|()| folder));
    held.or_else(|_| {
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let beside = path.with_file_name(format!(".{name}.lock"));
        let file = File::create(beside)?;
        file.lock()?;
        Ok(file)
    })
}

/// A file's name as a machine in `machine` keeps it: relative to the machine's folder, with `/`.
pub fn inside(machine: &Path, file: &Path) -> Result<String, MachineError> {
    let folder = files::folder_of(machine);
    let outside = || MachineError::Outside {
        file: file.to_owned(),
        folder: folder.to_owned(),
    };
    let no_machine = |source| MachineError::Unreadable {
        path: machine.to_owned(),
        source,
    };
    let no_evidence = |source| MachineError::NoEvidence {
        path: file.to_owned(),
        source,
    };
    // The folder's true place; the file's own name, though: a link to elsewhere stays a file of this folder.
    let home = folder.canonicalize().map_err(no_machine)?;
    let lies = files::folder_of(file).canonicalize().map_err(no_evidence)?;
    let below = lies.strip_prefix(&home).map_err(|_| outside())?;
    let name = file.file_name().ok_or_else(outside)?;
    let path = below.join(name);
    let parts = path.components().map(|part| match part {
        Component::Normal(part) => part.to_str().ok_or_else(outside),
        _ => Err(outside()),
    });
    Ok(parts.collect::<Result<Vec<_>, _>>()?.join("/"))
}
