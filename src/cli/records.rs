//! The folder of records, as the commands and the screen use it.

use super::paths;
use crate::capture::Metadata;
use crate::files::folder_of;
use crate::machine::{self, Control, Machine};
use crate::outlet::Shown;
use crate::record::{
    Assessment, BoardKept, Course, NewRecord, RecordFile, RecordStore, RecordStoreError, Saved,
    folded, unit_history,
};
use crate::report::UnitLine;
use jiff::Timestamp;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// The records in `folder`, else where they usually are.
pub(super) fn store(folder: Option<&Path>) -> anyhow::Result<RecordStore> {
    Ok(RecordStore::new(paths::records(folder)?))
}

/// Keeps an assessment of a capture as a record made now, under the name of the machine that it belongs to if there is one beside it; says where.
pub(super) fn keep(
    store: &RecordStore,
    capture: &Path,
    meta: &Metadata,
    assessment: &Assessment,
    now: Timestamp,
) -> anyhow::Result<String> {
    let board = BoardKept {
        name: meta.board.name.clone(),
        bits: meta.board.bits,
        vref_mv: meta.board.vref_mv,
        rate_hz: meta.board.rate_hz,
    };
    let machine = machine_of(capture, assessment.unit.tag.as_deref());
    let record = NewRecord::new(assessment, &board, meta.started.as_deref(), now)
        .of_machine(machine)
        .on_tracks(meta.tracks());
    Ok(match store.keep(&record)? {
        Saved::New(path) => format!("kept: {}", path.shown()),
        Saved::Duplicate(path) => format!("kept before, nothing new: {}", path.shown()),
    })
}

/// The machine in a capture's folder that has this capture, or a control with this tag: what it is called.
fn machine_of(capture: &Path, tag: Option<&str>) -> Option<String> {
    let folder = folder_of(capture);
    let name = capture.file_name()?.to_string_lossy();
    let entries = std::fs::read_dir(folder).ok()?;
    let mut files: Vec<PathBuf> = entries
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.extension().is_some_and(|end| end == "json"))
        .collect();
    files.sort();
    let machines = files
        .iter()
        .filter_map(|file| Some((file, machine::read(file).ok()?)));
    let has = |file: &Path, machine: &Machine| {
        let stem = file.file_stem().unwrap_or_default().to_string_lossy();
        let own = |control: &Control| {
            let usual = format!("{stem}-{}", control.name);
            tag.is_some() && tag == Some(control.tag.as_deref().unwrap_or(&usual))
        };
        machine.evidence.iter().any(|had| had.file == name) || machine.controls.iter().any(own)
    };
    let mut machines = machines.filter(|(file, machine)| has(file, machine));
    machines.next().map(|(_, machine)| machine.name)
}

/// The units of a folder, what needs doing first, and the files that could not be read. A file of no unit that could be told stands
/// there under its own name: nothing is hidden.
pub(super) fn units(
    store: &RecordStore,
    now: Timestamp,
) -> anyhow::Result<(Vec<UnitLine>, Vec<RecordStoreError>)> {
    let mut of_unit: BTreeMap<String, Vec<RecordFile>> = BTreeMap::new();
    for named in store.names()? {
        let name = named.path.file_name().unwrap_or_default().to_string_lossy();
        let unit = named
            .tag
            .as_deref()
            .map_or_else(|| format!("\u{10ffff}{name}"), folded);
        of_unit.entry(unit).or_default().push(named);
    }
    let (mut units, mut failed) = (Vec::new(), Vec::new());
    for files in of_unit.values() {
        let (line, errors) = unit(files, now);
        units.push(line);
        failed.extend(errors);
    }
    units.sort_by_key(UnitLine::urgency);
    Ok((units, failed))
}

fn unit(files: &[RecordFile], now: Timestamp) -> (UnitLine, Vec<RecordStoreError>) {
    let (mut records, mut failed, mut unread) = (Vec::new(), Vec::new(), "");
    for file in files {
        match file.record() {
            Ok(record) => records.push(record),
            Err(e) => {
                unread = unread.max(file.time.as_str());
                failed.push(e);
            }
        }
    }
    let named = files.last().and_then(|file| {
        let name = file.path.file_name()?.to_string_lossy().into_owned();
        Some(file.tag.clone().unwrap_or(name))
    });
    let newest_kept = records.iter().max_by_key(|record| record.kept);
    let machine = newest_kept.and_then(|record| record.machine.clone());
    let tag = newest_kept
        .and_then(|record| record.assessment.unit.tag.clone())
        .or(named);
    let history = unit_history("", records, now);
    let newest = history.entries.last().cloned();
    let read = newest
        .as_ref()
        .map(|entry| entry.when.strftime("%Y%m%dT%H%M%SZ").to_string());
    let line = UnitLine {
        tag: tag.unwrap_or_default(),
        machine,
        records: history.entries.len(),
        course: if newest.is_some() {
            history.course()
        } else {
            Course::First
        },
        unreadable: failed.len(),
        newest_unreadable: !failed.is_empty() && read.is_none_or(|read| read.as_str() <= unread),
        doubt: history.doubt,
        newest,
    };
    (line, failed)
}

/// The tags that a mistyped one may mean: those that hold it, else the few at the least distance, the nearest first.
pub(super) fn nearest(tag: &str, known: &[String]) -> Vec<String> {
    const MOST: usize = 5;
    let wanted = folded(tag);
    let holding: Vec<String> = known
        .iter()
        .filter(|other| !wanted.is_empty() && folded(other).contains(&wanted))
        .cloned()
        .collect();
    if !holding.is_empty() {
        return holding.into_iter().take(MOST).collect();
    }
    let mut near: Vec<(usize, &String)> = known
        .iter()
        .map(|other| (distance(&wanted, &folded(other)), other))
        .collect();
    near.sort();
    let least = near.first().map_or(0, |(least, _)| *least);
    let near = near.into_iter().filter(|(d, _)| *d <= least + 1).take(MOST);
    near.map(|(_, tag)| tag.clone()).collect()
}

/// Letters to put in, leave out or change (V. I. Levenshtein, Soviet Physics Doklady 10 (1966) 707).
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.chars().enumerate() {
        let mut corner = row[0];
        row[0] = i + 1;
        for (j, y) in b.iter().enumerate() {
            let changed = corner + usize::from(x != *y);
            corner = row[j + 1];
            row[j + 1] = changed.min(row[j] + 1).min(corner + 1);
        }
    }
    row.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: kitten to sitting is 3, the usual example.
    #[test]
    fn a_typo_is_near_what_was_meant() {
        assert_eq!(distance("kitten", "sitting"), 3);
        assert_eq!((distance("", "ab"), distance("ab", "")), (2, 2));
        let known = ["T1-pedal", "T2-pedal", "T3-lever", "T10-dial"].map(str::to_owned);
        assert_eq!(nearest("T3-levre", &known), ["T3-lever"]);
        assert_eq!(nearest("pedal", &known), ["T1-pedal", "T2-pedal"]);
        assert_eq!(nearest("x", &[]), Vec::<String>::new());
    }
}
