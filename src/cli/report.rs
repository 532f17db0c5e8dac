//! `pedalproof report`.

use super::args::{Report, ReportFormat};
use super::assess::{self, Assessed};
use super::{Outcome, constants, print, whole};
use crate::constants::Block;
use crate::profile::{self, Profile};
use crate::record::sha256;
use crate::report::{self, Agreement, BlockUsed, ProfileUsed, Sheet, Trace};
use crate::wiring::WiringReport;
use anyhow::Context;
use std::path::{Path, PathBuf};

/// Columns of the trace: as many as the widest picture has pixels.
const COLUMNS: usize = 860;

pub(super) fn run(wanted: &Report) -> anyhow::Result<Outcome> {
    let asked = wanted.profile.as_deref();
    let Assessed {
        opened,
        assessment,
        notes,
    } = assess::assessed(&wanted.capture, asked)?;
    for note in notes {
        eprintln!("{}: {note}", wanted.capture.display());
    }
    let profile = assess::profile_of(asked, &opened)?.unwrap_or_default();
    let used = profile
        .as_ref()
        .map(|profile| used(profile, asked, opened.capture.meta.board.bits))
        .transpose()?;
    let block = wanted.block.as_deref().map(block).transpose()?;
    let agreements = Agreement::of(&assessment, &opened.capture);
    let sheet = Sheet {
        assessment: &assessment,
        meta: &opened.capture.meta,
        steps: &assess::steps(&opened),
        trace: &Trace::of(&opened.capture, COLUMNS),
        agreements: &agreements,
        profile: used,
        block: block.as_ref().map(|(block, file, sha256)| BlockUsed {
            block,
            file: file.clone(),
            sha256: sha256.clone(),
        }),
        made: jiff::Timestamp::now(),
    };
    let text = match wanted.format {
        ReportFormat::Html => report::report_html(&sheet),
        ReportFormat::Md => report::report_markdown(&sheet),
    };
    written(&out(wanted), &text)
}

/// The profile with the hash of its text and its wiring.
fn used<'a>(
    profile: &'a Profile,
    asked: Option<&str>,
    bits: u32,
) -> anyhow::Result<ProfileUsed<'a>> {
    let file = asked.filter(|name| Path::new(name).exists());
    let text = match file {
        Some(file) => std::fs::read(file).with_context(|| format!("cannot read profile {file}"))?,
        None => built_in(&profile.name),
    };
    let wiring = WiringReport::of(&profile.control_wiring(bits));
    Ok(ProfileUsed {
        profile,
        sha256: sha256(&text),
        wiring: wiring.map_err(|why| why.to_string()),
    })
}

/// The text of the built-in profile of this name.
fn built_in(name: &str) -> Vec<u8> {
    let mut texts = profile::BUILT_IN.iter().map(|(_, text)| *text);
    let found = texts.find(|text| Profile::from_json(text).is_ok_and(|p| p.name == name));
    found.unwrap_or_default().as_bytes().to_vec()
}

fn block(path: &Path) -> anyhow::Result<(Block, String, String)> {
    let read = constants::read(path)?;
    let name = path.file_name().unwrap_or(path.as_os_str());
    let sha256 = sha256(read.text.as_bytes());
    Ok((read.block, name.to_string_lossy().into_owned(), sha256))
}

fn out(wanted: &Report) -> PathBuf {
    wanted.out.clone().unwrap_or_else(|| {
        let stem = wanted.capture.file_stem().unwrap_or_default();
        let mut name = stem.to_owned();
        name.push(match wanted.format {
            ReportFormat::Html => "-report.html",
            ReportFormat::Md => "-report.md",
        });
        PathBuf::from(name)
    })
}

/// Writes the whole file or none of it.
fn written(out: &Path, text: &str) -> anyhow::Result<Outcome> {
    if out == Path::new("-") {
        print(text)?;
        return Ok(Outcome::Good);
    }
    whole::replace(out, text).context("there is no report")?;
    eprintln!("written: {}", out.display());
    Ok(Outcome::Good)
}
