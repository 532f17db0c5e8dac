//! `pedalproof assess`.

use super::{Outcome, args, places, print};
use crate::bench;
use crate::capture::{self, Metadata, Opened};
use crate::figure::FigureName;
use crate::profile::{self, Profile};
use crate::record::{Assessment, BoardKept, Kept, NewRecord, Shelf};
use crate::report::{self, Seen};
use crate::units::Step;
use anyhow::{Context, anyhow};
use std::path::Path;

pub(super) fn run(wanted: &args::Assess) -> anyhow::Result<Outcome> {
    let Some(capture) = &wanted.capture else {
        // Refused by the arguments unless a figure is to be explained.
        let name = wanted.explain.context("say which capture to assess")?;
        print(&report::explain(name, None))?;
        return Ok(Outcome::Good);
    };
    let opened = capture::open(capture)?;
    if let Some(lost) = &opened.capture.lost {
        eprintln!("{}: {lost}", capture.display());
    }
    let profile = match &wanted.profile {
        Some(name) => Some(named(name)?),
        None => opened
            .capture
            .meta
            .unit
            .profile
            .as_deref()
            .and_then(told_by_capture),
    };
    let assessment = bench::assess_file(&opened, capture, profile.as_ref())
        .with_context(|| format!("capture {}", capture.display()))?;
    if let Some(name) = wanted.explain {
        print(&explained(name, &opened, &assessment))?;
        return Ok(Outcome::Good);
    }
    if wanted.keep {
        let shelf = Shelf::new(places::records(wanted.records.as_deref())?);
        eprintln!("{}", keep(&shelf, &opened.capture.meta, &assessment)?);
    }
    if wanted.json {
        print(&format!("{}\n", json(&assessment)?))?;
    } else {
        print(&report::assessment_text(&assessment))?;
    }
    Ok(assessment.verdict.into())
}

fn explained(name: FigureName, opened: &Opened, assessment: &Assessment) -> String {
    let mut steps: Vec<Step> = opened.capture.passages.iter().map(|p| p.step).collect();
    steps.dedup();
    let seen = Seen {
        assessment,
        steps: &steps,
    };
    report::explain(name, Some(seen))
}

/// Keeps an assessment as a record, and says where.
pub(super) fn keep(
    shelf: &Shelf,
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

/// The profile that the capture names, if the program knows it; else words on stderr and no verdict.
fn told_by_capture(name: &str) -> Option<Profile> {
    let found = profile::find(name);
    if found.is_none() {
        eprintln!(
            "the capture names the profile \"{name}\", which is not built in: give its file with --profile to get a verdict"
        );
    }
    found
}
