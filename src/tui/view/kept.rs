//! The places beside the bench: the list of units kept, a page to read, the choice of an earlier run.
//!
//! Belongs here: their rows. Does not belong here: where their words come from.

use super::choose::heading;
use super::pen::{self, Pen};
use super::split;
use crate::tui::offers::{Subject, UnitSummary};
use crate::tui::places::Listed;
use crate::tui::state::State;
use crate::tui::theme::{self, Tone};
use ratatui::layout::Rect;

/// From this width on the list of units names their profiles.
const PROFILES: u16 = 100;

/// Columns that a page to read is set in.
const PAGE_COLUMNS: u16 = 80;

/// The list of units kept.
pub fn units(state: &State, pen: &mut Pen<'_>, area: Rect) {
    heading(pen, area, "The units kept");
    let list = split(split(area, 2).1, area.height.saturating_sub(2)).0;
    match &state.units {
        Listed::Asked => told(pen, list, "Reading the records.", Tone::Quiet),
        Listed::Failed(why) => told(pen, list, why, Tone::Bad),
        Listed::There(units) if units.is_empty() => {
            told(
                pen,
                list,
                "No record is kept yet. A run of a real board with a tag is kept when it is saved.",
                Tone::Open,
            );
        }
        Listed::There(units) => {
            let title = format!(
                "   {:<18} {:<11} {:<12} {:<16} {:>7}  profile",
                "unit", "last taken", "verdict", "going", "records"
            );
            let title = if list.width < PROFILES {
                title.trim_end_matches("profile")
            } else {
                &title
            };
            pen.put(list.left(), list.top(), list.width, title, Tone::Quiet);
            let rows = split(list, 1).1;
            let first = (state.unit_kept + 1).saturating_sub(usize::from(rows.height));
            let places = (rows.top()..rows.bottom()).zip(units.iter().enumerate().skip(first));
            for (y, (at, unit)) in places {
                unit_row(
                    pen,
                    Rect {
                        y,
                        height: 1,
                        ..rows
                    },
                    unit,
                    at == state.unit_kept,
                );
            }
        }
    }
}

fn unit_row(pen: &mut Pen<'_>, row: Rect, unit: &UnitSummary, chosen: bool) {
    let (pointer, tone) = if chosen {
        (pen.glyphs().pointer, Tone::Strong)
    } else {
        (" ", Tone::Plain)
    };
    let (mark, word, verdict) = match unit.verdict {
        Some(verdict) => (
            pen.theme.verdict_mark(verdict),
            verdict.to_string(),
            theme::verdict_tone(verdict),
        ),
        None => (" ", "-".to_owned(), Tone::Quiet),
    };
    let tag = format!(" {:<18} ", pen::cut(&unit.tag, 18));
    let taken = format!("{:<11} ", unit.taken);
    let outcome = format!("{mark} {word:<10} ");
    let course = format!("{:<16} {:>7}  ", unit.course, unit.records);
    let profile = unit.profile.as_deref().unwrap_or("-");
    let profile = if row.width < PROFILES { "" } else { profile };
    let pieces = [
        (" ", Tone::Plain),
        (pointer, Tone::Now),
        (&tag, tone),
        (&taken, Tone::Plain),
        (&outcome, verdict),
        (&course, Tone::Plain),
        (profile, Tone::Quiet),
    ];
    pen.pieces(row, row.y, &pieces);
}

/// A page to read.
pub fn page(state: &State, pen: &mut Pen<'_>, area: Rect) {
    let title = match &state.page.subject {
        Some(Subject::Unit(tag)) => format!("{tag} over time"),
        Some(Subject::Wiring(profile, _)) => format!("Wiring of {}, and what breaks", profile.name),
        Some(Subject::Constants(profile, _)) => {
            format!("Constants of this {}", profile.kind.word())
        }
        None => String::new(),
    };
    heading(pen, area, &title);
    let body = split(area, 2).1;
    // Pages are set in 80 columns: indented only where that leaves them whole.
    let indent = body.width.saturating_sub(PAGE_COLUMNS).min(3);
    let body = Rect {
        x: body.x + indent,
        width: body.width - indent,
        ..body
    };
    let rows = match &state.page.rows {
        None => return told(pen, body, "Working it out.", Tone::Quiet),
        Some(Err(why)) => return told(pen, body, why, Tone::Bad),
        Some(Ok(rows)) => rows,
    };
    let shown = rows.iter().skip(state.page.top);
    for (y, row) in (body.top()..body.bottom()).zip(shown) {
        pen.put(body.left(), y, body.width, row, Tone::Plain);
    }
    let below = rows
        .len()
        .saturating_sub(state.page.top + usize::from(body.height));
    if below > 0 {
        let more = format!(" {below} more rows below ");
        let foot = Rect {
            y: area.top() + 1,
            height: 1,
            ..area
        };
        pen.right(foot, foot.y, &more, Tone::Quiet);
    }
}

/// The choice of an earlier run, over the bench.
pub fn earlier(state: &State, pen: &mut Pen<'_>, area: Rect, at: usize) {
    let offers = state.earlier.items();
    let wanted = u16::try_from(offers.len())
        .unwrap_or(u16::MAX)
        .saturating_add(4);
    let height = wanted.clamp(7, area.height.max(7)).min(area.height);
    let place = Rect {
        x: area.x,
        y: area.y + (area.height - height) / 2,
        width: area.width,
        height,
    };
    pen.clear(place);
    pen.rule(
        place,
        place.top(),
        "an earlier run of this unit, to lay under this one",
    );
    pen.rule(place, place.bottom().saturating_sub(1), "");
    let inner = Rect {
        x: place.x + 2,
        y: place.y + 1,
        width: place.width.saturating_sub(4),
        height: place.height.saturating_sub(2),
    };
    match &state.earlier {
        Listed::Asked => {
            return told(
                pen,
                inner,
                "Looking for captures here and for records.",
                Tone::Quiet,
            );
        }
        Listed::Failed(why) => return told(pen, inner, why, Tone::Bad),
        Listed::There(offers) if offers.is_empty() => {
            let none = "None found: no capture of this tag in this folder, and no record of it.";
            return told(pen, inner, none, Tone::Open);
        }
        Listed::There(_) => {}
    }
    let first = (at + 1).saturating_sub(usize::from(inner.height));
    let rows = offers
        .iter()
        .map(|offer| (offer.name.as_str(), offer.detail.as_str()))
        .chain([("nothing", "this run alone")]);
    for (y, (nth, (name, detail))) in
        (inner.top()..inner.bottom()).zip(rows.enumerate().skip(first))
    {
        let (pointer, tone) = if nth == at {
            (pen.glyphs().pointer, Tone::Strong)
        } else {
            (" ", Tone::Plain)
        };
        let name = format!(" {name:<18} ");
        let pieces = [(pointer, Tone::Now), (&name, tone), (detail, Tone::Quiet)];
        pen.pieces(inner, y, &pieces);
    }
}

/// Words where rows would be.
fn told(pen: &mut Pen<'_>, area: Rect, words: &str, tone: Tone) {
    let place = Rect {
        x: area.x + 2,
        width: area.width.saturating_sub(4),
        ..area
    };
    pen.wrapped(place, words, tone);
}
