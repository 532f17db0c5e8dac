//! `pedalproof constants`.

use super::{Outcome, args, assess, print, whole};
use crate::bench;
use crate::capture::{self, Opened};
use crate::constants::choose::{self, Chosen, Given, Kind, Options, Refusal};
use crate::constants::formats::{self, Format};
use crate::constants::{Block, Build, Draft};
use crate::profile::{self, Profile};
use crate::record::Assessment;
use crate::report::constants_text;
use anyhow::{Context, anyhow, bail};
use serde_json::json;
use std::path::Path;

/// Steps a second of the blending firmware, as `boards/config.h` has them; a test compares.
pub(super) const BOARD_RATE_HZ: u16 = 1000;

pub(super) fn run(wanted: &args::Constants) -> anyhow::Result<Outcome> {
    if let Some(path) = &wanted.read {
        return read_back(path, wanted);
    }
    let taken = take(wanted)?;
    let given: Vec<Given<'_>> = taken
        .iter()
        .map(|one| Given {
            file: &one.file,
            profile: &one.profile,
            capture: &one.opened.capture,
            assessment: &one.assessment,
        })
        .collect();
    let chosen = match choose::choose(&given, &wish(wanted)) {
        Ok(chosen) => chosen,
        Err(refusal) => return refused(refusal),
    };
    eprint!("{}", constants_text::render(&chosen));
    if let Some(outcome) = against(&chosen, wanted.accept.as_deref())? {
        return Ok(outcome);
    }
    write(wanted, &taken, &chosen)?;
    Ok(Outcome::Good)
}

fn wish(wanted: &args::Constants) -> Options {
    Options {
        board_rate_hz: wanted.board_rate_hz,
        board_bits: wanted.board_bits,
        build: build(wanted),
        dac_bits: wanted.dac_bits,
        dac_vref_mv: wanted.dac_vref_mv,
        zero_mv: wanted.output_zero_mv,
        full_mv: wanted.output_full_mv.unwrap_or(wanted.dac_vref_mv),
        rise_s: wanted.rise_s,
        fall_s: wanted.fall_s,
        curve_error_pct: wanted.curve_error,
    }
}

fn build(wanted: &args::Constants) -> Build {
    Build {
        inputs: wanted.core_inputs,
        segments: wanted.core_segments,
    }
}

/// One capture, opened and assessed.
struct Taken {
    file: String,
    profile: Profile,
    opened: Opened,
    assessment: Assessment,
}

fn take(wanted: &args::Constants) -> anyhow::Result<Vec<Taken>> {
    let captures = wanted.captures.len();
    if !matches!(wanted.profile.len(), 0 | 1) && wanted.profile.len() != captures {
        bail!(
            "{captures} captures and {} profiles: give one --profile for all, or one for each in order",
            wanted.profile.len()
        );
    }
    if !wanted.tag.is_empty() && wanted.tag.len() != captures {
        bail!(
            "{captures} captures and {} tags: give one --tag for each capture, in order",
            wanted.tag.len()
        );
    }
    let one_for_all = wanted.profile.len() == 1;
    wanted
        .captures
        .iter()
        .enumerate()
        .map(|(i, path)| {
            let profile = wanted.profile.get(if one_for_all { 0 } else { i });
            take_one(
                path,
                profile.map(String::as_str),
                wanted.tag.get(i).map(String::as_str),
            )
        })
        .collect()
}

fn take_one(path: &Path, profile: Option<&str>, tag: Option<&str>) -> anyhow::Result<Taken> {
    let opened = capture::open(path)?;
    let file = path
        .file_name()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned();
    if let Some(lost) = &opened.capture.lost {
        eprintln!("{file}: {lost}");
    }
    let unit = &opened.capture.meta.unit;
    if let Some(tag) = tag
        && unit.tag.as_deref() != Some(tag)
    {
        let is = unit.tag.as_deref().unwrap_or("without a tag");
        bail!(
            "{file} is a capture of unit {is}, --tag says {tag}: give the capture of {tag}, or are two captures changed over?"
        );
    }
    let told = unit.profile.as_deref().and_then(profile::find);
    let profile = match (profile, told) {
        (Some(name), told) => of_its_kind(&file, assess::named(name)?, told.as_ref())?,
        (None, Some(told)) => told,
        (None, None) => bail!(
            "{file} names {}: give its profile with --profile",
            unit.profile.as_deref().map_or_else(
                || "no profile".to_owned(),
                |name| format!("the profile \"{name}\", which is not built in")
            )
        ),
    };
    let assessment = bench::assess_file(&opened, path, Some(&profile))
        .with_context(|| format!("capture {}", path.display()))?;
    Ok(Taken {
        file,
        profile,
        opened,
        assessment,
    })
}

/// The profile that was asked for, unless the capture was taken of another kind of control.
fn of_its_kind(file: &str, asked: Profile, told: Option<&Profile>) -> anyhow::Result<Profile> {
    match told {
        Some(told) if told.kind != asked.kind => Err(anyhow!(
            "{file} was taken of a {} (\"{}\"), the profile \"{}\" is for a {}: are two captures changed over?",
            told.kind.word(),
            told.name,
            asked.name,
            asked.kind.word()
        )),
        _ => Ok(asked),
    }
}

fn refused(refusal: Refusal) -> anyhow::Result<Outcome> {
    let outcome = match refusal.kind {
        Kind::BadInput => return Err(refusal.into()),
        Kind::Fail => Outcome::Fail,
        Kind::Open => Outcome::Undecided,
    };
    eprintln!("pedalproof: no block: {refusal}");
    Ok(outcome)
}

/// What stands against the block and was not accepted.
fn against(chosen: &Chosen, accepted: Option<&str>) -> anyhow::Result<Option<Outcome>> {
    if chosen.objections.is_empty() {
        if accepted.is_some() {
            eprintln!("nothing stood against it: --accept was not needed and is not written");
        }
        return Ok(None);
    }
    if let Some(why) = accepted {
        if why.trim().is_empty() {
            bail!("--accept needs a reason that another person can read");
        }
        return Ok(None);
    }
    let fails = chosen.objections.iter().any(|o| o.kind == Kind::Fail);
    eprintln!(
        "pedalproof: no block, for what is said above; --accept \"why\" makes it all the same"
    );
    Ok(Some(if fails {
        Outcome::Fail
    } else {
        Outcome::Undecided
    }))
}

/// What was accepted, in lines: empty when there was nothing to accept.
fn accepted_lines(chosen: &Chosen, why: Option<&str>) -> Vec<String> {
    let why = why.filter(|_| !chosen.objections.is_empty());
    let Some(why) = why else {
        return Vec::new();
    };
    let mut lines = vec![format!("ACCEPTED: {}", why.replace(['\n', '\r'], " "))];
    lines.extend(
        chosen
            .objections
            .iter()
            .map(|o| format!("  in spite of: {}", o.words)),
    );
    lines
}

/// What stands in a block's comment.
fn comment(taken: &[Taken], chosen: &Chosen, accepted: &[String]) -> String {
    let units = taken.iter().map(|one| {
        let tag = one.assessment.unit.tag.as_deref().unwrap_or("no tag");
        format!(
            "{tag}: {} (sha256 {}), \"{}\"",
            one.file, one.opened.sha256, one.profile.name
        )
    });
    let mut lines: Vec<String> = units.collect();
    lines.extend(accepted.iter().cloned());
    lines.push(constants_text::comment(chosen));
    lines.join("\n")
}

fn write(wanted: &args::Constants, taken: &[Taken], chosen: &Chosen) -> anyhow::Result<()> {
    let accepted = accepted_lines(chosen, wanted.accept.as_deref());
    let format = match wanted.format {
        args::BlockFormat::C => Format::C,
        args::BlockFormat::Ihex => Format::Ihex,
        args::BlockFormat::Json => Format::Json,
    };
    let text = format.write(&chosen.block, &comment(taken, chosen, &accepted));
    if format == Format::Ihex && !accepted.is_empty() {
        eprintln!("Intel HEX has no place for a comment: keep this with the board:");
        for line in &accepted {
            eprintln!("{line}");
        }
    }
    if let Some(path) = &wanted.out {
        whole::create(path, &text)?;
        eprintln!(
            "wrote {}; see what it puts out: pedalproof blend --block {0}",
            path.display()
        );
    }
    if wanted.json {
        return print(&format!(
            "{:#}\n",
            everything(wanted, taken, chosen, &accepted)
        ));
    }
    if wanted.out.is_none() {
        print(&text)?;
    }
    Ok(())
}

/// The constants of the unit of one capture in the working folder, as the command makes them with nothing else said:
/// written beside the capture in every format, and told with their reasons. What is there already with the same words stays.
pub(super) fn for_unit(capture: &Path, profile: Profile) -> anyhow::Result<String> {
    let csv = Path::new(capture.file_name().unwrap_or_default());
    if !csv.is_file() {
        bail!(
            "{} is not in this folder, so no constants are written beside it: save the run first",
            csv.display()
        );
    }
    let opened = capture::open(csv)?;
    let assessment = bench::assess_file(&opened, csv, Some(&profile))?;
    let taken = [Taken {
        file: csv.display().to_string(),
        profile,
        opened,
        assessment,
    }];
    let given = taken.each_ref().map(|one| Given {
        file: &one.file,
        profile: &one.profile,
        capture: &one.opened.capture,
        assessment: &one.assessment,
    });
    let chosen =
        choose::choose(&given, &Options::default()).map_err(|no| anyhow!("no block: {no}"))?;
    if !chosen.objections.is_empty() {
        let words: Vec<&str> = chosen.objections.iter().map(|o| o.words.as_str()).collect();
        bail!(
            "no block: {}\n  to make it all the same: pedalproof constants {} --accept \"why\"",
            words.join("\n  "),
            csv.display()
        );
    }
    let comment = comment(&taken, &chosen, &[]);
    let files = [
        (Format::Json, "json"),
        (Format::C, "h"),
        (Format::Ihex, "hex"),
    ]
    .map(|(format, end)| {
        let path = csv.with_extension(format!("block.{end}"));
        (path, format.write(&chosen.block, &comment))
    });
    let mut names = Vec::new();
    for (path, text) in &files {
        if std::fs::read_to_string(path).ok().as_ref() != Some(text) {
            whole::create(path, text)?;
        }
        names.push(path.display().to_string());
    }
    Ok(format!(
        "written: {}\n\n{}",
        names.join(", "),
        constants_text::render(&chosen)
    ))
}

fn everything(
    wanted: &args::Constants,
    taken: &[Taken],
    chosen: &Chosen,
    accepted: &[String],
) -> serde_json::Value {
    let units: Vec<serde_json::Value> = taken
        .iter()
        .map(|one| {
            json!({
                "file": one.file, "sha256": one.opened.sha256, "tag": one.assessment.unit.tag,
                "profile": one.profile.name, "verdict": one.assessment.verdict,
            })
        })
        .collect();
    let objections: Vec<&str> = chosen.objections.iter().map(|o| o.words.as_str()).collect();
    json!({
        "format": "constants/1",
        "units": units,
        "inputs": chosen.inputs,
        "block": chosen.block.numbers(),
        "choices": chosen.choices,
        "hidden": chosen.hidden,
        "objections": objections,
        "accepted": if accepted.is_empty() { None } else { wanted.accept.as_deref() },
        "written": wanted.out.as_ref().map(|path| path.display().to_string()),
        "safety": constants_text::SAFETY,
    })
}

/// The block of a file in any format.
pub(super) fn read(path: &Path) -> anyhow::Result<BlockFile> {
    let text = std::fs::read_to_string(path)
        .with_context(|| format!("cannot read the block {}", path.display()))?;
    let format = Format::of(&text);
    let block = format
        .read(&text)
        .with_context(|| format!("{}", path.display()))?;
    Ok(BlockFile {
        block,
        format,
        text,
    })
}

/// A block that was read from a file.
pub(super) struct BlockFile {
    pub(super) block: Block,
    pub(super) format: Format,
    pub(super) text: String,
}

fn read_back(path: &Path, wanted: &args::Constants) -> anyhow::Result<Outcome> {
    let BlockFile { block, format, .. } = read(path)?;
    let named = || format!("{}", path.display());
    if let Some(bits) = wanted.board_bits {
        block.is_for(bits).with_context(named)?;
    }
    block.fits(build(wanted)).with_context(named)?;
    if wanted.json {
        let numbers: &Draft = block.numbers();
        let told = json!({ "format": "block/1", "read_as": format!("{format:?}").to_lowercase(), "block": numbers });
        print(&format!("{told:#}\n"))?;
    } else {
        print(&formats::describe(&block))?;
    }
    Ok(Outcome::Good)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::firmware::FILES;

    #[test]
    fn the_boards_rate_and_build_are_the_firmwares() {
        let text = |name| FILES.iter().find(|(file, _)| *file == name).unwrap().1;
        assert!(text("boards/config.h").contains(&format!("#define RATE_HZ {BOARD_RATE_HZ}\n")));
        let core = text("core/blend.h");
        let Build { inputs, segments } = Build::default();
        assert!(
            core.contains(&format!("#define PP_MAX_INPUTS {inputs}\n")),
            "{inputs}"
        );
        assert!(
            core.contains(&format!("#define PP_MAX_SEGMENTS {segments}\n")),
            "{segments}"
        );
    }
}
