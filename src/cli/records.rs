//! The folder of records, as the commands and the screen use it.

use super::paths;
use crate::capture::Metadata;
use crate::record::{
    Assessment, BoardKept, Head, NewRecord, RecordFile, RecordStore, RecordStoreError, Saved,
};
use crate::report::UnitLine;
use std::path::Path;

/// The records in `folder`, else where they usually are.
pub(super) fn store(folder: Option<&Path>) -> anyhow::Result<RecordStore> {
    Ok(RecordStore::new(paths::records(folder)?))
}

/// Keeps an assessment as a record, and says where.
pub(super) fn keep(
    store: &RecordStore,
    meta: &Metadata,
    assessment: &Assessment,
) -> anyhow::Result<String> {
    let board = BoardKept {
        name: meta.board.name.clone(),
        bits: meta.board.bits,
        vref_mv: meta.board.vref_mv,
        rate_hz: meta.board.rate_hz,
    };
    let now = jiff::Timestamp::now();
    let record = NewRecord::new(assessment, &board, meta.started.as_deref(), now);
    Ok(match store.keep(&record)? {
        Saved::New(path) => format!("kept: {}", path.display()),
        Saved::Duplicate(path) => format!("kept before, nothing new: {}", path.display()),
    })
}

/// The units of a folder with their newest records, and the files that are none.
pub(super) fn units(store: &RecordStore) -> anyhow::Result<(Vec<UnitLine>, Vec<RecordStoreError>)> {
    let names = store.names()?;
    let (mut units, mut failed) = (Vec::new(), Vec::new());
    for of_one in names.chunk_by(|a, b| a.tag.is_some() && a.tag == b.tag) {
        units.extend(newest(store, of_one, &mut failed).map(|newest| UnitLine {
            tag: newest.unit().tag.clone().unwrap_or_default(),
            records: of_one.len(),
            newest,
        }));
    }
    units.sort_by(|a, b| a.tag.cmp(&b.tag));
    Ok((units, failed))
}

/// The newest record of one unit that can be read.
fn newest(
    store: &RecordStore,
    of_one: &[RecordFile],
    failed: &mut Vec<RecordStoreError>,
) -> Option<Head> {
    of_one
        .iter()
        .rev()
        .find_map(|named| store.head(named).map_err(|e| failed.push(e)).ok())
}
