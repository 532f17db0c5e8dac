//! `pedalproof assess`.

use super::{Outcome, args, print};
use crate::bench;
use crate::capture;
use crate::profile::{self, Profile};
use crate::record::Assessment;
use crate::report;
use anyhow::{Context, anyhow};
use std::path::Path;

pub(super) fn run(wanted: &args::Assess) -> anyhow::Result<Outcome> {
    let opened = capture::open(&wanted.capture)?;
    if let Some(lost) = &opened.capture.lost {
        eprintln!("{}: {lost}", wanted.capture.display());
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
    let file = wanted
        .capture
        .file_name()
        .unwrap_or_default()
        .to_string_lossy();
    let assessment = bench::assess_file(&opened, &file, profile.as_ref())
        .with_context(|| format!("capture {}", wanted.capture.display()))?;
    if wanted.json {
        print(&format!("{}\n", json(&assessment)?))?;
    } else {
        print(&report::assessment_text(&assessment))?;
    }
    Ok(assessment.verdict.into())
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
