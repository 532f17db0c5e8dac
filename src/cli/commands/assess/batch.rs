//! `pedalproof assess` of many captures: side by side, one bad file does not stop the others.

use super::AssessArgs;
use crate::capture::metadata_path;
use crate::cli::input::{self, AssessedCapture};
use crate::cli::outcome::{Outcome, error_message};
use crate::cli::output::{Shape, print, print_json_text};
use crate::cli::records;
use crate::outlet::{Shown, tell, watched};
use crate::record::{RecordStore, RecordStoreError};
use crate::report::{self, BatchLine};
use anyhow::{Context, bail};
use jiff::Timestamp;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc;

/// Of a recording that is of no part.
const NOT_KEPT: &str = "not kept: this recording names no part. If it is of one, write \"unit\": {\"tag\": ...} into its metadata";

/// What became of one recording.
struct Done {
    line: BatchLine,
    /// Its assessment for programs, when that was asked for.
    data: Option<String>,
    /// For stderr.
    notes: Vec<String>,
    outcome: Outcome,
}

pub(super) fn run(args: &AssessArgs, store: Option<&RecordStore>) -> anyhow::Result<Outcome> {
    let (files, mut bad) = captures(&args.captures);
    let folder = common_folder(&files);
    // Kept at one moment: which was ready first is not which was taken last.
    let now = Timestamp::now();
    let store = store.map(|store| (store, now));
    let done = side_by_side(&files, |file| one(file, folder, args, store));
    if args.shape() == Shape::Csv {
        print(report::ASSESSMENT_COLUMNS)?;
    }
    let mut lines = Vec::new();
    let mut outcomes = Vec::new();
    for (file, done) in files.iter().zip(done) {
        match done
            .context("the program failed on it")
            .and_then(|done| done)
        {
            Ok(done) => {
                for note in &done.notes {
                    tell!("{}: {note}", file.shown());
                }
                match (&done.data, args.shape()) {
                    (Some(data), Shape::Json) => print_json_text(data)?,
                    (Some(data), _) => print(data)?,
                    (None, _) => {}
                }
                lines.push(done.line);
                outcomes.push(done.outcome);
            }
            Err(e) => bad.push(naming(file, &error_message(&e))),
        }
    }
    for message in &bad {
        tell!("pedalproof: {message}");
    }
    if args.shape() == Shape::Text {
        let place = folder.filter(|folder| !folder.as_os_str().is_empty());
        let place = place.map(|folder| folder.shown().to_string());
        print(&report::batch(&lines, bad.len(), place.as_deref()).text())?;
    }
    if !bad.is_empty() {
        let of = bad.len() + lines.len();
        bail!("{} of {of} could not be assessed: see above", bad.len());
    }
    Ok(outcomes.into_iter().max().unwrap_or(Outcome::Good))
}

/// An error's message, with the file's name if it does not say it.
fn naming(file: &Path, message: &str) -> String {
    let file = file.shown().to_string();
    if message.contains(&file) {
        message.to_owned()
    } else {
        format!("{file}: {message}")
    }
}

/// The files named, in their order; of a folder its recordings by name, its subfolders left alone. And messages about the rest.
fn captures(paths: &[PathBuf]) -> (Vec<PathBuf>, Vec<String>) {
    let mut files = Vec::new();
    let mut bad = Vec::new();
    for path in paths {
        if !path.is_dir() {
            files.push(path.clone());
            continue;
        }
        match of_folder(path) {
            Ok(found) if found.is_empty() => bad.push(format!(
                "{}: there is no recording in this folder: a recording is NAME.csv with NAME.csv-metadata.json beside it",
                path.shown()
            )),
            Ok(found) => files.extend(found),
            Err(e) => bad.push(format!("{}: cannot read the folder: {e}", path.shown())),
        }
    }
    (files, bad)
}

/// The folder that all files lie in; none when they do not lie together.
fn common_folder(files: &[PathBuf]) -> Option<&Path> {
    let folder = files.first()?.parent()?;
    let together = files.iter().all(|file| file.parent() == Some(folder));
    together.then_some(folder)
}

fn of_folder(folder: &Path) -> std::io::Result<Vec<PathBuf>> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        if path.extension().is_some_and(|e| e == "csv") && metadata_path(&path).exists() {
            found.push(path);
        }
    }
    found.sort();
    Ok(found)
}

fn one(
    file: &Path,
    folder: Option<&Path>,
    args: &AssessArgs,
    store: Option<(&RecordStore, Timestamp)>,
) -> anyhow::Result<Done> {
    let AssessedCapture {
        opened,
        assessment,
        mut notes,
    } = input::assessed(file, args.profile.as_deref())?;
    if let Some((store, now)) = store {
        notes.push(
            match records::keep(store, file, &opened.capture.meta, &assessment, now) {
                // A board's output, say, lies among the parts: no reason to call the folder bad.
                Err(e) if matches!(e.downcast_ref(), Some(RecordStoreError::NoTag)) => {
                    NOT_KEPT.to_owned()
                }
                kept => kept?,
            },
        );
    }
    let name = folder.and_then(|folder| file.strip_prefix(folder).ok());
    let name = name.unwrap_or(file);
    let data = match args.shape() {
        Shape::Text => None,
        Shape::Json => Some(serde_json::to_string(&assessment)?),
        Shape::Csv => Some(report::assessment_csv(&name.shown(), &assessment)),
    };
    Ok(Done {
        line: BatchLine::of(&name.shown(), &assessment),
        data,
        notes,
        outcome: assessment.verdict.into(),
    })
}

/// Does each file on as many threads as the machine has cores; the results are in the files' order. One that a panic took
/// away is absent.
fn side_by_side<T: Send>(files: &[PathBuf], work: impl Fn(&Path) -> T + Sync) -> Vec<Option<T>> {
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let next = AtomicUsize::new(0);
    let (sender, done) = mpsc::channel();
    let mut results: Vec<Option<T>> = files.iter().map(|_| None).collect();
    std::thread::scope(|scope| {
        let workers: Vec<_> = (0..cores.min(files.len()))
            .map(|_| {
                let (sender, next, work) = (sender.clone(), &next, &work);
                scope.spawn(move || {
                    let files = std::iter::from_fn(|| {
                        let at = next.fetch_add(1, Ordering::Relaxed);
                        files.get(at).map(|file| (at, file))
                    });
                    for (at, file) in files {
                        let _ = sender.send((at, work(file)));
                    }
                })
            })
            .collect();
        drop(sender);
        let mut progress = Progress::new(files.len());
        for (at, result) in done {
            if let Some(place) = results.get_mut(at) {
                *place = Some(result);
            }
            progress.step();
        }
        for worker in workers {
            // One that panicked has said so; what it was at is absent.
            let _ = worker.join();
        }
    });
    results
}

/// A count on stderr while a person watches; nothing elsewhere.
struct Progress {
    done: usize,
    of: usize,
    watched: bool,
}

impl Progress {
    fn new(of: usize) -> Self {
        Self {
            done: 0,
            of,
            watched: of > 1 && std::io::stderr().is_terminal(),
        }
    }

    fn step(&mut self) {
        self.done += 1;
        if self.watched {
            let filled = self.done * 30 / self.of;
            let bar: String = (0..30)
                .map(|k| if k < filled { '#' } else { '.' })
                .collect();
            watched(&format!("{bar} {} of {}", self.done, self.of));
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if self.watched {
            watched("");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_come_in_the_order_of_the_files() {
        let files: Vec<PathBuf> = (0..50).map(|k| PathBuf::from(k.to_string())).collect();
        let names = side_by_side(&files, |file| file.display().to_string());
        let names: Vec<String> = names.into_iter().flatten().collect();
        assert_eq!(
            names,
            (0..50).map(|k: i32| k.to_string()).collect::<Vec<_>>()
        );
        assert!(side_by_side(&[], |_| ()).is_empty());
    }

    #[test]
    fn the_worst_outcome_counts() {
        use Outcome::{Fail, Good, Undecided};
        assert_eq!([Good, Undecided, Fail].into_iter().max(), Some(Fail));
        assert_eq!([Undecided, Good].into_iter().max(), Some(Undecided));
        assert_eq!([Good].into_iter().max(), Some(Good));
    }
}
