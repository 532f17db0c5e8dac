//! `pedalproof history`.

use crate::capture::{Metadata, metadata_path};
use crate::cli::input::one_line;
use crate::cli::outcome::Outcome;
use crate::cli::output::{Shape, print, print_json};
use crate::cli::paths::here;
use crate::cli::records;
use crate::files;
use crate::machine::{self, Control, EvidenceKind, Machine};
use crate::outlet::{self, Shown, tell};
use crate::record::{Record, RecordStore, RecordStoreError, folded, schema_json, unit_history};
use crate::report::{self, MachineUnits, UnitLine};
use anyhow::bail;
use clap::Args;
use jiff::Timestamp;
use std::path::{Path, PathBuf};

/// Kept records: all parts, or one part over the years
///
/// What the records mean first; then worn places season by season, and the results that changed or head for a limit, each with a picture.
/// The list begins with what needs doing. Blanks and capitals of a tag do not matter.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof history\n  pedalproof history T3-lever\n  pedalproof history T3-lever --all --json\n  pedalproof history T3-lever --format csv > T3-lever.csv\n  pedalproof history --find fail\n  pedalproof history --records /srv/bench/records"
)]
pub(in crate::cli) struct HistoryArgs {
    /// What is written on the part's sticker; without it, all parts
    #[arg(value_parser = one_line)]
    tag: Option<String>,
    /// Where records are kept [default: PEDALPROOF_RECORDS, the configuration file, the platform's data folder]
    #[arg(long, value_name = "FOLDER")]
    records: Option<PathBuf>,
    /// Of all parts, only those with this word in their tag, profile, verdict or course
    #[arg(long, value_name = "WORD", conflicts_with = "tag", value_parser = one_line)]
    find: Option<String>,
    /// Every result, not only those that changed or head for a limit
    #[arg(long)]
    all: bool,
    /// How to answer
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
    /// Print JSON: the same as --format json
    #[arg(long, conflicts_with = "format")]
    json: bool,
    /// Print the JSON Schema of records instead
    #[arg(long, conflicts_with_all = ["tag", "json", "format", "all"])]
    schema: bool,
}

impl HistoryArgs {
    fn shape(&self) -> Shape {
        if self.json { Shape::Json } else { self.format }
    }
}

pub(in crate::cli) fn run(args: &HistoryArgs) -> anyhow::Result<Outcome> {
    if args.schema {
        print(&schema_json())?;
        return Ok(Outcome::Good);
    }
    if let Some(folder) = &args.records
        && !folder.exists()
    {
        bail!("there is no folder {}", folder.shown());
    }
    let store = records::store(args.records.as_deref())?;
    match &args.tag {
        None => units(&store, args),
        Some(tag) => unit(&store, tag, args),
    }
}

fn units(store: &RecordStore, args: &HistoryArgs) -> anyhow::Result<Outcome> {
    let (mut units, failed) = records::units(store, Timestamp::now())?;
    let all = units.len();
    if let Some(word) = &args.find {
        units.retain(|unit| has(unit, word));
    }
    for e in &failed {
        tell!("left out: {e}");
    }
    if args.shape() == Shape::Json {
        print_json(&report::units_json(&units))?;
    } else if args.shape() == Shape::Csv {
        print(&report::units_csv(&units))?;
    } else if units.is_empty() && all > 0 {
        tell!(
            "none of the {all} parts here has `{}` in its tag, profile, verdict or course",
            args.find.as_deref().unwrap_or_default()
        );
    } else if units.is_empty() {
        tell!(
            "there are no records in {}: `pedalproof assess RECORDING --keep` keeps one",
            store.folder().shown()
        );
    } else {
        let (of_machines, others) = by_machine(units);
        print(&report::units(&of_machines, &others).text())?;
    }
    whole(&failed)
}

/// The parts of every machine: of those whose file is in this folder, then of those that their records name; and the parts of none.
fn by_machine(mut units: Vec<UnitLine>) -> (Vec<MachineUnits>, Vec<UnitLine>) {
    let mut machines: Vec<MachineUnits> = Vec::new();
    for file in here("json") {
        let Ok(machine) = machine::read(&file) else {
            continue;
        };
        let tags: Vec<String> = machine
            .controls
            .iter()
            .filter_map(|control| tag_of(&machine, control))
            .collect();
        let (own, others) = units.into_iter().partition(|unit| tags.contains(&unit.tag));
        units = others;
        machines.push(MachineUnits {
            note: Some(note(&machine, &file)),
            name: machine.name,
            units: own,
        });
    }
    let (named, others): (Vec<UnitLine>, Vec<UnitLine>) =
        units.into_iter().partition(|unit| unit.machine.is_some());
    for unit in named {
        let name = unit.machine.clone().unwrap_or_default();
        match machines.iter_mut().find(|known| known.name == name) {
            Some(known) => known.units.push(unit),
            None => machines.push(MachineUnits {
                name,
                note: None,
                units: vec![unit],
            }),
        }
    }
    machines.retain(|machine| !machine.units.is_empty());
    (machines, others)
}

/// A machine's constants and proofs, and what says how they stand.
fn note(machine: &Machine, file: &Path) -> String {
    let newest = |kind: EvidenceKind, most: usize| {
        let all = machine.evidence.iter().rev();
        let all = all.filter(move |evidence| evidence.kind == kind);
        let day = |taken: &str| taken.get(..10).unwrap_or(taken).to_owned();
        let all: Vec<String> = all
            .map(|evidence| format!("{} ({})", evidence.file, day(&evidence.taken)))
            .take(most)
            .collect();
        all.join(", ")
    };
    let constants = match newest(EvidenceKind::Block, 1) {
        none if none.is_empty() => "no constants yet".to_owned(),
        constants => format!("constants {constants}"),
    };
    let proofs = match newest(EvidenceKind::Proof, 2) {
        none if none.is_empty() => "no proof yet".to_owned(),
        proofs => format!("proofs {proofs}"),
    };
    format!(
        "{constants}; {proofs}. How it stands: pedalproof machine {}",
        outlet::typed(file)
    )
}

/// What is written on a control's sticker: as stated, else as its newest recording says.
fn tag_of(machine: &Machine, control: &Control) -> Option<String> {
    control.tag.clone().or_else(|| {
        let newest = machine.newest_capture(&control.name)?;
        let file = &machine.evidence[newest].file;
        let text = files::read_text(&metadata_path(Path::new(file))).ok()?;
        Metadata::from_json(&text).ok()?.unit.tag
    })
}

/// Whether a word stands in what the list says of a part.
fn has(unit: &UnitLine, word: &str) -> bool {
    let verdict = unit.verdict().map(|verdict| verdict.to_string());
    let unread = (unit.unreadable > 0).then_some("unreadable");
    let doubted = unit.doubt.as_ref().map(|doubt| doubt.verdict.to_string());
    let profile = unit
        .newest
        .as_ref()
        .and_then(|newest| newest.profile.as_deref());
    let said = [
        Some(unit.tag.as_str()),
        profile,
        verdict.as_deref(),
        doubted.as_deref(),
        unread,
        Some(unit.course.word()),
    ];
    let word = folded(word);
    said.into_iter()
        .flatten()
        .any(|said| folded(said).contains(&word))
}

fn unit(store: &RecordStore, tag: &str, args: &HistoryArgs) -> anyhow::Result<Outcome> {
    let (records, failed) = store.of_unit(tag)?;
    for e in &failed {
        tell!("left out: {e}");
    }
    if records.is_empty() && failed.is_empty() {
        bail!("{}", nobody(store, tag)?);
    }
    if records.is_empty() {
        return whole(&failed);
    }
    let now = Timestamp::now();
    let tag = spelled(&records, tag);
    let history = unit_history(&tag, records, now);
    match args.shape() {
        Shape::Text => print(&report::history(&history, args.all, now).text())?,
        Shape::Json => print_json(&report::history_json(&history, now))?,
        Shape::Csv => print(&report::history_csv(&history))?,
    }
    whole(&failed)
}

/// An answer that lacks records is told, and no success.
fn whole(failed: &[RecordStoreError]) -> anyhow::Result<Outcome> {
    match failed.len() {
        0 => Ok(Outcome::Good),
        1 => bail!("one record could not be read and is left out: see above"),
        n => bail!("{n} records could not be read and are left out: see above"),
    }
}

/// The tag as the newest record writes it.
fn spelled(records: &[Record], asked: &str) -> String {
    let exact = records
        .iter()
        .any(|record| record.assessment.unit.tag.as_deref() == Some(asked));
    let newest = records
        .iter()
        .max_by_key(|record| record.kept)
        .and_then(|record| record.assessment.unit.tag.clone());
    newest
        .filter(|_| !exact)
        .unwrap_or_else(|| asked.to_owned())
}

/// That there is no such unit, and which may be meant.
fn nobody(store: &RecordStore, tag: &str) -> anyhow::Result<String> {
    let mut known: Vec<String> = store
        .names()?
        .into_iter()
        .filter_map(|named| named.tag)
        .collect();
    known.sort();
    known.dedup();
    let near = records::nearest(tag, &known);
    let words = match (near.len(), known.len()) {
        (0, _) => "there are none".to_owned(),
        (n, all) if n == all => format!("there are: {}", near.join(", ")),
        (_, all) => format!(
            "did you mean {}? `pedalproof history` lists all {all}",
            near.join(", ")
        ),
    };
    Ok(format!(
        "there is no record of the part `{tag}` in {}; {words}",
        store.folder().shown()
    ))
}
