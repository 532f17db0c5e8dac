//! Records over time: the list of units, and the history of one.

use super::assessment::figures::reach;
use super::document::{Block, Cell, Document, Section, Table, columns};
use super::seasons::meaning;
use crate::record::{Head, Series, UnitHistory, ZoneStory};
use jiff::Timestamp;
use measure::figure::numbers::{DASH, decimals_for, fixed, limit, reading};
use measure::judge::Verdict;

#[derive(Debug, Clone, PartialEq)]
pub struct UnitLine {
    pub tag: String,
    pub records: usize,
    pub newest: Head,
}

/// The units of each machine under its name, then those of none; without a machine one list.
pub fn units(machines: &[(String, Vec<UnitLine>)], others: &[UnitLine]) -> Document<'static> {
    if machines.is_empty() {
        return Document {
            intro: vec![Block::Table(list(others))],
            ..Document::default()
        };
    }
    let rest = (!others.is_empty()).then(|| ("of no machine here".to_owned(), others));
    let all = machines
        .iter()
        .map(|(name, units)| (name.clone(), &units[..]));
    let sections = all
        .chain(rest)
        .map(|(name, units)| Section::new(name, vec![Block::Table(list(units))]));
    Document {
        sections: sections.collect(),
        ..Document::default()
    }
}

fn list(units: &[UnitLine]) -> Table {
    let rows = units.iter().map(|one| {
        vec![
            one.tag.clone().into(),
            day(one.newest.when()).into(),
            verdict(one.newest.verdict()),
            one.records.to_string().into(),
            one.newest.unit().profile.as_deref().unwrap_or(DASH).into(),
        ]
    });
    Table {
        columns: columns(["unit", "last taken", "verdict", ">records", "profile"]),
        rows: rows.collect(),
        ..Table::default()
    }
}

/// A day, as RFC 3339 writes it, UTC.
fn day(when: Timestamp) -> String {
    when.strftime("%Y-%m-%d").to_string()
}

fn verdict(verdict: Option<Verdict>) -> Cell {
    verdict.map_or_else(Cell::dash, |verdict| verdict.to_string().into())
}

/// One unit's records over time. `all`: every figure, not only those with a limit and those that changed.
pub fn history(of: &UnitHistory, all: bool, now: Timestamp) -> Document<'static> {
    let zones = of.zones.iter().map(|story| zone(of, story));
    let mut sections = vec![Section::untitled(vec![Block::Table(entries(of))])];
    if !of.zones.is_empty() {
        let zones = Block::List("", zones.collect());
        sections.push(Section::untitled(vec![zones]));
    }
    let shown = of
        .series
        .iter()
        .filter(|s| all || s.min.is_some() || s.max.is_some() || s.stands_out);
    sections.extend(shown.clone().map(|series| figure(of, series, now)));
    let mut remarks = Vec::new();
    let hidden = of.series.len() - shown.count();
    if hidden > 0 {
        remarks.push(Block::Paragraph(format!(
            "{hidden} more figures have no limit and no change that stands out: --all shows them."
        )));
    }
    remarks.push(Block::paragraph(
        "+/- reaches to the ends of the 95 % interval. A change stands out when chance alone would mark any figure of this \
         unit in fewer than 1 of 20 comparisons. A trend needs three records; a date is told when its slope is surely not 0, \
         and holds if wear goes on as it did.",
    ));
    sections.push(Section::untitled(remarks));
    let n = of.entries.len();
    Document {
        title: format!("{}: {n} record{}", of.tag, if n == 1 { "" } else { "s" }),
        intro: vec![Block::paragraph(meaning(of, now).join(" "))],
        sections,
    }
}

/// A table without a header: day, verdict, capture, profile.
fn entries(of: &UnitHistory) -> Table {
    let rows = of.entries.iter().map(|entry| {
        let profile = entry.profile.as_deref();
        vec![
            day(entry.when).into(),
            verdict(entry.verdict),
            entry.capture.as_deref().unwrap_or(DASH).into(),
            profile
                .map_or_else(String::new, |p| format!("against \"{p}\""))
                .into(),
        ]
    });
    Table {
        columns: columns([""; 4]),
        rows: rows.collect(),
        indent: 2,
        ..Table::default()
    }
}

fn zone(history: &UnitHistory, story: &ZoneStory) -> String {
    let place = |z: &measure::WornZone| {
        format!(
            "{} to {} % of travel, {} times the noise",
            fixed(z.from_pct, 0),
            fixed(z.to_pct, 0),
            fixed(z.noise_ratio, 1)
        )
    };
    let now = format!("{}: worn from {}", story.channel, place(&story.now));
    match story.before {
        None if history.entries.len() < 2 => now,
        None => format!("{now}: NEW, no earlier record has it"),
        Some((at, was)) => {
            let word = if story.grows {
                "GROWING"
            } else {
                "not growing"
            };
            let since = day(history.entries[at].when);
            format!("{now}: {word}, on {since} from {}", place(&was))
        }
    }
}

fn figure(of: &UnitHistory, series: &Series, now: Timestamp) -> Section<'static> {
    let mut title = format!("{} {}", series.channel, series.figure);
    let unit = series.figure.unit().label();
    if !unit.is_empty() {
        title = format!("{title}, {unit}");
    }
    if series.min.is_some() || series.max.is_some() {
        title = format!("{title}, allowed {}", limit(series.min, series.max));
    }
    let rows = series.points.iter().map(|point| {
        let figure = point.figure.figure();
        vec![
            day(of.entries[point.entry].when).into(),
            reading(&figure).value.into(),
            match figure.u {
                Some(_) => reach(&figure).into(),
                None => "".into(),
            },
        ]
    });
    let table = Table {
        columns: columns(["", ">", ""]),
        rows: rows.collect(),
        indent: 2,
        ..Table::default()
    };
    let remarks = [change(series), trend(of, series, now)];
    let remarks = Block::List("", remarks.into_iter().flatten().collect());
    Section::new(title, vec![Block::Table(table), remarks])
}

fn change(series: &Series) -> Option<String> {
    let change = series.change?;
    let decimals = decimals_for((change.high - change.low) / 4.0);
    let word = if series.stands_out {
        "CHANGED since the record before"
    } else {
        "no change that stands out since the record before"
    };
    Some(format!(
        "{word}: {} ({} to {})",
        signed(change.by, decimals),
        signed(change.low, decimals),
        signed(change.high, decimals)
    ))
}

fn trend(history: &UnitHistory, series: &Series, now: Timestamp) -> Option<String> {
    let trend = series.trend?;
    let decimals = decimals_for(trend.slope_half / 2.0);
    let slope = format!(
        "trend: {} +/-{} a year",
        signed(trend.slope, decimals),
        fixed(trend.slope_half, decimals)
    );
    if !trend.is_sure() {
        return Some(format!("{slope}: may be none"));
    }
    let Some(crossing) = series.crossing else {
        return Some(slope);
    };
    let limit = if trend.slope > 0.0 {
        series.max
    } else {
        series.min
    };
    let limit = limit.map_or_else(String::new, measure::figure::numbers::plain);
    let date = |years: f64| {
        history
            .date(years)
            .filter(|date| date.as_second() < 10_000_000_000)
            .map_or_else(|| "the far future".to_owned(), day)
    };
    let reaches = if crossing.time < history.years(now) {
        "reached"
    } else {
        "reaches"
    };
    Some(format!(
        "{slope}; {reaches} {limit} about {} ({} to {})",
        date(crossing.time),
        date(crossing.from),
        date(crossing.to)
    ))
}

fn signed(value: f64, decimals: usize) -> String {
    let text = fixed(value, decimals);
    if text.starts_with('-') || text == DASH {
        text
    } else {
        format!("+{text}")
    }
}
