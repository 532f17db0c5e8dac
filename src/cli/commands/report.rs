//! `pedalproof report`.

use crate::bench;
use crate::capture;
use crate::cli::inl_args::InlArgs;
use crate::cli::input::{self, AssessedCapture};
use crate::cli::outcome::Outcome;
use crate::cli::output::{Renewed, is_piped, print};
use crate::cli::records;
use crate::constants::Block;
use crate::files::{self, folder_of, sha256};
use crate::machine::{self, Control, Machine};
use crate::outlet::{Shown, tell};
use crate::profile::{self, Profile};
use crate::record::{Assessment, RecordStore, UnitHistory, unit_history};
use crate::report::{
    Agreement, BenchReport, BlockUsed, KeptOtherwise, ProfileUsed, Recurring, Trace, machine_sheet,
};
use crate::wiring::WiringReport;
use anyhow::{Context, anyhow, bail};
use clap::{Args, ValueEnum};
use std::path::{Path, PathBuf};

/// One file about a recording with pictures, for the shelf or for another person
///
/// Verdict and why, results, pictures, wiring, what was not measured, methods, hashes. HTML needs no network and no script, follows the light or dark of the reader's screen, and prints on A4. Renews an
/// earlier report of that name, and takes the place of no other file. The exit code is 0 when the report was written, whatever the verdict.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof report T1-pedal.csv\n  pedalproof report T1-pedal.csv --profile pedal-hall-two-track --out for-the-file.html\n  pedalproof report T1-pedal.csv --sheet\n  pedalproof report T3-lever-2026.csv --records seasons\n  pedalproof report T1-pedal.csv --block T1.json --format md --out -"
)]
pub(in crate::cli) struct ReportArgs {
    /// The recording's CSV; its metadata lies beside it; `-` is stdin: the metadata and then the CSV
    #[arg(value_name = "RECORDING")]
    capture: PathBuf,
    /// The profile: a file, or the name of a built-in one; without it, the one that the recording names
    #[arg(long)]
    profile: Option<String>,
    #[command(flatten)]
    inl: InlArgs,
    /// HTML with pictures, or Markdown with pictures in letters
    #[arg(long, value_enum, default_value_t = ReportFormat::Html)]
    format: ReportFormat,
    /// The file to write, `-` for stdout [default: NAME-report.html or .md, here; of `-`, stdout]
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// One A4 page about this part to hang at its machine, in place of the long report: volts, wires, dangers, room for later checks
    #[arg(long, conflicts_with_all = ["format", "block", "inl_codes"])]
    sheet: bool,
    /// Also how the part went over time, by its records in this folder [default: PEDALPROOF_RECORDS, the configuration file, the platform's data
    /// folder]
    #[arg(long, value_name = "FOLDER", num_args = 0..=1, conflicts_with = "sheet")]
    #[allow(clippy::option_option)] // not asked for, asked for, asked for with a folder
    records: Option<Option<PathBuf>>,
    /// Also describe this constants file in the report (C header, Intel HEX or JSON)
    #[arg(long, value_name = "FILE")]
    block: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum ReportFormat {
    /// One HTML file
    Html,
    /// Markdown
    Md,
}

const NO_REPORT: &str = "there is no report";
/// Columns of the trace: as many as the widest picture has pixels.
const COLUMNS: usize = 860;

pub(in crate::cli) fn run(args: &ReportArgs) -> anyhow::Result<Outcome> {
    let out = out(args);
    if !is_piped(&out) {
        Renewed::Report.refuse_others(&out).context(NO_REPORT)?;
    }
    if args.sheet {
        if is_piped(&args.capture) {
            bail!("the page about a part names its recording's file: give that, not `-`");
        }
        return written(&out, &sheet(args)?);
    }
    let asked = args.profile.as_deref();
    let AssessedCapture {
        opened,
        assessment,
        notes,
    } = input::assessed_with(&args.capture, asked, args.inl)?;
    for note in notes {
        tell!("{}: {note}", args.capture.shown());
    }
    let profile = input::profile_of(asked, &opened)?.unwrap_or_default();
    let used = profile
        .as_ref()
        .map(|profile| used(profile, asked, opened.capture.meta.board.bits))
        .transpose()?;
    let block = args.block.as_deref().map(block).transpose()?;
    let agreements = Agreement::of(&assessment, &opened.capture);
    let report = BenchReport {
        assessment: &assessment,
        meta: &opened.capture.meta,
        steps: &input::steps(&opened),
        trace: &Trace::of(&opened.capture, COLUMNS),
        agreements: &agreements,
        recurring: &Recurring::of(&assessment, &opened.capture, profile.as_ref()),
        profile: used,
        kept: kept_otherwise(
            args.records.as_ref().and_then(Option::as_deref),
            &assessment,
        ),
        block: block.as_ref().map(|(block, file, sha256)| BlockUsed {
            block,
            file: file.clone(),
            sha256: sha256.clone(),
        }),
        made: jiff::Timestamp::now(),
    };
    let history = args
        .records
        .as_ref()
        .map(|folder| history(folder.as_deref(), &assessment, report.made));
    let document = match history.transpose()? {
        Some(history) => report.document().with_history(&history, report.made),
        None => report.document(),
    };
    let text = match args.format {
        ReportFormat::Html => document.html(),
        ReportFormat::Md => document.markdown(),
    };
    written(&out, &text)
}

/// What the record that was kept last of this recording says, where its verdict is another. A folder of records that cannot be looked at
/// is told.
fn kept_otherwise(folder: Option<&Path>, assessment: &Assessment) -> Option<KeptOtherwise> {
    let (tag, sum) = (assessment.unit.tag.as_deref()?, &assessment.capture.sha256);
    let of_unit = |store: RecordStore| Ok(store.of_unit(tag)?.0);
    let kept = match records::store(folder).and_then(of_unit) {
        Ok(kept) => kept.into_iter(),
        Err(e) => {
            tell!("no record of this recording was looked for: {e:#}");
            return None;
        }
    };
    let own = kept.filter(|kept| sum.is_some() && kept.assessment.capture.sha256 == *sum);
    let last = own.max_by_key(|kept| kept.kept)?;
    let verdict = last.assessment.verdict?;
    (Some(verdict) != assessment.verdict).then_some(KeptOtherwise {
        verdict,
        headline: last.assessment.diagnosis.headline,
        kept: last.kept,
    })
}

/// What the records of the part say; what of them could not be read is told.
fn history(
    folder: Option<&Path>,
    assessment: &Assessment,
    now: jiff::Timestamp,
) -> anyhow::Result<UnitHistory> {
    let tag = assessment.unit.tag.as_deref();
    let tag = tag.ok_or_else(|| {
        anyhow!("this recording names no part, so its records cannot be found: leave out --records")
    })?;
    let store = records::store(folder)?;
    let (kept, failed) = store.of_unit(tag)?;
    for e in &failed {
        tell!("left out: {e}");
    }
    if kept.is_empty() {
        return Err(anyhow!(
            "there is no record of {tag} in {}: keep one with `pedalproof assess RECORDING --keep`",
            store.folder().shown()
        ));
    }
    Ok(unit_history(tag, kept, now))
}

/// The sheet of a machine that has nothing but this part.
fn sheet(args: &ReportArgs) -> anyhow::Result<String> {
    let summary = capture::summary(&args.capture)?;
    let unit = summary.meta.unit;
    let name = args.profile.clone().or_else(|| unit.profile.clone());
    let name = name.ok_or_else(|| {
        anyhow!(
            "{} names no profile: say with --profile what it is checked as",
            args.capture.shown()
        )
    })?;
    let profile = input::profile(&name)?;
    // A file's name counts from the folder that the program was started in, a machine's from its own.
    let file = Path::new(&name).canonicalize();
    let name = file.map_or(name, |path| path.to_string_lossy().into_owned());
    let capture = args.capture.file_name().unwrap_or_default();
    let file = capture.to_string_lossy().into_owned();
    let control = profile.kind.word();
    let mut machine = Machine {
        name: unit.tag.unwrap_or_else(|| file.clone()),
        board: None,
        controls: vec![Control {
            name: control.to_owned(),
            profile: name,
            tag: None,
            pins: Vec::new(),
            since: None,
        }],
        check_every_months: machine::USUAL_MONTHS,
        evidence: Vec::new(),
    };
    let new = bench::sort(&args.capture, file.clone(), Some(control))?;
    machine.take(&new, "FILE")?;
    let now = jiff::Timestamp::now();
    let seen = bench::look(folder_of(&args.capture), &machine);
    let standing = machine::standing(&machine, &file, &seen, now);
    Ok(machine_sheet(&machine, &standing, &seen, now))
}

/// The profile with the hash of its text and its wiring.
fn used<'a>(
    profile: &'a Profile,
    asked: Option<&str>,
    bits: u32,
) -> anyhow::Result<ProfileUsed<'a>> {
    let file = asked.filter(|name| Path::new(name).exists());
    let text = match file {
        Some(file) => files::read_text(Path::new(file))
            .map(String::into_bytes)
            .with_context(|| format!("cannot read profile {file}"))?,
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
    let read = input::block(path)?;
    let name = path.file_name().unwrap_or(path.as_os_str());
    let sha256 = sha256(read.text.as_bytes());
    Ok((read.block, Path::new(name).shown().into_owned(), sha256))
}

fn out(args: &ReportArgs) -> PathBuf {
    args.out.clone().unwrap_or_else(|| {
        if is_piped(&args.capture) {
            return args.capture.clone();
        }
        let stem = args.capture.file_stem().unwrap_or_default();
        let mut name = stem.to_owned();
        name.push(match args.format {
            ReportFormat::Html if args.sheet => "-sheet.html",
            ReportFormat::Html => "-report.html",
            ReportFormat::Md => "-report.md",
        });
        PathBuf::from(name)
    })
}

/// Writes the whole file or none of it.
fn written(out: &Path, text: &str) -> anyhow::Result<Outcome> {
    if is_piped(out) {
        print(text)?;
        return Ok(Outcome::Good);
    }
    Renewed::Report.write(out, text).context(NO_REPORT)?;
    tell!("written: {}", out.shown());
    Ok(Outcome::Good)
}
