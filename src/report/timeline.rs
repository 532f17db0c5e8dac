//! Records over time in letters: a figure with its limits, and worn zones season by season.

use crate::record::{Series, UnitHistory, ZoneStory};
use measure::figure::Sides;
use measure::figure::numbers::{decimals_for, fixed, plain};
use std::fmt::Write as _;

/// Columns of a picture between its labels, and rows.
const WIDE: usize = 58;
const HIGH: usize = 9;
/// Columns that stand for the whole travel.
const TRAVEL: usize = 50;

/// A figure over time: `o` a record with `|` its interval, `=` a limit, `:` today, `>` when the limit is reached. Nothing for one record.
pub(super) fn figure(of: &UnitHistory, series: &Series, now: f64) -> String {
    let times: Vec<f64> = series
        .points
        .iter()
        .map(|p| of.entries[p.entry].years)
        .collect();
    let (Some(first), Some(last)) = (times.first(), times.last()) else {
        return String::new();
    };
    if times.len() < 2 {
        return String::new();
    }
    let reached = series
        .reach
        .map(|reach| reach.time)
        .filter(|time| *time > *last && *time < last + (last - first).max(1.0) * 3.0);
    let (from, to) = (
        *first,
        reached
            .unwrap_or(*last)
            .max(now.clamp(*last, last + (last - first).max(0.5))),
    );
    let Some(ground) = Ground::of(series, from, to) else {
        return String::new();
    };
    let mut cells = vec![vec![' '; WIDE]; HIGH];
    if now >= from && now <= to {
        let at = ground.column(now);
        for row in &mut cells {
            row[at] = ':';
        }
    }
    for limit in [series.min, series.max].into_iter().flatten() {
        if let Some(row) = ground.row(limit) {
            cells[row].fill('=');
        }
    }
    for (point, time) in series.points.iter().zip(&times) {
        let at = ground.column(*time);
        let figure = &point.figure;
        if let Some((low, high)) = figure
            .low
            .zip(figure.high)
            .filter(|(low, high)| low <= high)
        {
            for row in &mut cells[ground.clamped(high)..=ground.clamped(low)] {
                row[at] = '|';
            }
        }
        cells[ground.clamped(figure.value)][at] = 'o';
    }
    if let (Some(time), Some(trend)) = (reached, series.trend()) {
        let limit = if trend.slope > 0.0 {
            series.max
        } else {
            series.min
        };
        if let Some(row) = limit.and_then(|limit| ground.row(limit)) {
            cells[row][ground.column(time)] = '>';
        }
    }
    ground.draw(series, &cells, &ends(of, from, to))
}

/// The dates below a picture.
fn ends(of: &UnitHistory, from: f64, to: f64) -> String {
    let day = |years: f64| {
        of.date(years)
            .map_or_else(String::new, |when| when.strftime("%Y-%m").to_string())
    };
    let (first, last) = (day(from), day(to));
    format!(
        "{first}{last:>width$}",
        width = WIDE.saturating_sub(first.len())
    )
}

/// What is drawn on: times across, values upwards.
struct Ground {
    from: f64,
    to: f64,
    low: f64,
    high: f64,
}

impl Ground {
    /// All values with their intervals, and a limit as far as it lies near them.
    fn of(series: &Series, from: f64, to: f64) -> Option<Self> {
        let values = series
            .points
            .iter()
            .flat_map(|p| [Some(p.figure.value), p.figure.low, p.figure.high])
            .flatten();
        let (low, high) = values
            .filter(|v| v.is_finite())
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
                (v.min(low), v.max(high))
            });
        let span = high - low;
        if !span.is_finite() || to <= from {
            return None;
        }
        let near = |limit: f64| limit > low - 4.0 * span && limit < high + 4.0 * span;
        let limits: Vec<f64> = [series.min, series.max]
            .into_iter()
            .flatten()
            .filter(|limit| near(*limit))
            .collect();
        let low = limits.iter().copied().fold(low, f64::min);
        let high = limits.iter().copied().fold(high, f64::max);
        // Nobody counts to 1.04.
        if is_count(series) {
            let high = high.max(low + 1.0);
            return Some(Self {
                from,
                to,
                low,
                high,
            });
        }
        let margin = if high > low {
            (high - low) * 0.04
        } else {
            low.abs().max(1.0) * 0.1
        };
        Some(Self {
            from,
            to,
            low: low - margin,
            high: high + margin,
        })
    }

    fn column(&self, time: f64) -> usize {
        place((time - self.from) / (self.to - self.from), WIDE)
    }

    /// `None` outside the picture.
    fn row(&self, value: f64) -> Option<usize> {
        (value >= self.low && value <= self.high).then(|| self.clamped(value))
    }

    fn clamped(&self, value: f64) -> usize {
        place((self.high - value) / (self.high - self.low), HIGH)
    }

    fn draw(&self, series: &Series, cells: &[Vec<char>], dates: &str) -> String {
        let decimals = if is_count(series) {
            0
        } else {
            decimals_for((self.high - self.low) / 20.0)
        };
        let mut text = String::new();
        for (at, row) in cells.iter().enumerate() {
            let limit = [series.min, series.max]
                .into_iter()
                .flatten()
                .find(|limit| self.row(*limit) == Some(at));
            let label = match limit {
                Some(limit) => plain(limit),
                None if at == 0 => fixed(self.high, decimals),
                None if at == HIGH - 1 => fixed(self.low, decimals),
                None => String::new(),
            };
            let row: String = row.iter().collect();
            let mark = if limit.is_some() { " limit" } else { "" };
            let _ = writeln!(text, "  {label:>9} {row}{mark}");
        }
        let _ = writeln!(text, "  {:>9} {dates}", "");
        text
    }
}

/// Of places or events, which a good part has none of.
fn is_count(series: &Series) -> bool {
    series.figure.facts().sides == Sides::Zero
}

/// A share of 0 to 1 as one of so many places.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss
)] // a place of a picture
fn place(share: f64, places: usize) -> usize {
    ((share * (places - 1) as f64).round().max(0.0) as usize).min(places - 1)
}

/// The worn zones of a channel, a row for each record: `#` worn, `.` not.
pub(super) fn zones(of: &UnitHistory, channel: &str) -> String {
    let stories: Vec<&ZoneStory> = of
        .zones
        .iter()
        .filter(|story| story.channel == channel)
        .collect();
    let mut text = format!("  worn places of {channel}, record by record (# worn):\n");
    for (at, entry) in of.entries.iter().enumerate() {
        let mut row = ['.'; TRAVEL];
        for seen in stories
            .iter()
            .flat_map(|story| &story.seen)
            .filter(|seen| seen.entry == at)
        {
            let (from, to) = (
                place(seen.zone.from_pct / 100.0, TRAVEL),
                place(seen.zone.to_pct / 100.0, TRAVEL),
            );
            row[from..=to].fill('#');
        }
        let row: String = row.iter().collect();
        let _ = writeln!(text, "  {} {row}", entry.when.strftime("%Y-%m-%d"));
    }
    let scale = format!("{:<12}{:<13}{:<12}{:<10}{:>3}", 0, 25, 50, 75, 100);
    let _ = writeln!(text, "  {:>10} {scale} % of travel", "");
    text
}
