//! `pedalproof assess`.

use super::{Outcome, args, batch, places, print};
use crate::bench;
use crate::capture::{self, Metadata, Opened};
use crate::profile::{self, Profile};
use crate::record::{Assessment, BoardKept, Kept, NewRecord, RecordStore};
use crate::report::{self, Seen};
use anyhow::{Context, anyhow, bail};
use measure::figure::FigureName;
use measure::units::Step;
use std::path::Path;

pub(super) fn run(wanted: &args::Assess) -> anyhow::Result<Outcome> {
    let shelf = if wanted.keep {
        Some(RecordStore::new(places::records(
            wanted.records.as_deref(),
        )?))
    } else {
        None
    };
    match (&wanted.captures[..], wanted.explain) {
        ([], name) => {
            // Refused by the arguments unless a figure is to be explained.
            let name = name.context("say which capture to assess")?;
            print(&report::explain(name, None))?;
            Ok(Outcome::Good)
        }
        ([capture], _) if !capture.is_dir() => one(capture, wanted, shelf.as_ref()),
        (_, None) => batch::run(wanted, shelf.as_ref()),
        (_, Some(_)) => bail!("--explain takes one capture, or none: name one file"),
    }
}

fn one(
    capture: &Path,
    wanted: &args::Assess,
    shelf: Option<&RecordStore>,
) -> anyhow::Result<Outcome> {
    let Assessed {
        opened,
        assessment,
        notes,
    } = assessed(capture, wanted.profile.as_deref())?;
    for note in notes {
        eprintln!("{}: {note}", capture.display());
    }
    if let Some(name) = wanted.explain {
        print(&explained(name, &opened, &assessment))?;
        return Ok(Outcome::Good);
    }
    if let Some(shelf) = shelf {
        eprintln!("{}", keep(shelf, &opened.capture.meta, &assessment)?);
    }
    if wanted.json {
        print(&format!("{}\n", json(&assessment)?))?;
    } else {
        print(&report::assessment_text(&assessment))?;
    }
    Ok(assessment.verdict.into())
}

/// A capture with what it showed.
pub(super) struct Assessed {
    pub(super) opened: Opened,
    pub(super) assessment: Assessment,
    /// What a person should know beside it.
    pub(super) notes: Vec<String>,
}

/// Opens a capture and assesses it: against the profile asked for, else the one that the capture names.
pub(super) fn assessed(capture: &Path, asked: Option<&str>) -> anyhow::Result<Assessed> {
    let opened = capture::open(capture)?;
    let mut notes: Vec<String> = opened.capture.lost.iter().cloned().collect();
    let profile = match profile_of(asked, &opened)? {
        Ok(profile) => profile,
        Err(note) => {
            notes.push(note);
            None
        }
    };
    let assessment = bench::assess_file(&opened, capture, profile.as_ref())
        .with_context(|| format!("capture {}", capture.display()))?;
    Ok(Assessed {
        opened,
        assessment,
        notes,
    })
}

/// The profile asked for, else the one that the capture names; if that one is not known, words about it.
pub(super) fn profile_of(
    asked: Option<&str>,
    opened: &Opened,
) -> anyhow::Result<Result<Option<Profile>, String>> {
    if let Some(name) = asked {
        return Ok(Ok(Some(named(name)?)));
    }
    let Some(name) = opened.capture.meta.unit.profile.as_deref() else {
        return Ok(Ok(None));
    };
    Ok(profile::find(name).map(Some).ok_or_else(|| {
        format!(
            "the capture names the profile \"{name}\", which is not built in: give its file with --profile to get a verdict"
        )
    }))
}

/// The steps that are in a capture.
pub(super) fn steps(opened: &Opened) -> Vec<Step> {
    let mut steps: Vec<Step> = opened.capture.passages.iter().map(|p| p.step).collect();
    steps.dedup();
    steps
}

fn explained(name: FigureName, opened: &Opened, assessment: &Assessment) -> String {
    let seen = Seen {
        assessment,
        steps: &steps(opened),
    };
    report::explain(name, Some(seen))
}

/// Keeps an assessment as a record, and says where.
pub(super) fn keep(
    shelf: &RecordStore,
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
    Ok(match shelf.keep(&record)? {
        Kept::New(path) => format!("kept: {}", path.display()),
        Kept::Before(path) => format!("kept before, nothing new: {}", path.display()),
    })
}

/// An assessment as the JSON of DESIGN 4.4.
pub(super) fn json(assessment: &Assessment) -> anyhow::Result<String> {
    Ok(serde_json::to_string_pretty(assessment)?)
}

/// A profile by file, or by the name of a built-in one.
pub(super) fn named(name: &str) -> anyhow::Result<Profile> {
    if Path::new(name).exists() {
        return Ok(profile::read(Path::new(name))?);
    }
    profile::find(name).ok_or_else(|| {
        let known: Vec<_> = profile::built_in_names().collect();
        anyhow!("there is no profile `{name}`: no file of that name, and none built in. Built in are: {}", known.join(", "))
    })
}
