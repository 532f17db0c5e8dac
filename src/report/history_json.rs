//! `history/1`: what the records of a unit say, for programs.

use crate::record::{Remark, Series, Step, UnitHistory, ZoneStory};
use jiff::Timestamp;
use measure::seasons::{Meant, Shape};
use serde_json::{Value, json};

use super::seasons::{meaning, remark};

/// The whole history as of `now`.
pub fn history_json(of: &UnitHistory, now: Timestamp) -> Value {
    let entries: Vec<Value> = of
        .entries
        .iter()
        .map(|e| json!({ "taken": e.when, "dated": e.dated, "verdict": e.verdict, "profile": e.profile, "capture": e.capture, "bits": e.bits }))
        .collect();
    let series: Vec<Value> = of.series.iter().map(|s| one(of, s, now)).collect();
    let zones: Vec<Value> = of.zones.iter().map(|z| zone(of, z)).collect();
    let remarks: Vec<Value> = of
        .remarks
        .iter()
        .map(|r| json!({ "kind": kind(r), "text": remark(r) }))
        .collect();
    json!({
        "format": "history/1", "tag": of.tag, "meaning": meaning(of, now).join(" "), "course": of.course().word(), "remarks": remarks,
        "records": entries, "series": series, "worn_zones": zones,
    })
}

fn one(of: &UnitHistory, s: &Series, now: Timestamp) -> Value {
    let date = |years: f64| of.date(years).map(|date| date.to_string());
    let points: Vec<Value> = s
        .points
        .iter()
        .map(|p| json!({ "taken": of.entries[p.entry].when, "value": p.figure.value, "u": p.figure.u, "low": p.figure.low, "high": p.figure.high, "n": p.figure.n }))
        .collect();
    let step = |step: &Step| {
        let c = step.change;
        json!({
            "taken": of.entries[s.points[step.at].entry].when, "by": c.by, "low": c.low, "high": c.high, "chance": step.chance,
            "stands_out": step.stands_out, "visits_differ_by": step.anyway, "differs": step.differs,
        })
    };
    let shape = s.outlook.as_ref().map(|outlook| match outlook.shape {
        Shape::Straight => "straight",
        Shape::Faster => "faster",
        Shape::Jumped { .. } => "jumped",
    });
    json!({
        "channel": s.channel, "figure": s.figure.word(), "unit": s.figure.unit().word(), "min": s.min, "max": s.max, "points": points,
        "left_out": s.left_out,
        "change": s.last_step.as_ref().map(step),
        "jumps": s.jumps.iter().map(step).collect::<Vec<_>>(),
        "shape": shape,
        "jumped_at": s.jumped_at.map(|at| of.entries[at].when),
        "trend": s.trend().map(|t| json!({ "per_year": t.slope, "low": t.slope - t.slope_half, "high": t.slope + t.slope_half, "scatter": t.scatter, "n": t.n })),
        "outside_since": s.outside_since().map(|at| of.entries[at].when),
        "reaches_limit": s.reach.map(|r| json!({
            "at": date(r.time), "from": date(r.from), "to": date(r.to),
            "meant": match r.meant { Meant::About => "about", Meant::AtTheLatest => "at the latest" },
            "past": r.time < of.years(now),
        })),
    })
}

fn zone(of: &UnitHistory, z: &ZoneStory) -> Value {
    let seen = |at: usize| of.entries[at].when;
    let before = z
        .before
        .map(|(at, zone)| json!({ "taken": seen(at), "zone": zone }));
    let all: Vec<Value> = z
        .seen
        .iter()
        .map(|s| json!({ "taken": seen(s.entry), "zone": s.zone }))
        .collect();
    json!({
        "channel": z.channel, "now": z.now, "before": before, "grows": z.grows, "vanished": z.now.is_none(),
        "wider_pct": z.wider_pct.map(|(low, high)| json!({ "low": low, "high": high })), "seen": all,
    })
}

fn kind(remark: &Remark) -> &'static str {
    match remark {
        Remark::Future { .. } => "future",
        Remark::Undated { .. } => "undated",
        Remark::Copies { .. } => "copies",
        Remark::Profiles { .. } => "profiles",
        Remark::Spelled { .. } => "spelled",
        Remark::OtherReference { .. } => "other reference",
        Remark::Edited { .. } => "profile edited",
    }
}
