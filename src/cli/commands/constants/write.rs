//! Blocks written to files, and what stands beside them.

use super::ConstantsArgs;
use super::args::BlockFormat;
use super::units::Unit;
use crate::bench;
use crate::capture;
use crate::cli::input;
use crate::cli::outcome::Outcome;
use crate::cli::output::{create, file_of, print, print_json};
use crate::constants::choose::{self, Choice, ChooseOptions, Chosen, HiddenFault};
use crate::constants::formats::Format;
use crate::constants::{Block, BlockFields, Build, Watch};
use crate::outlet::{self, Shown, alarm, tell};
use crate::profile::Profile;
use crate::report;
use anyhow::{Context, anyhow, bail};
use measure::judge::Verdict;
use schemars::JsonSchema;
use serde::Serialize;
use std::ffi::OsStr;
use std::path::Path;

pub(super) fn write(
    args: &ConstantsArgs,
    units: &[Unit],
    chosen: &Chosen,
    format: Format,
) -> anyhow::Result<()> {
    let accepted = accepted_lines(chosen, args.accept.as_deref());
    let text = format.write(&chosen.block, &comment(units, chosen, &accepted));
    if format == Format::Ihex && !accepted.is_empty() {
        alarm!("Intel HEX has no place for a comment: keep this with the board:");
        for line in &accepted {
            alarm!("{line}");
        }
    }
    let out = file_of(args.out.as_deref());
    if let Some(path) = out {
        create(path, &text)?;
        tell!(
            "wrote {}; see what it puts out: pedalproof blend --block {}",
            path.shown(),
            outlet::typed(path)
        );
    }
    if args.json {
        return print_json(&document(args, units, chosen, &accepted));
    }
    if out.is_none() {
        print(&text)?;
    }
    Ok(())
}

/// The format that was stated, else that of the file's name; both must agree.
pub(super) fn format(args: &ConstantsArgs) -> anyhow::Result<Format> {
    let stated = args.format.map(|stated| match stated {
        BlockFormat::C => (Format::C, "c", "h"),
        BlockFormat::Ihex => (Format::Ihex, "ihex", "hex"),
        BlockFormat::Json => (Format::Json, "json", "json"),
    });
    let out = file_of(args.out.as_deref());
    let ending = out.and_then(Path::extension).map(OsStr::to_ascii_lowercase);
    let named = match ending.as_deref().and_then(OsStr::to_str) {
        Some("h") => Some(Format::C),
        Some("hex") => Some(Format::Ihex),
        Some("json") => Some(Format::Json),
        _ => None,
    };
    match (stated, named, out) {
        (Some((stated, word, ending)), Some(named), Some(out)) if stated != named => bail!(
            "--format {word} and --out {} do not agree: leave --format out, or call the file {}",
            out.shown(),
            out.with_extension(ending).shown()
        ),
        (Some((stated, ..)), ..) => Ok(stated),
        (None, named, _) => Ok(named.unwrap_or(Format::C)),
    }
}

/// A constants file of the version before, written as one of this version.
pub(super) fn remake(args: &ConstantsArgs, path: &Path, format: Format) -> anyhow::Result<Outcome> {
    if let Some(why) = &args.accept {
        return accept_edited(args, path, why, format);
    }
    let old = input::block(path)?;
    let mut fields = old.block.numbers().clone();
    fields.watch = Watch::usual(
        (fields.board.adc_bits, fields.board.dac_bits),
        args.dac_vref_mv,
        args.reference_mv,
    );
    fields.output.waits_at_zero |= args.wait_at_zero;
    let block = Block::new(fields)?;
    let made = format!("made again from {}", path.shown());
    let text = format.write(&block, &made);
    tell!(
        "the numbers of {} as they were, and what this version adds: supply, read-back, output while waiting. A board with \
         today's firmware reads it; prove it again",
        path.shown()
    );
    made_again(args, &text)
}

/// Numbers that somebody changed in a file and answers for, with a check sum of their own.
fn accept_edited(
    args: &ConstantsArgs,
    path: &Path,
    why: &str,
    format: Format,
) -> anyhow::Result<Outcome> {
    if why.trim().is_empty() {
        bail!("--accept needs a reason that another person can read");
    }
    let text = input::text(path)
        .with_context(|| format!("cannot read the constants file {}", path.shown()))?;
    let block = Format::of(&text)
        .read_edited(&text)
        .with_context(|| path.shown().into_owned())?;
    let made = format!(
        "ACCEPTED: {why}\nnumbers changed by hand in {}",
        path.shown()
    );
    alarm!("numbers that no recording stands behind: prove the board before it commands a motor");
    made_again(args, &format.write(&block, &made))
}

fn made_again(args: &ConstantsArgs, text: &str) -> anyhow::Result<Outcome> {
    match file_of(args.out.as_deref()) {
        Some(to) => {
            create(to, text)?;
            tell!("wrote {}", to.shown());
        }
        None => print(text)?,
    }
    Ok(Outcome::Good)
}

fn document<'a>(
    args: &'a ConstantsArgs,
    units: &'a [Unit],
    chosen: &'a Chosen,
    accepted: &[String],
) -> Document<'a> {
    let said = |one: &'a Unit| UnitSaid {
        file: &one.file,
        sha256: &one.opened.sha256,
        tag: one.assessment.unit.tag.as_deref(),
        profile: &one.profile.name,
        verdict: one.assessment.verdict,
    };
    let units = units.iter().map(said).collect();
    Document {
        format: "constants/1",
        units,
        inputs: &chosen.inputs,
        block: chosen.block.numbers(),
        choices: &chosen.choices,
        hidden: &chosen.hidden,
        objections: chosen.objections.iter().map(|o| &o.words[..]).collect(),
        accepted: args.accept.as_deref().filter(|_| !accepted.is_empty()),
        written: file_of(args.out.as_deref()).map(|path| path.shown().into_owned()),
        safety: report::CONSTANTS_SAFETY,
    }
}

/// `constants/1`: the block, why each number is what it is, and what it does not catch.
#[derive(Serialize, JsonSchema)]
#[schemars(title = "constants/1")]
pub(in crate::cli) struct Document<'a> {
    #[schemars(extend("const" = "constants/1"))]
    format: &'static str,
    /// The recordings that it was made from, in the order of the controls.
    units: Vec<UnitSaid<'a>>,
    /// What the board's inputs are, in the order of its pins.
    inputs: &'a [String],
    block: &'a BlockFields,
    choices: &'a [Choice],
    hidden: &'a [HiddenFault],
    /// What stands against using the block.
    objections: Vec<&'a str>,
    /// Why it was made all the same.
    accepted: Option<&'a str>,
    /// The file that it was written to.
    written: Option<String>,
    safety: &'static str,
}

#[derive(Serialize, JsonSchema)]
struct UnitSaid<'a> {
    file: &'a str,
    /// Of the CSV file, lower-case hex.
    sha256: &'a str,
    tag: Option<&'a str>,
    profile: &'a str,
    verdict: Option<Verdict>,
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

/// What stands in a constants file's comment.
fn comment(units: &[Unit], chosen: &Chosen, accepted: &[String]) -> String {
    let units = units.iter().map(|one| {
        let tag = one.assessment.unit.tag.as_deref().unwrap_or("no tag");
        format!(
            "{tag}: {} (sha256 {}), \"{}\"",
            one.file, one.opened.sha256, one.profile.name
        )
    });
    let mut lines: Vec<String> = units.collect();
    lines.extend(accepted.iter().cloned());
    lines.push(report::comment(chosen));
    lines.join("\n")
}

/// The constants of several controls together, with nothing else said; `(file, profile)` in the order of the board's inputs, files in `folder`.
pub(in crate::cli) fn for_controls(
    folder: &Path,
    controls: Vec<(String, Profile)>,
) -> anyhow::Result<(Chosen, String)> {
    let open = |(file, profile): (String, Profile)| open_one(&folder.join(&file), file, profile);
    let units = controls.into_iter().map(open);
    joined(&units.collect::<anyhow::Result<Vec<Unit>>>()?)
}

fn open_one(csv: &Path, file: String, profile: Profile) -> anyhow::Result<Unit> {
    let mut opened = capture::open(csv)?;
    let assessment = bench::assess_file(&mut opened, csv, Some(&profile))?;
    Ok(Unit {
        file,
        profile,
        opened,
        assessment,
    })
}

/// What is chosen for these, and the comment of its file; refused where something stands against it.
fn joined(units: &[Unit]) -> anyhow::Result<(Chosen, String)> {
    let given: Vec<_> = units.iter().map(Unit::given).collect();
    let inputs = units.iter().map(|unit| unit.profile.tracks.len()).sum();
    let options = ChooseOptions {
        build: Build::with_inputs(inputs),
        ..ChooseOptions::default()
    };
    let chosen = choose::choose(&given, &options).map_err(|no| anyhow!("no constants: {no}"))?;
    if !chosen.objections.is_empty() {
        let objections: Vec<&str> = chosen.objections.iter().map(|o| o.words.as_str()).collect();
        let files: Vec<&str> = units.iter().map(|unit| unit.file.as_str()).collect();
        bail!(
            "no constants: {}\n  to make it all the same: pedalproof constants {} --accept \"why\"",
            objections.join("\n  "),
            files.join(" ")
        );
    }
    let comment = comment(units, &chosen, &[]);
    Ok((chosen, comment))
}
