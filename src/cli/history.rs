//! `pedalproof history`.

use super::{Outcome, args, places, print};
use crate::record::{
    Head, Named, RecordStore, RecordStoreError, UnitHistory, schema_json, unit_history,
};
use crate::report::{self, UnitLine};
use anyhow::bail;
use jiff::Timestamp;
use serde_json::{Value, json};

pub(super) fn run(wanted: &args::History) -> anyhow::Result<Outcome> {
    if wanted.schema {
        print(&schema_json())?;
        return Ok(Outcome::Good);
    }
    let shelf = RecordStore::new(places::records(wanted.records.as_deref())?);
    match &wanted.tag {
        None => units(&shelf, wanted.json),
        Some(tag) => unit(&shelf, tag, wanted),
    }
}

fn units(shelf: &RecordStore, as_json: bool) -> anyhow::Result<Outcome> {
    let (units, failed) = list(shelf)?;
    for e in &failed {
        eprintln!("left out: {e}");
    }
    if as_json {
        let rows: Vec<Value> = units.iter().map(row).collect();
        print(&format!("{}\n", serde_json::to_string_pretty(&rows)?))?;
    } else if units.is_empty() {
        eprintln!(
            "there are no records in {}: `pedalproof assess CAPTURE --keep` keeps one",
            shelf.folder().display()
        );
    } else {
        print(&report::units_text(&units))?;
    }
    Ok(Outcome::Good)
}

/// The units of a folder with their newest records, and the files that are none.
pub(super) fn list(shelf: &RecordStore) -> anyhow::Result<(Vec<UnitLine>, Vec<RecordStoreError>)> {
    let names = shelf.names()?;
    let (mut units, mut failed) = (Vec::new(), Vec::new());
    for of_one in names.chunk_by(|a, b| a.tag.is_some() && a.tag == b.tag) {
        units.extend(newest(shelf, of_one, &mut failed).map(|newest| UnitLine {
            tag: newest.unit().tag.clone().unwrap_or_default(),
            records: of_one.len(),
            newest,
        }));
    }
    units.sort_by(|a, b| a.tag.cmp(&b.tag));
    Ok((units, failed))
}

/// The newest record of one unit that can be read.
fn newest(
    shelf: &RecordStore,
    of_one: &[Named],
    failed: &mut Vec<RecordStoreError>,
) -> Option<Head> {
    of_one
        .iter()
        .rev()
        .find_map(|named| shelf.head(named).map_err(|e| failed.push(e)).ok())
}

fn row(unit: &UnitLine) -> Value {
    json!({
        "tag": unit.tag,
        "records": unit.records,
        "newest": { "taken": unit.newest.when(), "verdict": unit.newest.verdict(), "profile": unit.newest.unit().profile },
    })
}

fn unit(shelf: &RecordStore, tag: &str, wanted: &args::History) -> anyhow::Result<Outcome> {
    let (records, failed) = shelf.of_unit(tag)?;
    for e in &failed {
        eprintln!("left out: {e}");
    }
    if records.is_empty() {
        let known: Vec<String> = list(shelf)?.0.into_iter().map(|unit| unit.tag).collect();
        let known = if known.is_empty() {
            "there are none".to_owned()
        } else {
            format!("there are: {}", known.join(", "))
        };
        bail!(
            "there is no record of the unit `{tag}` in {}; {known}",
            shelf.folder().display()
        );
    }
    let history = unit_history(tag, records);
    if wanted.json {
        print(&format!(
            "{}\n",
            serde_json::to_string_pretty(&story(&history))?
        ))?;
    } else {
        print(&report::history_text(
            &history,
            wanted.all,
            Timestamp::now(),
        ))?;
    }
    Ok(Outcome::Good)
}

/// `history/1`.
fn story(history: &UnitHistory) -> Value {
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
                "channel": s.channel, "figure": s.figure.word(), "unit": s.figure.unit(), "min": s.min, "max": s.max, "points": points,
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
