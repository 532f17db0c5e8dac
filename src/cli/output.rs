//! Where answers and captures go.

use crate::capture::metadata_path;
use crate::files;
use crate::outlet::{self, Shown, Visible};
use crate::report::is_report;
use anyhow::{Context, bail};
use clap::ValueEnum;
use serde::Serialize;
use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// How an answer is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Shape {
    /// For people
    Text,
    Json,
    /// For spreadsheets: RFC 4180, one row a figure
    Csv,
}

/// Writes text to stdout; a reader that has gone away is no error.
pub(super) fn print(text: &str) -> anyhow::Result<()> {
    print_visible(&Visible::of(text))
}

fn print_visible(text: &Visible) -> anyhow::Result<()> {
    outlet::print(text).context(
        "the answer cannot be written to the standard output, and what is there of it is not whole",
    )
}

pub(super) fn print_json(value: &impl Serialize) -> anyhow::Result<()> {
    print_json_text(&serde_json::to_string_pretty(value)?)
}

/// Prints JSON that is text already, and a line end.
pub(super) fn print_json_text(json: &str) -> anyhow::Result<()> {
    print_visible(&Visible::json(&format!("{json}\n")))
}

/// Whether a name stands for the standard input or output.
pub(super) fn is_piped(name: &Path) -> bool {
    name == Path::new("-")
}

/// The file that an answer goes to; none for the standard output.
pub(super) fn file_of(out: Option<&Path>) -> Option<&Path> {
    out.filter(|out| !is_piped(out))
}

/// Writes a file that must not exist yet.
pub(super) fn create(path: &Path, text: &str) -> anyhow::Result<()> {
    match files::create_new(path, &Visible::of(text)) {
        Err(e) if e.kind() == io::ErrorKind::AlreadyExists => bail!(
            "{} is already there and is not overwritten: choose another name, or move it away",
            path.shown()
        ),
        done => done.with_context(|| cannot_write(path)),
    }
}

/// Writes a file that may be there with this text already.
pub(super) fn create_once(path: &Path, text: &str) -> anyhow::Result<()> {
    let same = |there: String| there == Visible::of(text).as_str();
    if files::read_text(path).is_ok_and(same) {
        return Ok(());
    }
    create(path, text)
}

/// Writes a file in place of what had its name, unless that was measured.
pub(super) fn replace(path: &Path, text: &str) -> anyhow::Result<()> {
    refuse_measured(path)?;
    files::replace(path, &Visible::of(text)).with_context(|| cannot_write(path))
}

/// What this program writes anew in place of its own of before, and of nothing else.
#[derive(Clone, Copy)]
pub(super) enum Renewed {
    Report,
    Assessment,
}

impl Renewed {
    fn word(self) -> &'static str {
        match self {
            Self::Report => "report",
            Self::Assessment => "assessment",
        }
    }

    fn begins(self, start: &str) -> bool {
        match self {
            Self::Report => is_report(start),
            Self::Assessment => start.starts_with("{\n  \"format\": \"assessment/"),
        }
    }

    pub(super) fn write(self, path: &Path, text: &str) -> anyhow::Result<()> {
        self.refuse_others(path)?;
        files::replace(path, &Visible::of(text)).with_context(|| cannot_write(path))
    }

    /// To be asked before the work, too. A device or a pipe is written to, and a folder refuses by itself.
    pub(super) fn refuse_others(self, path: &Path) -> anyhow::Result<()> {
        refuse_measured(path)?;
        let in_the_way = match path.metadata() {
            Ok(is) => is.is_file() && !self.begins(&start_of(path)),
            Err(_) => files::is_taken(path), // a link to nowhere
        };
        if in_the_way {
            bail!(
                "{} is there already and is no {} of this program, so it is not replaced: choose another name, or move it away",
                path.shown(),
                self.word()
            );
        }
        Ok(())
    }
}

fn refuse_measured(path: &Path) -> anyhow::Result<()> {
    if is_measured(path) {
        bail!(
            "{} is a recording, and what was measured is never replaced: choose another name",
            path.shown()
        );
    }
    Ok(())
}

/// How a file begins; nothing of what cannot be read.
fn start_of(path: &Path) -> String {
    let mut start = Vec::new();
    if let Ok(file) = files::open(path) {
        let _ = file.take(4096).read_to_end(&mut start);
    }
    String::from_utf8_lossy(&start).into_owned()
}

/// Whether a file is a capture, the metadata of one, or a record.
fn is_measured(path: &Path) -> bool {
    let metadata = |path: &Path| path.to_string_lossy().ends_with("-metadata.json");
    if metadata_path(path).exists() || metadata(path) && path.exists() {
        return true;
    }
    let start = start_of(path);
    start.starts_with("t_us,") || start.trim_start().starts_with("{\"format\":\"record/")
}

/// Copies a file to a name that is free.
pub(super) fn copy(from: &Path, to: &Path) -> anyhow::Result<()> {
    let source = File::open(from).with_context(|| format!("cannot read {}", from.shown()))?;
    files::create_copy(to, source).with_context(|| cannot_write(to))
}

fn cannot_write(path: &Path) -> String {
    format!("cannot write {}", path.shown())
}

/// A folder that is removed at the end.
pub(super) fn temporary_folder(purpose: &str) -> anyhow::Result<TempDir> {
    let prefix = format!("pedalproof-{purpose}-");
    let folder = tempfile::Builder::new().prefix(&prefix).tempdir();
    folder.with_context(|| format!("cannot make a folder in {}", std::env::temp_dir().shown()))
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
    if csv == Path::new("-.csv") {
        bail!(
            "a recording is two files, which the standard output cannot hold: name it with --out NAME"
        );
    }
    files::takes_name(csv).with_context(|| cannot_write(csv))?;
    for path in [csv, &metadata_path(csv)] {
        if files::is_taken(path) {
            bail!(
                "{} exists already, and a recording is never overwritten: choose another name",
                path.shown()
            );
        }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_anew_takes_the_place_of_its_own_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("T1.assessment.json");
        let text = || std::fs::read_to_string(&path).unwrap();
        let ours = |verdict: &str| {
            let json = serde_json::json!({ "format": "assessment/1", "verdict": verdict });
            serde_json::to_string_pretty(&json).unwrap()
        };
        for [theirs, what] in [
            ["my notes", "no assessment"],
            ["{\"format\":\"record/1\"}", "a recording"],
            ["t_us,step,a\r\n", "a recording"],
        ] {
            std::fs::write(&path, theirs).unwrap();
            let why = Renewed::Assessment.write(&path, &ours("pass")).unwrap_err();
            assert!(why.to_string().contains(what), "{why:#}");
            assert_eq!(text(), theirs);
        }
        std::fs::remove_file(&path).unwrap();
        for verdict in ["fail", "pass"] {
            Renewed::Assessment.write(&path, &ours(verdict)).unwrap();
            assert_eq!(text(), ours(verdict));
        }
        assert!(Renewed::Report.refuse_others(&path).is_err());
        create_once(&path, &ours("pass")).unwrap();
        assert!(create_once(&path, &ours("fail")).is_err());
        assert_eq!(text(), ours("pass"));
    }
}
