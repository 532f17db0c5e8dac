//! The list of figures: value with its ±, the limit as a band with the value and its interval in it, the outcome.

use super::overlay::Overlay;
use super::rows::{self, Row};
use super::state::Bench;
use crate::tui::draw::{self, Pen, columns_of, scrolled, split};
use crate::tui::run::Phase;
use crate::tui::session::Session;
use crate::tui::theme::{self, Tone};
use measure::figure::numbers::reading;
use measure::figure::scale::Scale;
use measure::judge::Outcome;
use ratatui::layout::Rect;

/// Columns of the number, of its ±, and of the outcome.
const VALUE: u16 = 9;
const PLUS_MINUS: u16 = 11;
/// The same where there is little room.
const PLUS_MINUS_NARROW: u16 = 9;
const NARROW: u16 = 72;
const OUTCOME: u16 = 14;
/// Columns of what a figure was in an earlier run.
const WAS: u16 = 10;

/// Draws a title and as many rows as there is room for, so that the row under the pointer is among them.
pub fn draw(bench: &Bench, session: &Session, pen: &mut Pen<'_>, area: Rect) {
    if area.height < 2 || area.width < 40 {
        return;
    }
    let rows = rows::rows(session);
    let mut title = title(bench, session, rows.len());
    // What is hidden stands at the right of the title.
    if draw::width(&title) + 14 > area.width {
        title = title.replace(" (with 95 % interval)", "");
    }
    pen.rule(area, area.top(), &title);
    let list = split(area, 1).1;
    if rows.is_empty() {
        let words = "Results come as soon as a channel is seen.";
        pen.put(list.left() + 3, list.top(), list.width, words, Tone::Quiet);
    }
    let columns = Columns::of(&rows, area.width);
    for (place, at, row) in scrolled(list, bench.figure, &rows) {
        draw_row(bench, pen, place, row, columns);
        if at == bench.figure {
            let pointer = pen.glyphs().pointer;
            pen.put(place.left(), place.y, 1, pointer, Tone::Now);
        }
    }
    // The pointer is always on a row, so that the rows that are shown fill the list.
    let hidden = rows.len().saturating_sub(usize::from(list.height));
    if hidden > 0 {
        pen.right(area, area.top(), &format!(" {hidden} more "), Tone::Quiet);
    }
}

/// The figure row that stands in row `y` of the screen.
pub fn row_at(bench: &Bench, session: &Session, area: Rect, y: u16) -> Option<usize> {
    let list = split(area, 1).1;
    let below = usize::from(y.checked_sub(list.top())?);
    let row = draw::first_shown(list, bench.figure) + below;
    (row < rows::rows(session).len()).then_some(row)
}

fn title(bench: &Bench, session: &Session, rows: usize) -> String {
    if let (Some(overlay), true) = (&bench.overlay, rows > 0) {
        return format!("results (with 95 % interval), and on {}", overlay.name);
    }
    match rows::decided(&session.run) {
        Some((total, decided)) if session.run.phase == Phase::Live => {
            format!("results so far (with 95 % interval): {decided} of {total} on their way")
        }
        Some((total, decided)) => {
            format!("results (with 95 % interval): {decided} of {total} decided")
        }
        None if rows > 0 => "results (with 95 % interval)".to_owned(),
        None => "no results yet".to_owned(),
    }
}

/// What a pair of tracks is called where there is no room for its name.
const PAIR: &str = "pair";

/// Widths that are the same in every row.
#[derive(Debug, Clone, Copy)]
struct Columns {
    channel: u16,
    name: u16,
    plus_minus: u16,
    unit: u16,
    picture: u16,
}

impl Columns {
    /// What is left after the numbers goes to the picture of the limit, at least nine columns, and to the name.
    fn of(rows: &[Row<'_>], width: u16) -> Self {
        let channels = rows.iter().map(|row| draw::width(channel(row)));
        let channel = channels.max().unwrap_or(0).min(14);
        let units = rows.iter().map(|row| draw::width(row.name.unit().label()));
        let unit = units.max().unwrap_or(0);
        let plus_minus = if width < NARROW {
            PLUS_MINUS_NARROW
        } else {
            PLUS_MINUS
        };
        let fixed = 1 + channel + 1 + 1 + VALUE + 1 + plus_minus + unit + 1 + 1 + OUTCOME;
        let left = width.saturating_sub(fixed);
        let name = left.saturating_sub(9).clamp(left.clamp(12, 16), 22);
        Self {
            channel,
            name,
            plus_minus,
            unit,
            picture: left.saturating_sub(name).min(48),
        }
    }
}

fn channel<'a>(row: &Row<'a>) -> &'a str {
    match row.lane {
        None if row.channel.contains('/') => PAIR,
        _ => row.channel,
    }
}

fn draw_row(bench: &Bench, pen: &mut Pen<'_>, area: Rect, row: &Row<'_>, columns: Columns) {
    let mut x = area.left() + 1;
    let lane = row.lane.map_or(Tone::Plain, Tone::Lane);
    pen.put(x, area.top(), columns.channel, channel(row), lane);
    x += columns.channel + 1;
    pen.put(
        x,
        area.top(),
        columns.name,
        row.name.facts().label,
        Tone::Plain,
    );
    x += columns.name + 1;
    number(pen, Rect { x, ..area }, row, columns);
    x += VALUE + 1 + columns.plus_minus + columns.unit + 1;
    let width = columns.picture.min(area.right().saturating_sub(x));
    let place = Rect { x, width, ..area };
    match &bench.overlay {
        // The earlier value takes the place of the limit's picture, or half of it where that is wide.
        Some(overlay) => {
            let (left, right) = if width >= 2 * WAS {
                (width - WAS, WAS)
            } else {
                (0, width)
            };
            limit(pen, columns_of(place, place.x, left), row);
            was(pen, columns_of(place, x + left, right), row, overlay);
        }
        None => limit(pen, place, row),
    }
    x += columns.picture + 1;
    let width = area.right().saturating_sub(x);
    outcome(pen, Rect { x, width, ..area }, row);
}

/// The value with its ± and unit.
fn number(pen: &mut Pen<'_>, area: Rect, row: &Row<'_>, columns: Columns) {
    let reading = row.figure.map(reading);
    let value = reading.as_ref().map_or("-", |reading| &reading.value);
    let place = columns_of(area, area.x, VALUE);
    pen.right(place, area.top(), value, Tone::Strong);
    let mut x = area.left() + VALUE + 1;
    if let Some(half) = reading.as_ref().and_then(|reading| reading.half.as_ref()) {
        let text = format!("{} {half}", pen.theme.either("±", "+-"));
        pen.put(x, area.top(), columns.plus_minus, &text, Tone::Quiet);
    }
    x += columns.plus_minus;
    let label = row.name.unit().label();
    pen.put(x, area.top(), columns.unit, label, Tone::Quiet);
}

/// What the figure was, with an arrow when it changed by more than the uncertainties explain.
fn was(pen: &mut Pen<'_>, area: Rect, row: &Row<'_>, overlay: &Overlay) {
    let Some(compared) = overlay.of(row.channel, row.name) else {
        return;
    };
    let mark = match compared.change {
        Some(change) if compared.stands_out => {
            let [up, down] = pen.glyphs().changed;
            if change.by > 0.0 { up } else { down }
        }
        _ => " ",
    };
    let x = pen.put(area.left(), area.top(), 1, mark, Tone::Open);
    let value = reading(&compared.before).value;
    let tone = if compared.stands_out {
        Tone::Open
    } else {
        Tone::Quiet
    };
    pen.put(x, area.top(), area.right().saturating_sub(x), &value, tone);
}

/// The picture of a limit: its band, the interval and the value in it; an arrow where they lie off the picture.
fn limit(pen: &mut Pen<'_>, area: Rect, row: &Row<'_>) {
    let Some(scale) = Scale::of(row.min, row.max).filter(|_| area.width >= 6) else {
        return;
    };
    let glyphs = pen.glyphs();
    for column in 0..area.width {
        let middle = middle(scale, column, area.width);
        let inside =
            row.min.is_none_or(|min| middle >= min) && row.max.is_none_or(|max| middle <= max);
        let (glyph, tone) = if inside {
            (glyphs.band, Tone::Band)
        } else {
            (glyphs.outside, Tone::Quiet)
        };
        pen.put(area.left() + column, area.top(), 1, glyph, tone);
    }
    let Some(figure) = row.figure else { return };
    let tone = match row.finding {
        None => Tone::Plain,
        Some(_) if !row.over => Tone::Now,
        Some(finding) => theme::outcome_tone(finding.outcome),
    };
    let (low, high) = (
        figure.low.unwrap_or(figure.value),
        figure.high.unwrap_or(figure.value),
    );
    if let (Some(from), Some(to)) = (
        column(scale, low, area.width),
        column(scale, high, area.width),
    ) {
        let (from, to) = (from.min(to), from.max(to));
        for column in from.max(0)..=to.min(i32::from(area.width) - 1) {
            let column = u16::try_from(column).unwrap_or(0);
            pen.put(area.left() + column, area.top(), 1, glyphs.interval, tone);
        }
    }
    let Some(at) = column(scale, figure.value, area.width) else {
        return;
    };
    let last = area.width - 1;
    let (column, glyph) = match u16::try_from(at) {
        Err(_) => (0, glyphs.off[0]),
        Ok(column) if column > last => (last, glyphs.off[1]),
        Ok(column) => (column, glyphs.value),
    };
    pen.put(area.left() + column, area.top(), 1, glyph, tone);
}

/// The value in the middle of a column.
fn middle(scale: Scale, column: u16, columns: u16) -> f64 {
    scale.value((f64::from(column) + 0.5) / f64::from(columns))
}

/// The column of a value, which may lie off the picture by one; absent for what is no number.
#[allow(clippy::cast_possible_truncation)] // held inside -1 ..= columns
fn column(scale: Scale, value: f64, columns: u16) -> Option<i32> {
    let column = (scale.share(value) * f64::from(columns)).floor();
    (!column.is_nan()).then(|| column.clamp(-1.0, f64::from(columns)) as i32)
}

/// How it stands. While the run goes on nothing is decided for good: the next step may open what looks like a pass.
fn outcome(pen: &mut Pen<'_>, area: Rect, row: &Row<'_>) {
    let Some(finding) = row.finding else { return };
    let outcome = finding.outcome;
    let mark = pen.theme.outcome_mark(outcome);
    let (text, tone) = match outcome {
        _ if row.over => (format!("{mark} {outcome}"), theme::outcome_tone(outcome)),
        Outcome::Pass => (
            format!("{} on its way", pen.theme.outcome_mark(Outcome::Undecided)),
            Tone::Now,
        ),
        Outcome::Fail => (format!("{mark} fails so far"), Tone::Open),
        Outcome::Undecided => (format!("{mark} open yet"), Tone::Open),
        Outcome::NotMeasured => (format!("{mark} not yet"), Tone::Quiet),
    };
    pen.left(area, area.top(), &text, tone);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_two_sided_limit_takes_the_middle_half() {
        let scale = Scale::of(Some(10.0), Some(20.0)).unwrap();
        assert_eq!(column(scale, 10.0, 20), Some(5));
        assert_eq!(column(scale, 20.0, 20), Some(15));
        assert_eq!(column(scale, -99.0, 20), Some(-1));
        assert_eq!(column(scale, 99.0, 20), Some(20));
        assert_eq!(column(scale, f64::NAN, 20), None);
    }
}
