//! The one file of this room that touches the disk: a folder of records.
//!
//! One file for each record, named `TAG.TIME.SUM.json`: the unit's tag (what a file name cannot carry as `%HH`), when the
//! capture was begun (UTC), and the first digits of the content's SHA-256. Nothing is overwritten: the same content has the
//! same name and is kept once. A file appears under its name only when it is whole, so several benches may share a folder.

use super::kept::{NewRecord, Record, RecordError};
use super::visits::folded;
use crate::files::{self, sha256};
use crate::outlet::{Shown, Visible};
use std::io;
use std::path::{Path, PathBuf};
use thiserror::Error;

/// Most bytes of a tag in a file's name; a longer one is cut there (the whole tag is in the record).
const MOST_OF_TAG: usize = 120;

#[derive(Debug, Error)]
pub enum RecordStoreError {
    #[error(
        "a record is kept under its part's tag, and this recording names none: take it with --tag, or write \
         \"unit\": {{\"tag\": ...}} into its metadata"
    )]
    NoTag,
    #[error("cannot read {}: {source}", path.shown())]
    Unreadable { path: PathBuf, source: io::Error },
    #[error("cannot keep the record in {}: {source}. Choose another folder with --records", path.shown())]
    Unwritable { path: PathBuf, source: io::Error },
    #[error("{} has the name of this record and is none, so nothing was kept: move it away, then keep it again", path.shown())]
    InTheWay { path: PathBuf },
    #[error("the record cannot be written as JSON: {0}")]
    Json(#[from] serde_json::Error),
    #[error("{}: {source}", path.shown())]
    NoRecord { path: PathBuf, source: RecordError },
}

/// What became of a record that was to be kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Saved {
    /// It is kept, in this file.
    New(PathBuf),
    /// It was kept before, in this file: the same capture and the same result.
    Duplicate(PathBuf),
}

/// A record's file, as its name tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecordFile {
    pub path: PathBuf,
    /// The unit's tag, cut when it is very long; `None` when the name is not one that this program gives.
    pub tag: Option<String>,
    /// The time in the name, sortable.
    pub time: String,
}

/// Records with their files, and the files that could not be read.
pub type NamedRecords = (Vec<(PathBuf, Record)>, Vec<RecordStoreError>);

/// A folder of records. It need not exist before something is kept in it.
#[derive(Debug, Clone)]
pub struct RecordStore {
    folder: PathBuf,
}

impl RecordStore {
    pub fn new(folder: impl Into<PathBuf>) -> Self {
        Self {
            folder: folder.into(),
        }
    }

    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Keeps a record: whole and on the disk, or not at all.
    pub fn keep(&self, record: &NewRecord<'_>) -> Result<Saved, RecordStoreError> {
        let tag = record
            .tag()
            .filter(|tag| !tag.trim().is_empty())
            .ok_or(RecordStoreError::NoTag)?;
        let unwritable = |source| RecordStoreError::Unwritable {
            path: self.folder.clone(),
            source,
        };
        let sum = sha256(record.content()?.as_bytes());
        let digits = sum.get(..12).unwrap_or_default();
        let time = record.when().strftime("%Y%m%dT%H%M%SZ");
        let path = self
            .folder
            .join(format!("{}.{time}.{digits}.json", to_name(tag)));
        let text = format!("{}\n", serde_json::to_string(record)?);
        std::fs::create_dir_all(&self.folder).map_err(unwritable)?;
        match files::create_new(&path, &Visible::json(&text)) {
            Ok(()) => Ok(Saved::New(path)),
            Err(e) if e.kind() == io::ErrorKind::AlreadyExists => {
                // Only a record is one; what else has its name is in the way.
                match read(&path, Record::from_json) {
                    Ok(before) if before.assessment.unit.tag.as_deref() == Some(tag) => {
                        Ok(Saved::Duplicate(path))
                    }
                    _ => Err(RecordStoreError::InTheWay { path }),
                }
            }
            Err(e) => Err(unwritable(e)),
        }
    }

    /// Every record's file by name, oldest first for each unit. A folder that does not exist holds none.
    pub fn names(&self) -> Result<Vec<RecordFile>, RecordStoreError> {
        let unreadable = |source| RecordStoreError::Unreadable {
            path: self.folder.clone(),
            source,
        };
        let entries = match std::fs::read_dir(&self.folder) {
            Ok(entries) => entries,
            Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
            Err(e) => return Err(unreadable(e)),
        };
        let mut found = Vec::new();
        for entry in entries {
            let name = entry.map_err(unreadable)?.file_name();
            let name = name.to_string_lossy();
            // What is being kept, and what is hidden, begins with a dot.
            if !name.starts_with('.') && name.ends_with(".json") {
                found.push(RecordFile::from_name(&self.folder, &name));
            }
        }
        found.sort_by(|a, b| (&a.tag, &a.time, &a.path).cmp(&(&b.tag, &b.time, &b.path)));
        Ok(found)
    }

    /// The records of one unit, oldest first, however blanks and capitals of its tag are written, and the files that could not be read.
    pub fn of_unit(
        &self,
        tag: &str,
    ) -> Result<(Vec<Record>, Vec<RecordStoreError>), RecordStoreError> {
        let (named, failed) = self.named_of_unit(tag)?;
        Ok((
            named.into_iter().map(|(_, record)| record).collect(),
            failed,
        ))
    }

    /// As [`RecordStore::of_unit`], each record with its file.
    pub fn named_of_unit(&self, tag: &str) -> Result<NamedRecords, RecordStoreError> {
        let wanted = folded(tag);
        let in_name = from_name(&to_name(tag)).map(|tag| folded(&tag));
        let (mut records, mut failed) = (Vec::new(), Vec::new());
        for named in self.names()? {
            let other = |tag: &String| Some(folded(tag)) != in_name;
            if named.tag.as_ref().is_some_and(other) {
                continue;
            }
            match named.record() {
                Ok(record)
                    if record
                        .assessment
                        .unit
                        .tag
                        .as_deref()
                        .is_some_and(|own| folded(own) == wanted) =>
                {
                    records.push((named.path, record));
                }
                Ok(_) => {}
                Err(e) => failed.push(e),
            }
        }
        records.sort_by_key(|(_, record)| (record.when(), record.kept));
        Ok((records, failed))
    }
}

impl RecordFile {
    pub fn record(&self) -> Result<Record, RecordStoreError> {
        read(&self.path, Record::from_json)
    }

    fn from_name(folder: &Path, name: &str) -> Self {
        let mut parts = name.split('.');
        let (tag, time) = (parts.next(), parts.next());
        let ours = parts.next().is_some_and(|sum| sum.len() == 12)
            && parts.next() == Some("json")
            && parts.next().is_none();
        Self {
            path: folder.join(name),
            tag: tag.filter(|_| ours).and_then(from_name),
            time: time.unwrap_or_default().to_owned(),
        }
    }
}

fn read<T>(path: &Path, parse: fn(&[u8]) -> Result<T, RecordError>) -> Result<T, RecordStoreError> {
    let text =
        files::read(path, files::LONGEST_TEXT).map_err(|source| RecordStoreError::Unreadable {
            path: path.to_owned(),
            source,
        })?;
    parse(&text).map_err(|source| RecordStoreError::NoRecord {
        path: path.to_owned(),
        source,
    })
}

/// A tag as the first part of a file's name: letters, digits, `-` and `_` as they are, any other byte as `%HH`.
fn to_name(tag: &str) -> String {
    let mut name = String::new();
    for byte in tag.bytes() {
        let part = match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'_' => char::from(byte).to_string(),
            _ => format!("%{byte:02X}"),
        };
        if name.len() + part.len() > MOST_OF_TAG {
            break;
        }
        name.push_str(&part);
    }
    name
}

fn from_name(name: &str) -> Option<String> {
    let mut bytes = Vec::new();
    let mut rest = name.as_bytes();
    while let Some((&first, others)) = rest.split_first() {
        if first == b'%' {
            let digits = std::str::from_utf8(others.get(..2)?).ok()?;
            bytes.push(u8::from_str_radix(digits, 16).ok()?);
            rest = &others[2..];
        } else {
            bytes.push(first);
            rest = others;
        }
    }
    // A tag that was cut inside a letter keeps what can be read of it.
    Some(String::from_utf8_lossy(&bytes).into_owned())
}

#[cfg(test)]
mod tests {
    use super::super::kept::BoardKept;
    use super::super::{Assessment, CaptureFacts, UnitFacts};
    use super::*;
    use jiff::Timestamp;

    fn assessment(tag: Option<&str>, samples: u64) -> Assessment {
        Assessment {
            verdict: None,
            capture: CaptureFacts {
                samples,
                ..CaptureFacts::default()
            },
            unit: UnitFacts {
                tag: tag.map(str::to_owned),
                profile: None,
            },
            channels: Vec::new(),
            pairs: Vec::new(),
            findings: Vec::new(),
            diagnosis: crate::diagnose::Diagnosis::default(),
        }
    }

    fn keep(
        store: &RecordStore,
        tag: Option<&str>,
        samples: u64,
        taken: &str,
    ) -> Result<Saved, RecordStoreError> {
        let assessment = assessment(tag, samples);
        let board = BoardKept::default();
        let now = Timestamp::now();
        store.keep(&NewRecord::new(&assessment, &board, Some(taken), now))
    }

    const DAY: &str = "2026-05-01T10:20:30Z";

    #[test]
    fn what_is_kept_is_read_back_and_the_same_again_is_kept_once() {
        let folder = tempfile::tempdir().unwrap();
        let store = RecordStore::new(folder.path().join("not").join("yet"));
        assert!(store.names().unwrap().is_empty());
        let tag = "T4/pedal \u{fc}.x";
        let Saved::New(path) = keep(&store, Some(tag), 5, DAY).unwrap() else {
            panic!("not new");
        };
        let name = path.file_name().unwrap().to_str().unwrap();
        assert!(
            name.starts_with("T4%2Fpedal%20%C3%BC%2Ex.20260501T102030Z."),
            "{name}"
        );
        assert_eq!(
            keep(&store, Some(tag), 5, DAY).unwrap(),
            Saved::Duplicate(path)
        );
        assert!(matches!(
            keep(&store, Some(tag), 6, DAY).unwrap(),
            Saved::New(_)
        ));
        let named = &store.names().unwrap()[0];
        assert_eq!(named.tag.as_deref(), Some(tag));
        assert_eq!(named.time, "20260501T102030Z");
        assert_eq!(
            named.record().unwrap().assessment.unit.tag.as_deref(),
            Some(tag)
        );
        let (records, failed) = store.of_unit(tag).unwrap();
        assert_eq!((records.len(), failed.len()), (2, 0));
        assert!(store.of_unit("T4").unwrap().0.is_empty());
        // Nothing half-written was left behind.
        let left = std::fs::read_dir(store.folder()).unwrap().count();
        assert_eq!(left, 2);
    }

    #[test]
    fn a_unit_without_a_tag_and_a_folder_that_is_a_file_are_refused() {
        let folder = tempfile::tempdir().unwrap();
        let store = RecordStore::new(folder.path());
        assert!(matches!(
            keep(&store, None, 5, DAY),
            Err(RecordStoreError::NoTag)
        ));
        assert!(matches!(
            keep(&store, Some("  "), 5, DAY),
            Err(RecordStoreError::NoTag)
        ));
        let file = folder.path().join("file");
        std::fs::write(&file, "x").unwrap();
        let store = RecordStore::new(&file);
        assert!(matches!(
            keep(&store, Some("T1"), 5, DAY),
            Err(RecordStoreError::Unwritable { .. })
        ));
        assert!(matches!(
            store.names(),
            Err(RecordStoreError::Unreadable { .. })
        ));
    }

    #[test]
    fn strangers_and_later_formats_are_told_by_name() {
        let folder = tempfile::tempdir().unwrap();
        let store = RecordStore::new(folder.path());
        keep(&store, Some("T1"), 5, DAY).unwrap();
        std::fs::write(folder.path().join("notes.json"), "{}").unwrap();
        std::fs::write(folder.path().join(".keeping-x.json"), "{").unwrap();
        let later = "T1.20260501T102031Z.0123456789ab.json";
        std::fs::write(folder.path().join(later), r#"{"format":"record/2"}"#).unwrap();
        let (records, failed) = store.of_unit("T1").unwrap();
        assert_eq!(records.len(), 1);
        let messages: Vec<String> = failed.iter().map(ToString::to_string).collect();
        assert!(
            messages.iter().any(|w| w.contains("notes.json")),
            "{messages:?}"
        );
        assert!(
            messages
                .iter()
                .any(|w| w.contains(later) && w.contains("record/2")),
            "{messages:?}"
        );
        assert_eq!(messages.len(), 2);
    }

    #[test]
    fn many_benches_on_one_folder_lose_nothing_and_keep_nothing_twice() {
        let folder = tempfile::tempdir().unwrap();
        let new: usize = std::thread::scope(|scope| {
            let benches: Vec<_> = (0..4)
                .map(|_| {
                    let store = RecordStore::new(folder.path());
                    scope.spawn(move || {
                        (0..50)
                            .filter(|n| {
                                matches!(keep(&store, Some("T1"), *n, DAY).unwrap(), Saved::New(_))
                            })
                            .count()
                    })
                })
                .collect();
            benches.into_iter().map(|b| b.join().unwrap()).sum()
        });
        assert_eq!(new, 50);
        let (records, failed) = RecordStore::new(folder.path()).of_unit("T1").unwrap();
        assert_eq!((records.len(), failed.len()), (50, 0));
    }

    #[test]
    fn a_very_long_tag_is_cut_in_the_name_and_whole_in_the_record() {
        let folder = tempfile::tempdir().unwrap();
        let store = RecordStore::new(folder.path());
        let (a, b) = ("\u{e9}".repeat(200) + "a", "\u{e9}".repeat(200) + "b");
        keep(&store, Some(&a), 1, DAY).unwrap();
        keep(&store, Some(&b), 1, DAY).unwrap();
        assert_eq!(store.of_unit(&a).unwrap().0.len(), 1);
        assert_eq!(store.of_unit(&b).unwrap().0.len(), 1);
    }
}
