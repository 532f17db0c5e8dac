//! `pedalproof history`.

use crate::capture::{Metadata, metadata_path};
use crate::cli::input::one_line;
use crate::cli::outcome::Outcome;
use crate::cli::output::{print, print_json};
use crate::cli::paths::here;
use crate::cli::records;
use crate::machine::{self, Control, Machine};
use crate::outlet::{Shown, tell};
use crate::record::{RecordStore, RecordStoreError, UnitHistory, schema_json, unit_history};
use crate::report::{self, UnitLine};
use anyhow::bail;
use clap::Args;
use jiff::Timestamp;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// The records that were kept: the list of units, by machine, or one unit over time
///
/// A unit's figures with their intervals at each record, which changes stand out from their uncertainties, the trend with when
/// it reaches a limit, and worn zones that grow.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof history\n  pedalproof history T3-lever\n  pedalproof history T3-lever --all --json\n  pedalproof history --records /srv/bench/records"
)]
pub(in crate::cli) struct HistoryArgs {
    /// What is written on the unit's sticker; without it, all units
    #[arg(value_parser = one_line)]
    tag: Option<String>,
    /// Where records are kept [default: PEDALPROOF_RECORDS, the configuration file, the platform's data folder]
    #[arg(long, value_name = "FOLDER")]
    records: Option<PathBuf>,
    /// Every figure, not only those with a limit and those that changed
    #[arg(long)]
    all: bool,
    /// Print JSON
    #[arg(long)]
    json: bool,
    /// Print the JSON Schema of records instead
    #[arg(long, conflicts_with_all = ["tag", "json", "all"])]
    schema: bool,
}

pub(in crate::cli) fn run(args: &HistoryArgs) -> anyhow::Result<Outcome> {
    if args.schema {
        print(&schema_json())?;
        return Ok(Outcome::Good);
    }
    let store = records::store(args.records.as_deref())?;
    match &args.tag {
        None => units(&store, args.json),
        Some(tag) => unit(&store, tag, args),
    }
}

fn units(store: &RecordStore, as_json: bool) -> anyhow::Result<Outcome> {
    let (units, failed) = records::units(store)?;
    for e in &failed {
        tell!("left out: {e}");
    }
    if as_json {
        let rows: Vec<Value> = units.iter().map(row).collect();
        print_json(&rows)?;
    } else if units.is_empty() {
        tell!(
            "there are no records in {}: `pedalproof assess CAPTURE --keep` keeps one",
            store.folder().shown()
        );
    } else {
        let (of_machines, others) = by_machine(units);
        print(&report::units(&of_machines, &others).text())?;
    }
    whole(&failed)
}

/// The units of every machine whose file is in this folder, and those of none.
fn by_machine(mut units: Vec<UnitLine>) -> (Vec<(String, Vec<UnitLine>)>, Vec<UnitLine>) {
    let mut machines = Vec::new();
    for machine in here("json")
        .iter()
        .filter_map(|file| machine::read(file).ok())
    {
        let tags: Vec<String> = machine
            .controls
            .iter()
            .filter_map(|control| tag_of(&machine, control))
            .collect();
        let (own, others) = units.into_iter().partition(|unit| tags.contains(&unit.tag));
        units = others;
        machines.push((machine.name, own));
    }
    machines.retain(|(_, own): &(_, Vec<UnitLine>)| !own.is_empty());
    (machines, units)
}

/// What is written on a control's sticker: as stated, else as its newest recording says.
fn tag_of(machine: &Machine, control: &Control) -> Option<String> {
    control.tag.clone().or_else(|| {
        let newest = machine.newest_capture(&control.name)?;
        let file = &machine.evidence[newest].file;
        let text = std::fs::read_to_string(metadata_path(Path::new(file))).ok()?;
        Metadata::from_json(&text).ok()?.unit.tag
    })
}

fn row(unit: &UnitLine) -> Value {
    json!({
        "tag": unit.tag,
        "records": unit.records,
        "newest": { "taken": unit.newest.when(), "verdict": unit.newest.verdict(), "profile": unit.newest.unit().profile },
    })
}

fn unit(store: &RecordStore, tag: &str, args: &HistoryArgs) -> anyhow::Result<Outcome> {
    let (records, failed) = store.of_unit(tag)?;
    for e in &failed {
        tell!("left out: {e}");
    }
    if records.is_empty() {
        let known: Vec<String> = records::units(store)?
            .0
            .into_iter()
            .map(|unit| unit.tag)
            .collect();
        let known = if known.is_empty() {
            "there are none".to_owned()
        } else {
            format!("there are: {}", known.join(", "))
        };
        bail!(
            "there is no record of the unit `{tag}` in {}; {known}",
            store.folder().shown()
        );
    }
    let history = unit_history(tag, records);
    if args.json {
        print_json(&history_json(&history))?;
    } else {
        print(&report::history(&history, args.all, Timestamp::now()).text())?;
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

/// `history/1`.
fn history_json(history: &UnitHistory) -> Value {
    let date = |years: f64| history.date(years).map(|date| date.to_string());
    let entries: Vec<Value> = history
        .entries
        .iter()
        .map(|e| json!({ "taken": e.when, "verdict": e.verdict, "profile": e.profile, "capture": e.capture, "bits": e.bits }))
        .collect();
    let series: Vec<Value> = history
        .series
        .iter()
        .map(|s| {
            let points: Vec<Value> = s
                .points
                .iter()
                .map(|p| json!({ "taken": history.entries[p.entry].when, "value": p.figure.value, "u": p.figure.u, "low": p.figure.low, "high": p.figure.high, "n": p.figure.n }))
                .collect();
            json!({
                "channel": s.channel, "figure": s.figure.word(), "unit": s.figure.unit().word(), "min": s.min, "max": s.max, "points": points,
                "change": s.change.map(|c| json!({ "by": c.by, "low": c.low, "high": c.high, "chance": c.chance, "stands_out": s.stands_out })),
                "trend": s.trend.map(|t| json!({ "per_year": t.slope, "low": t.slope - t.slope_half, "high": t.slope + t.slope_half, "scatter": t.scatter, "n": t.n })),
                "reaches_limit": s.crossing.map(|c| json!({ "at": date(c.time), "from": date(c.from), "to": date(c.to) })),
            })
        })
        .collect();
    let zones: Vec<Value> = history
        .zones
        .iter()
        .map(|z| {
            let before = z
                .before
                .map(|(at, zone)| json!({ "taken": history.entries[at].when, "zone": zone }));
            json!({ "channel": z.channel, "now": z.now, "before": before, "grows": z.grows })
        })
        .collect();
    json!({ "format": "history/1", "tag": history.tag, "records": entries, "series": series, "worn_zones": zones })
}
