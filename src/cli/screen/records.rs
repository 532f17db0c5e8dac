//! Records and captures for the screen: units, their histories, earlier runs. Jobs, done away from the screen.

use super::job::job;
use super::{boards, machines};
use crate::bench::{self, Batch};
use crate::capture::{self, Capture, Metadata, metadata_path};
use crate::cli::records;
use crate::files;
use crate::outlet::Shown;
use crate::profile::Profile;
use crate::record::{Earlier, Record, unit_history};
use crate::report::{self, UnitLine};
use crate::tui::{EarlierOffer, EarlierRun, EarlierTrace, Job, Subject, UnitSummary};
use crate::wiring::WiringReport;
use anyhow::bail;
use jiff::Timestamp;
use measure::units::Step;
use std::path::{Path, PathBuf};

/// Earlier runs offered, the newest first.
const OFFERED: usize = 40;

/// The units of which records are kept, what needs doing first.
pub(super) fn units() -> Job<Vec<UnitSummary>> {
    job(|| {
        let store = records::store(None)?;
        let (lines, _) = records::units(&store, Timestamp::now())?;
        Ok(lines.into_iter().map(unit).collect())
    })
}

fn unit(line: UnitLine) -> UnitSummary {
    UnitSummary {
        taken: line
            .newest
            .as_ref()
            .map_or_else(|| "-".to_owned(), |newest| day(newest.when)),
        verdict: line.verdict(),
        records: line.records,
        unreadable: line.unreadable,
        newest_unreadable: line.newest_unreadable,
        doubted: line.doubt.map(|doubt| doubt.verdict),
        course: line.course.word(),
        profile: line.newest.and_then(|newest| newest.profile),
        tag: line.tag,
    }
}

/// A unit over time; first what could not be read, for then the rest is not the whole.
fn story(tag: &str) -> anyhow::Result<String> {
    let (records, failed) = records::store(None)?.of_unit(tag)?;
    if records.is_empty() && failed.is_empty() {
        bail!("there is no record of {tag} any more");
    }
    let mut page = String::new();
    for e in &failed {
        let line = format!("! not read, so this is not the whole: {e}");
        for line in textwrap::wrap(&line, 78) {
            page.push_str(&line);
            page.push('\n');
        }
    }
    if !failed.is_empty() {
        page.push('\n');
    }
    if !records.is_empty() {
        let now = Timestamp::now();
        let history = unit_history(tag, records, now);
        page.push_str(&report::history(&history, false, now).text());
    }
    Ok(page)
}

/// A page to read; the constants are those of the open machine.
pub(super) fn page(subject: &Subject, machine: Option<PathBuf>) -> Job<String> {
    let subject = subject.clone();
    job(move || match subject {
        Subject::Unit(tag) => story(&tag),
        Subject::Constants => match machine {
            Some(file) => machines::constants(&file),
            None => bail!("there is no machine whose constants could be made"),
        },
        Subject::Boards => match machine {
            Some(file) => boards::written(&file),
            None => bail!(
                "No machine is open: esc, then start one. Without a machine: pedalproof board FOLDER."
            ),
        },
        Subject::Wiring(profile, bits) => {
            let report = WiringReport::of(&profile.control_wiring(bits))?;
            Ok(report::wiring(&report).text())
        }
    })
}

/// Earlier runs of a unit: its records, and captures of it in the working folder, but for the one under way.
pub(super) fn earlier(tag: &str, but: Option<PathBuf>) -> Job<Vec<EarlierOffer>> {
    let tag = tag.to_owned();
    job(move || {
        let (records, failed) = records::store(None)?.named_of_unit(&tag)?;
        let mut captures = captures_of(&tag, but.as_deref());
        let mut dated: Vec<(String, EarlierOffer)> = Vec::new();
        let but = but.as_deref().and_then(Path::file_name).map(PathBuf::from);
        for (path, record) in records {
            let file = record.assessment.capture.file.as_deref().map(PathBuf::from);
            if but.is_some() && file == but {
                continue;
            }
            let here = captures
                .iter()
                .position(|(capture, _)| Some(capture) == file.as_ref());
            let capture = here.map(|at| captures.remove(at).0);
            dated.push((record.when().to_string(), recorded(path, &record, capture)));
        }
        for (path, meta) in captures {
            let taken = meta.started.and_then(|t| t.parse::<Timestamp>().ok());
            let offer = EarlierOffer {
                name: taken.map_or_else(|| path.shown().to_string(), day),
                detail: format!("recording {}", path.shown()),
                record: None,
                capture: Some(path),
            };
            dated.push((taken.map(|t| t.to_string()).unwrap_or_default(), offer));
        }
        dated.extend(failed.iter().map(|e| {
            let offer = EarlierOffer {
                name: "not read".to_owned(),
                detail: e.to_string(),
                record: None,
                capture: None,
            };
            (String::new(), offer)
        }));
        dated.sort_by(|a, b| b.0.cmp(&a.0));
        Ok(dated
            .into_iter()
            .take(OFFERED)
            .map(|(_, offer)| offer)
            .collect())
    })
}

fn recorded(path: PathBuf, record: &Record, capture: Option<PathBuf>) -> EarlierOffer {
    let verdict = record
        .assessment
        .verdict
        .map_or_else(|| "no verdict".to_owned(), |v| v.to_string());
    let trace = if capture.is_some() {
        "with its trace"
    } else {
        "results alone"
    };
    EarlierOffer {
        name: day(record.when()),
        detail: format!("record, {verdict}, {trace}"),
        record: Some(path),
        capture,
    }
}

/// Captures in the working folder that name the unit.
fn captures_of(tag: &str, but: Option<&Path>) -> Vec<(PathBuf, Metadata)> {
    let Ok(entries) = std::fs::read_dir(".") else {
        return Vec::new();
    };
    let names = entries
        .filter_map(Result::ok)
        .map(|entry| PathBuf::from(entry.file_name()));
    let read = |path: PathBuf| {
        let text = files::read_text(&metadata_path(&path)).ok()?;
        let meta = Metadata::from_json(&text).ok()?;
        (meta.unit.tag.as_deref() == Some(tag)).then_some((path, meta))
    };
    let mut found: Vec<_> = names
        .filter(|path| but.and_then(Path::file_name) != path.file_name())
        .filter_map(read)
        .collect();
    found.sort_by(|a, b| a.0.cmp(&b.0));
    found
}

/// Reads an earlier run. Without a record its figures are worked out from its capture.
pub(super) fn fetch(offer: &EarlierOffer, profile: Option<&Profile>) -> Job<EarlierRun> {
    let (offer, profile) = (offer.clone(), profile.cloned());
    job(move || {
        let mut opened = offer.capture.as_deref().map(capture::open).transpose()?;
        let figures = match (&offer.record, &mut opened, &offer.capture) {
            (Some(path), ..) => Earlier::of_record(&Record::from_json(&files::read(
                path,
                files::LONGEST_TEXT,
            )?)?),
            (None, Some(opened), Some(path)) => {
                let assessment = bench::assess_file(opened, path, profile.as_ref())?;
                Earlier::of(&assessment, opened.capture.meta.board.bits)
            }
            _ => bail!(
                "there is neither a record nor a recording of {}",
                offer.name
            ),
        };
        Ok(EarlierRun {
            name: offer.name,
            figures,
            trace: opened.map(|opened| trace(opened.capture)),
        })
    })
}

fn trace(capture: Capture) -> EarlierTrace {
    let mut step = vec![Step::Idle; capture.t_us.len()];
    for passage in &capture.passages {
        if let Some(part) = step.get_mut(passage.range.clone()) {
            part.fill(passage.step);
        }
    }
    EarlierTrace {
        channels: capture
            .meta
            .channels
            .into_iter()
            .map(|(name, _)| name)
            .collect(),
        rate_hz: capture.meta.board.rate_hz,
        samples: Batch {
            t_us: capture.t_us,
            step,
            codes: capture.codes,
        },
    }
}

fn day(when: Timestamp) -> String {
    when.strftime("%Y-%m-%d").to_string()
}
