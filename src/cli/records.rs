//! The folder of records, as the commands and the screen use it.

use super::paths;
use crate::capture::Metadata;
use crate::outlet::Shown;
use crate::record::{Assessment, BoardKept, NewRecord, RecordStore, RecordStoreError, Saved};
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
        Saved::New(path) => format!("kept: {}", path.shown()),
        Saved::Duplicate(path) => format!("kept before, nothing new: {}", path.shown()),
    })
}

/// The units of a folder with their newest records, and the files that are none.
pub(super) fn units(store: &RecordStore) -> anyhow::Result<(Vec<UnitLine>, Vec<RecordStoreError>)> {
    let names = store.names()?;
    let (mut units, mut failed) = (Vec::new(), Vec::new());
    for of_one in names.chunk_by(|a, b| a.tag.is_some() && a.tag == b.tag) {
        let mut newest_first = of_one.iter().rev();
        let newest = newest_first.find_map(|named| named.head().map_err(|e| failed.push(e)).ok());
        units.extend(newest.map(|newest| UnitLine {
            tag: newest.unit().tag.clone().unwrap_or_default(),
            records: of_one.len(),
            newest,
        }));
    }
    units.sort_by(|a, b| a.tag.cmp(&b.tag));
    Ok((units, failed))
}
