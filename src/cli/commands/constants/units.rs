//! The units of `pedalproof constants`: captures, opened and assessed.

use super::ConstantsArgs;
use crate::bench;
use crate::capture::Opened;
use crate::cli::inl_args::InlArgs;
use crate::cli::input;
use crate::constants::choose::MeasuredControl;
use crate::outlet::{Shown, tell};
use crate::profile::{self, Profile};
use crate::record::Assessment;
use anyhow::{Context, anyhow, bail};
use measure::judge::{Outcome, Verdict};
use std::path::Path;

/// One recording, opened and assessed.
pub(super) struct Unit {
    pub(super) file: String,
    pub(super) profile: Profile,
    pub(super) opened: Opened,
    pub(super) assessment: Assessment,
}

impl Unit {
    pub(super) fn given(&self) -> MeasuredControl<'_> {
        MeasuredControl {
            file: &self.file,
            profile: &self.profile,
            capture: &self.opened.capture,
            assessment: &self.assessment,
        }
    }
}

impl Unit {
    pub(super) fn failed(&self) -> bool {
        self.assessment.verdict == Some(Verdict::Fail)
    }

    /// That it failed, and why, in one line.
    pub(super) fn failure(&self) -> String {
        let findings = self.assessment.findings.iter();
        let failed = findings.filter(|finding| finding.outcome == Outcome::Fail);
        let why: Vec<String> = failed
            .map(|f| format!("{} {}: {}", f.channel, f.figure.facts().label, f.reason))
            .collect();
        format!(
            "{}: this part failed ({}). Mend or replace it first.",
            self.file,
            why.join("; ")
        )
    }
}

pub(super) fn open(args: &ConstantsArgs) -> anyhow::Result<Vec<Unit>> {
    let captures = args.captures.len();
    if !matches!(args.profile.len(), 0 | 1) && args.profile.len() != captures {
        bail!(
            "{captures} recordings and {} profiles: give one --profile for all, or one for each in order",
            args.profile.len()
        );
    }
    if !args.tag.is_empty() && args.tag.len() != captures {
        bail!(
            "{captures} recordings and {} tags: give one --tag for each recording, in order",
            args.tag.len()
        );
    }
    let one_for_all = args.profile.len() == 1;
    let mut units: Vec<Unit> = Vec::new();
    for (i, path) in args.captures.iter().enumerate() {
        let profile = args.profile.get(if one_for_all { 0 } else { i });
        let unit = open_one(
            path,
            profile.map(String::as_str),
            args.tag.get(i).map(String::as_str),
            args.inl,
        )?;
        let same = |had: &&Unit| had.opened.sha256 == unit.opened.sha256;
        if let Some(had) = units.iter().find(same) {
            bail!(
                "{} and {} are the same recording: each control has its own",
                had.file,
                unit.file
            );
        }
        units.push(unit);
    }
    Ok(units)
}

fn open_one(
    path: &Path,
    profile: Option<&str>,
    tag: Option<&str>,
    inl: InlArgs,
) -> anyhow::Result<Unit> {
    let mut opened = input::opened(path, "constants")?;
    inl.state(&mut opened);
    let file = Path::new(path.file_name().unwrap_or_default())
        .shown()
        .into_owned();
    if let Some(lost) = &opened.capture.lost {
        tell!("{file}: {lost}");
    }
    let unit = &opened.capture.meta.unit;
    if let Some(tag) = tag
        && unit.tag.as_deref() != Some(tag)
    {
        let is = unit.tag.as_deref().unwrap_or("without a tag");
        bail!(
            "{file} is a recording of part {is}, --tag says {tag}: give the recording of {tag}, or are two recordings changed over?"
        );
    }
    let named = unit.profile.as_deref().and_then(profile::find);
    let profile = match (profile, named) {
        (Some(name), named) => of_its_kind(&file, input::profile(name)?, named.as_ref())?,
        (None, Some(named)) => named,
        (None, None) => bail!(
            "{file} names {}: give its profile with --profile",
            unit.profile.as_deref().map_or_else(
                || "no profile".to_owned(),
                |name| format!("the profile \"{name}\", which is not built in")
            )
        ),
    };
    let assessment = bench::assess_file(&mut opened, path, Some(&profile))
        .with_context(|| format!("recording {}", path.shown()))?;
    Ok(Unit {
        file,
        profile,
        opened,
        assessment,
    })
}

/// The profile that was asked for, unless the recording was taken of another kind of control.
fn of_its_kind(file: &str, asked: Profile, named: Option<&Profile>) -> anyhow::Result<Profile> {
    match named {
        Some(named) if named.kind != asked.kind => Err(anyhow!(
            "{file} was taken of a {} (\"{}\"), the profile \"{}\" is for a {}: are two recordings changed over?",
            named.kind.word(),
            named.name,
            asked.name,
            asked.kind.word()
        )),
        _ => Ok(asked),
    }
}
