//! The C files for boards, embedded, and the writing of them into a folder.

use crate::files;
use crate::outlet::{Shown, Visible};
use std::path::{Path, PathBuf};
use std::{fs, io};

macro_rules! embedded {
    ($($path:literal),* $(,)?) => {
        &[$(($path, include_str!($path))),*]
    };
}

/// Every file, as (path below the folder, with `/`; text). A reader starts with `README.md`.
#[rustfmt::skip] // a table
pub const FILES: &[(&str, &str)] = embedded![
    "README.md",
    "boards/Makefile", "boards/blend.hex", "boards/adc.c", "boards/adc.h", "boards/config.h", "boards/dac.c", "boards/dac.h",
    "boards/enable.c", "boards/enable.h", "boards/led.c", "boards/led.h", "boards/main.c", "boards/mark.c", "boards/mark.h",
    "boards/mark.ld",
    "core/BLOCK.md", "core/CAMPAIGN.md", "core/blend.h", "core/layout.h", "core/load.c", "core/step.c",
    "streamer/Makefile", "streamer/config.h", "streamer/line.c", "streamer/line.h", "streamer/main.c",
    "streamer/sampler.c", "streamer/sampler.h", "streamer/uart.c", "streamer/uart.h",
    "scripted/micropython.py", "scripted/circuitpython.py",
    "sketch/Makefile", "sketch/streamer/streamer.ino",
    "sketch/drive/block.c", "sketch/drive/drive.h", "sketch/drive/drive.ino",
];

/// Files that a sketch needs beside itself, as (path below the folder, which of [`FILES`] it is): an Arduino core compiles nothing else.
const COPIES: &[(&str, &str)] = &[
    ("sketch/drive/src/core/blend.h", "core/blend.h"),
    ("sketch/drive/src/core/layout.h", "core/layout.h"),
    ("sketch/drive/src/core/load.c", "core/load.c"),
    ("sketch/drive/src/core/step.c", "core/step.c"),
    ("sketch/drive/src/core/block.c", "sketch/drive/block.c"),
    ("sketch/drive/src/core/drive.h", "sketch/drive/drive.h"),
];

/// Where a file of [`FILES`] is written; `None` for one that only its copies need.
fn place(path: &str) -> Option<&str> {
    let only_copied = matches!(path, "sketch/drive/block.c" | "sketch/drive/drive.h");
    (!only_copied).then_some(path)
}

/// Every file that is written, with its text.
fn all() -> Vec<(&'static str, &'static str)> {
    let own = FILES
        .iter()
        .filter_map(|(path, text)| Some((place(path)?, *text)));
    let text = |of: &str| {
        FILES
            .iter()
            .find(|(path, _)| *path == of)
            .map(|(_, text)| *text)
    };
    let copies = COPIES
        .iter()
        .filter_map(|(path, of)| Some((*path, text(of)?)));
    own.chain(copies).collect()
}

/// Why the files were not written.
#[derive(Debug, thiserror::Error)]
pub enum WriteError {
    #[error("{} is already there and is not overwritten: name an empty folder, or move it away", .0.shown())]
    AlreadyThere(PathBuf),
    #[error("cannot write {}: {source}", path.shown())]
    Disk { path: PathBuf, source: io::Error },
}

/// The streamer's own files with these columns and pins (0 is A0): those of [`FILES`], as (path, text), to be written instead.
pub fn streamer_of(columns: &[(&str, usize)]) -> Vec<(&'static str, String)> {
    let each = |part: &dyn Fn(&str, usize) -> String, between: &str| {
        let parts: Vec<String> = columns.iter().map(|(name, pin)| part(name, *pin)).collect();
        parts.join(between)
    };
    let channels = each(&|name, pin| format!("X({name}, {pin})"), " ");
    let pins = each(&|_, pin| format!("A{pin}"), ", ");
    let names = each(&|name, _| format!("\"{name}\""), ", ");
    let changes = [
        ("streamer/config.h", CHANNELS, channels),
        ("sketch/streamer/streamer.ino", PINS, pins),
        ("sketch/streamer/streamer.ino", NAMES, names),
    ];
    let mut changed: Vec<(&'static str, String)> = Vec::new();
    for (path, usual, own) in changes {
        if !changed.iter().any(|(known, _)| *known == path) {
            let text = FILES.iter().find(|(known, _)| *known == path);
            changed.push((path, text.map_or("", |(_, text)| text).to_owned()));
        }
        for (_, text) in changed.iter_mut().filter(|(known, _)| *known == path) {
            *text = text.replacen(usual, &own, 1);
        }
    }
    changed
}

/// What stands in the streamer's files where its columns are.
const CHANNELS: &str = "X(pedal_a, 0) X(pedal_b, 1)";
const PINS: &str = "A0, A1";
const NAMES: &str = "\"pedal_a\", \"pedal_b\"";

/// Writes every file of the room and `more` below `folder`, making folders as needed, and gives their paths. A file of `more` stands in
/// place of the room's. Writes nothing when any of them exists; where the disk refuses, the files before it are written.
pub fn write_out(folder: &Path, more: &[(&str, &str)]) -> Result<Vec<PathBuf>, WriteError> {
    let own = |path: &str| more.iter().any(|(other, _)| *other == path);
    let usual = all().into_iter().filter(|(path, _)| !own(path));
    let files: Vec<(&str, &str)> = usual.chain(more.iter().copied()).collect();
    let paths: Vec<PathBuf> = files.iter().map(|(path, _)| folder.join(path)).collect();
    // symlink_metadata: a dangling link is there, too.
    if let Some(path) = paths.iter().find(|path| path.symlink_metadata().is_ok()) {
        return Err(WriteError::AlreadyThere(path.clone()));
    }
    for (path, (_, text)) in paths.iter().zip(&files) {
        write_new(path, text)?;
    }
    Ok(paths)
}

/// One file, whole or not there, which must not exist yet even if it appeared a moment ago.
fn write_new(path: &Path, text: &str) -> Result<(), WriteError> {
    let disk = |path: &Path, source| WriteError::Disk {
        path: path.to_owned(),
        source,
    };
    if let Some(parent) = path.parent() {
        fs::create_dir_all(parent).map_err(|source| disk(parent, source))?;
    }
    files::create_new(path, &Visible::of(text)).map_err(|e| match e.kind() {
        io::ErrorKind::AlreadyExists => WriteError::AlreadyThere(path.to_owned()),
        _ => disk(path, e),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    /// Files below a folder, as `FILES` writes them.
    fn found(folder: &Path, below: &str, into: &mut BTreeSet<String>) {
        for entry in fs::read_dir(folder).unwrap() {
            let entry = entry.unwrap();
            let name = format!("{below}{}", entry.file_name().to_str().unwrap());
            if entry.file_type().unwrap().is_dir() {
                found(&entry.path(), &format!("{name}/"), into);
            } else {
                into.insert(name);
            }
        }
    }

    /// A machine's columns stand where the usual ones stood, once in each file.
    #[test]
    fn the_streamer_takes_other_columns() {
        let columns = [("pedal_a", 0), ("pedal_b", 1), ("dial", 2), ("output", 3)];
        let files = streamer_of(&columns);
        let text = |path: &str| &files.iter().find(|(known, _)| *known == path).unwrap().1;
        let config = text("streamer/config.h");
        let defined = "#define CHANNELS(X) X(pedal_a, 0) X(pedal_b, 1) X(dial, 2) X(output, 3)";
        assert!(config.contains(defined), "{config}");
        let sketch = text("sketch/streamer/streamer.ino");
        assert!(sketch.contains("inputPins[] = {A0, A1, A2, A3};"));
        assert!(sketch.contains("{\"pedal_a\", \"pedal_b\", \"dial\", \"output\"};"));
        assert_eq!(files.len(), 2);
    }

    #[test]
    fn no_file_of_the_room_is_forgotten() {
        let mut on_disk = BTreeSet::new();
        let room = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/firmware");
        found(&room, "", &mut on_disk);
        on_disk.retain(|name| Path::new(name).extension().is_none_or(|e| e != "rs"));
        on_disk.retain(|name| !name.split('/').any(|part| part == "build"));
        let listed: BTreeSet<String> = FILES.iter().map(|(path, _)| (*path).to_owned()).collect();
        assert_eq!(listed, on_disk);
    }

    #[test]
    fn writes_every_file_into_a_new_folder() {
        let outer = tempfile::tempdir().unwrap();
        let folder = outer.path().join("new/board");
        let paths = write_out(&folder, &[("BUILD.md", "build")]).unwrap();
        // All of them; the sketch's two only where its copies are, and the page.
        assert_eq!(paths.len(), FILES.len() - 2 + COPIES.len() + 1);
        for (path, text) in all() {
            assert_eq!(fs::read_to_string(folder.join(path)).unwrap(), text);
        }
        let core = fs::read_to_string(folder.join("sketch/drive/src/core/step.c")).unwrap();
        assert_eq!(
            core,
            fs::read_to_string(folder.join("core/step.c")).unwrap()
        );
        assert_eq!(
            fs::read_to_string(folder.join("BUILD.md")).unwrap(),
            "build"
        );
    }

    #[test]
    fn never_overwrites_and_then_writes_nothing() {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("streamer")).unwrap();
        fs::write(folder.path().join("streamer/uart.h"), "mine").unwrap();
        let error = write_out(folder.path(), &[]).unwrap_err();
        assert!(
            error
                .to_string()
                .contains("streamer/uart.h is already there"),
            "{error}"
        );
        let mut left = BTreeSet::new();
        found(folder.path(), "", &mut left);
        assert_eq!(left, BTreeSet::from(["streamer/uart.h".to_owned()]));
        assert_eq!(
            fs::read_to_string(folder.path().join("streamer/uart.h")).unwrap(),
            "mine"
        );
    }

    #[test]
    fn a_file_in_place_of_a_folder_is_named() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("streamer"), "").unwrap();
        let error = write_out(folder.path(), &[]).unwrap_err();
        assert!(error.to_string().contains("cannot write"), "{error}");
        assert!(error.to_string().contains("streamer"), "{error}");
    }
}
