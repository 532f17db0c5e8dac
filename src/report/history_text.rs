//! Records over time as text: the list of units, and one unit's story. 80 columns.

use super::figures_text::unit;
use super::page::Page;
use crate::record::{Entry, FigureKept, Head, Series, UnitHistory, ZoneStory};
use jiff::Timestamp;
use measure::figure::Figure;
use measure::figure::numbers::{DASH, decimals_for, fixed, limit, reading};
use measure::judge::Verdict;

/// One unit of the list.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitLine {
    /// Its tag.
    pub tag: String,
    /// How many records there are.
    pub records: usize,
    /// Its newest record.
    pub newest: Head,
}

/// The list of units. Ends with a line end.
#[must_use]
pub fn units_text(units: &[UnitLine]) -> String {
    let mut page = Page::default();
    page.line(&format!(
        "{:<20} {:<10} {:<10} {:>7}  {}",
        "unit", "last taken", "verdict", "records", "profile"
    ));
    for one in units {
        page.line(&format!(
            "{:<20} {:<10} {:<10} {:>7}  {}",
            one.tag,
            day(one.newest.when()),
            verdict(one.newest.verdict()),
            one.records,
            one.newest.unit().profile.as_deref().unwrap_or(DASH)
        ));
    }
    page.text()
}

/// A day, as RFC 3339 writes it, UTC.
fn day(when: Timestamp) -> String {
    when.strftime("%Y-%m-%d").to_string()
}

fn verdict(verdict: Option<Verdict>) -> String {
    verdict.map_or_else(|| DASH.to_owned(), |v| v.to_string())
}

/// One unit's records over time. `whole`: every figure, not only those with a limit and those that changed. Ends with a
/// line end.
#[must_use]
pub fn history_text(history: &UnitHistory, whole: bool, now: Timestamp) -> String {
    let mut page = Page::default();
    page.line(&format!(
        "{}: {} record{}",
        history.tag,
        history.entries.len(),
        if history.entries.len() == 1 { "" } else { "s" }
    ));
    page.gap();
    for entry in &history.entries {
        entry_line(&mut page, entry);
    }
    zones(&mut page, history);
    let shown: Vec<&Series> = history
        .series
        .iter()
        .filter(|s| whole || s.min.is_some() || s.max.is_some() || s.stands_out)
        .collect();
    for series in &shown {
        page.gap();
        figure(&mut page, history, series, now);
    }
    page.gap();
    let hidden = history.series.len() - shown.len();
    if hidden > 0 {
        page.words(&format!(
            "{hidden} more figures have no limit and no change that stands out: --all shows them."
        ));
    }
    page.words(
        "+/- reaches to the ends of the 95 % interval. A change stands out when chance alone would mark any figure of this \
         unit in fewer than 1 of 20 comparisons. A trend needs three records; a date is told when its slope is surely not 0, \
         and holds if wear goes on as it did.",
    );
    page.text()
}

fn entry_line(page: &mut Page, entry: &Entry) {
    page.line(&format!(
        "  {}  {:<10} {}{}",
        day(entry.when),
        verdict(entry.verdict),
        entry.capture.as_deref().unwrap_or(DASH),
        entry
            .profile
            .as_deref()
            .map_or_else(String::new, |p| format!("  against \"{p}\""))
    ));
}

fn zones(page: &mut Page, history: &UnitHistory) {
    if !history.zones.is_empty() {
        page.gap();
    }
    for story in &history.zones {
        page.hang("  ", "    ", &zone(history, story));
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

fn figure(page: &mut Page, history: &UnitHistory, series: &Series, now: Timestamp) {
    let mut title = format!("{} {}", series.channel, series.figure);
    if !unit(series.figure).is_empty() {
        title = format!("{title}, {}", unit(series.figure));
    }
    if series.min.is_some() || series.max.is_some() {
        title = format!("{title}, allowed {}", limit(series.min, series.max));
    }
    page.line(&title);
    for point in &series.points {
        page.line(&format!(
            "  {}  {}",
            day(history.entries[point.entry].when),
            told(&point.figure)
        ));
    }
    if let Some(line) = change(series) {
        page.hang("  ", "    ", &line);
    }
    if let Some(line) = trend(history, series, now) {
        page.hang("  ", "    ", &line);
    }
}

/// A value with how far its interval reaches.
fn told(kept: &FigureKept) -> String {
    let figure = Figure {
        value: kept.value,
        u: kept.u,
        low: kept.low,
        high: kept.high,
        n: kept.n,
        method: String::new(),
        shrink: None,
    };
    let value = reading(&figure).value;
    match (kept.u, kept.low, kept.high) {
        (Some(u), Some(low), Some(high)) => {
            let way = |x: f64| fixed(x, decimals_for(u));
            let (down, up) = (way(kept.value - low), way(high - kept.value));
            if down == up {
                format!("{value:>10} +/-{up}")
            } else {
                format!("{value:>10} -{down} +{up}")
            }
        }
        _ => format!("{value:>10}"),
    }
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
