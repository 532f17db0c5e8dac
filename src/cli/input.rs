//! What arguments name: profiles, captures, blocks.

use super::inl_args::InlArgs;
use super::output::is_piped;
use crate::bench;
use crate::capture::{self, CaptureError, Opened};
use crate::constants::Block;
use crate::constants::formats::Format;
use crate::files;
use crate::import;
use crate::outlet::{self, Shown, tell};
use crate::profile::{self, Profile};
use crate::record::Assessment;
use anyhow::{Context, anyhow, bail};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::Offset;
use measure::units::{Role, Step, Track};
use std::io::{self, StdinLock};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};

/// A capture with what it showed.
pub(super) struct AssessedCapture {
    pub(super) opened: Opened,
    pub(super) assessment: Assessment,
    /// Remarks for stderr.
    pub(super) notes: Vec<String>,
}

/// Opens a capture and assesses it: against the profile asked for, else the one that the capture names.
pub(super) fn assessed(capture: &Path, asked: Option<&str>) -> anyhow::Result<AssessedCapture> {
    assessed_with(capture, asked, InlArgs::default())
}

/// A capture from its files; from the standard input (`-`) its metadata and then its CSV. Of a file that something else has
/// recorded it is said how to make a capture of it. `command` is what would be typed behind a pipe.
pub(super) fn opened(csv: &Path, command: &str) -> anyhow::Result<Opened> {
    if is_piped(csv) {
        let bytes = stdin().and_then(|stdin| files::read_from(stdin, capture::LONGEST_PIPED));
        let bytes = bytes.context("cannot read a recording from the standard input")?;
        return capture::piped(&bytes).map_err(|e| match e {
            CaptureError::NotPiped => {
                anyhow!("{e}: cat NAME.csv-metadata.json NAME.csv | pedalproof {command} -")
            }
            e => e.into(),
        });
    }
    capture::open(csv).map_err(|e| {
        if let Some(meant) = meant(csv, &e) {
            return anyhow!(meant);
        }
        let advice = match &e {
            CaptureError::NoMetadata { .. } | CaptureError::Table { .. } => import_advice(csv),
            _ => None,
        };
        match advice {
            Some(advice) => anyhow!("{e}\n  {advice}"),
            None => e.into(),
        }
    })
}

/// What was meant by a name that is nearly one of a recording.
fn meant(csv: &Path, why: &CaptureError) -> Option<String> {
    let name = csv.to_str()?;
    if let Some(of) = name.strip_suffix("-metadata.json") {
        let of = Path::new(of);
        return of
            .exists()
            .then(|| format!("This is the metadata of {}: give that.", of.shown()));
    }
    if let Some(own) = own_file(csv) {
        return Some(own);
    }
    let CaptureError::Unreadable { source, .. } = why else {
        return None;
    };
    if source.kind() != io::ErrorKind::NotFound {
        return None;
    }
    let longer = PathBuf::from(format!("{name}.csv"));
    if longer.is_file() {
        return Some(format!(
            "There is no {}. Did you mean {}?",
            csv.shown(),
            longer.shown()
        ));
    }
    Some(format!(
        "There is no file {}. Give a recording, NAME.csv, with its folder if it lies elsewhere.",
        csv.shown()
    ))
}

/// What another of this program's own files is, and what reads it.
fn own_file(path: &Path) -> Option<String> {
    let text = files::read_text(path).ok()?;
    let named = |format: &str| {
        let compact: String = text
            .chars()
            .filter(|c| !c.is_whitespace())
            .take(400)
            .collect();
        compact.contains(&format!("\"format\":\"{format}"))
    };
    let shown = outlet::typed(path);
    let (what, command) = if named("machine/") {
        ("a machine's file", format!("pedalproof machine {shown}"))
    } else if named("block/") || named("constants/") || text.starts_with(":10") {
        (
            "a constants file",
            format!("pedalproof constants --read {shown}"),
        )
    } else if named("profile/") {
        ("a profile", format!("pedalproof profile check {shown}"))
    } else if named("record/") {
        ("a record", "pedalproof records".to_owned())
    } else {
        return None;
    };
    Some(format!("This is {what}, and no recording: {command}"))
}

/// What to do with a file that is no capture but has columns of numbers.
fn import_advice(csv: &Path) -> Option<String> {
    let of = match import::columns(csv)? {
        1 => "a column of numbers".to_owned(),
        n => format!("{n} columns of numbers"),
    };
    Some(format!(
        "It holds {of}: if something else recorded it, make a recording of it with\n  pedalproof import {} --vref-mv 5000 --bits 10 --out NAME   (`pedalproof import --help` says more)",
        outlet::typed(csv)
    ))
}

/// The same, with the board's non-linearity where it is stated now.
pub(super) fn assessed_with(
    capture: &Path,
    asked: Option<&str>,
    inl: InlArgs,
) -> anyhow::Result<AssessedCapture> {
    let mut opened = self::opened(capture, "assess")?;
    inl.state(&mut opened);
    let mut notes: Vec<String> = opened.capture.lost.iter().cloned().collect();
    let profile = profile_of(asked, &opened)?.unwrap_or_else(|note| {
        notes.push(note);
        None
    });
    let assessment = bench::assess_file(&mut opened, capture, profile.as_ref())
        .with_context(|| format!("recording {}", capture.shown()))?;
    notes.extend(profile.and_then(|profile| not_judged(&opened, &profile)));
    Ok(AssessedCapture {
        opened,
        assessment,
        notes,
    })
}

/// What was not judged, since the profile does not know its track.
fn not_judged(opened: &Opened, profile: &Profile) -> Option<String> {
    let channels = opened.capture.meta.channels.iter();
    let signals = channels.filter(|(_, of)| of.role == Role::Signal);
    profile.not_judged(signals.map(|(name, of)| (name.as_str(), of.track.unwrap_or(Track::One))))
}

/// A name or a reason that was given, as it will be shown: it may go into files and stands in lines of this program's words.
#[allow(clippy::unnecessary_wraps)] // as a parser of values is asked for
pub(super) fn one_line(text: &str) -> Result<String, std::convert::Infallible> {
    Ok(outlet::line(text).into_owned())
}

/// Bits of a board's ADC.
pub(super) fn bits(text: &str) -> Result<u32, String> {
    let bits = text.parse().ok();
    bits.filter(|bits| (1..=24).contains(bits))
        .ok_or_else(|| "--bits is 1 to 24".to_owned())
}

/// A day.
pub(super) fn date(text: &str) -> Result<Date, String> {
    let no_date = || {
        format!(
            "{} is no date: write it like 2026-06-01",
            outlet::line(text)
        )
    };
    // No more than a date: a time of day would be dropped in silence.
    let alone = text.len() == "2026-06-01".len();
    let day = text.parse().ok().filter(|_| alone);
    day.ok_or_else(no_date)
}

/// A moment: RFC 3339, or a date for its begin in UTC.
pub(super) fn moment(text: &str) -> Result<Timestamp, String> {
    let day = || {
        Offset::UTC
            .to_timestamp(date(text).ok()?.at(0, 0, 0, 0))
            .ok()
    };
    text.parse().ok().or_else(day).ok_or_else(|| {
        format!(
            "{} is no moment: write it like 2026-06-01, or 2026-06-01T18:30:00Z with its time zone",
            outlet::line(text)
        )
    })
}

/// The profile asked for, else the one that the capture names; a note if that one is not known.
pub(super) fn profile_of(
    asked: Option<&str>,
    opened: &Opened,
) -> anyhow::Result<Result<Option<Profile>, String>> {
    if let Some(name) = asked {
        return Ok(Ok(Some(profile(name)?)));
    }
    let Some(name) = opened.capture.meta.unit.profile.as_deref() else {
        return Ok(Ok(None));
    };
    Ok(profile::find(name).map(Some).ok_or_else(|| {
        format!(
            "the recording names the profile \"{name}\", which is not built in: give its file with --profile to get a verdict"
        )
    }))
}

pub(super) fn steps(opened: &Opened) -> Vec<Step> {
    let mut steps: Vec<Step> = opened.capture.passages.iter().map(|p| p.step).collect();
    steps.dedup();
    steps
}

/// A profile by file, `-` for the standard input, or by the name of a built-in one.
pub(super) fn profile(name: &str) -> anyhow::Result<Profile> {
    if name == "-" {
        let text =
            text(Path::new(name)).context("cannot read a profile from the standard input")?;
        return Profile::from_json(&text).context("the profile from the standard input");
    }
    if Path::new(name).exists() {
        return Ok(profile::read(Path::new(name))?);
    }
    profile::find(name).ok_or_else(|| {
        let known: Vec<String> = profile::built_in_names().map(str::to_owned).collect();
        let is_a_file = name.contains(['.', '/', '\\']);
        let near = super::records::nearest(name, &known);
        let near = match near.len() {
            0 => String::new(),
            _ if is_a_file => String::new(),
            _ => format!(" Did you mean {}?", near.join(", ")),
        };
        anyhow!(
            "there is no profile `{}`: no file of that name, and none built in.{near} Built in are: {}",
            outlet::line(name),
            known.join(", ")
        )
    })
}

/// The text of a file; `-` is the standard input.
pub(super) fn text(path: &Path) -> io::Result<String> {
    if !is_piped(path) {
        return files::read_text(path);
    }
    files::text_of(files::read_from(stdin()?, files::LONGEST_TEXT)?)
}

/// The standard input, which ends once: a second `-` would find nothing there.
pub(super) fn stdin() -> io::Result<StdinLock<'static>> {
    static TAKEN: AtomicBool = AtomicBool::new(false);
    if TAKEN.swap(true, Ordering::Relaxed) {
        return Err(io::Error::other(
            "`-` stands twice, and what comes through the standard input is read once: name a file for the other",
        ));
    }
    Ok(io::stdin().lock())
}

/// The block of a file in any format.
pub(super) fn block(path: &Path) -> anyhow::Result<BlockFile> {
    let text =
        text(path).with_context(|| format!("cannot read the constants file {}", path.shown()))?;
    let format = Format::of(&text);
    // What begins like neither of the others is taken for a C header.
    let ends = |ending: &str| {
        path.extension()
            .is_some_and(|is| is.eq_ignore_ascii_case(ending))
    };
    if format == Format::C && !is_piped(path) && !ends("h") && !text.contains("pp_block") {
        bail!("{} is no constants file (.hex, .h, .json)", path.shown());
    }
    let block = format
        .read(&text)
        .with_context(|| path.shown().into_owned())?;
    if format.is_old(&text) {
        tell!(
            "{}: a constants file of version 1. A board with today's firmware refuses it (one long pause, two flashes); make it again: \
             pedalproof constants --remake {0} --format ihex --out NEW.hex",
            path.shown()
        );
    }
    Ok(BlockFile {
        block,
        format,
        text,
    })
}

pub(super) struct BlockFile {
    pub(super) block: Block,
    pub(super) format: Format,
    pub(super) text: String,
}
