//! The help page: the figure under the pointer explained, then every key.
//!
//! Belongs here: that page. Does not belong here: what figures mean (`figure`), what keys do (`keys`).

use super::pen::Pen;
use crate::tui::keys::{self, Situation};
use crate::tui::rows::{self, Row};
use crate::tui::state::{Phase, Screen, State};
use crate::tui::theme::Tone;
use crate::tui::words;
use ratatui::layout::Rect;

/// Draws the page.
pub fn draw(state: &State, pen: &mut Pen<'_>, area: Rect) {
    let rows = rows::rows(state);
    let mut y = area.top();
    if state.place == Screen::Bench {
        // Every key has its place; a long explanation is cut for it.
        let keys = u16::try_from(listed(state).count().div_ceil(2)).unwrap_or(u16::MAX);
        let above = Rect {
            height: area.height.saturating_sub(keys + 2),
            ..area
        };
        y = match rows.get(state.figure) {
            Some(row) => figure(state, pen, above, row).min(above.bottom() + 1),
            None => {
                pen.put(
                    area.left() + 1,
                    y,
                    area.width,
                    "No figure yet to explain.",
                    Tone::Quiet,
                )
                .min(y)
                    + 2
            }
        };
    }
    let below = Rect {
        y,
        height: area.bottom().saturating_sub(y),
        ..area
    };
    keys_of(state, pen, below);
}

/// One figure in words; gives the row after it.
pub fn figure(state: &State, pen: &mut Pen<'_>, area: Rect, row: &Row<'_>) -> u16 {
    let title = format!("{} of {}", words::name(row.name), row.channel);
    pen.rule(area, area.top(), &title);
    let steps: Vec<&str> = row.name.steps().iter().map(|step| step.word()).collect();
    let mut lines = vec![("what", row.name.definition().to_owned())];
    match row.figure {
        Some(figure) => {
            let r = words::reading(row.name, figure);
            let sign = pen.theme.either("±", "+-");
            // A count has no interval.
            let now = match r.plus_minus {
                Some(pm) => format!("{} {sign} {pm} {} (95 % interval)", r.value, r.unit),
                None => format!("{} {}", r.value, r.unit),
            };
            lines.push(("now", now.trim_end().to_owned()));
        }
        None => lines.push((
            "now",
            format!("not measured; comes from: {}", steps.join(", ")),
        )),
    }
    if let Some(limit) = words::limit(row.name, row.min, row.max) {
        lines.push(("limit", limit));
    }
    if let Some(finding) = row.finding {
        lines.push(("so", format!("{}: {}", finding.outcome, finding.reason)));
        if let Some(advice) = &finding.advice {
            lines.push(("do", advice.clone()));
        }
    }
    if let Some(was) = was(state, pen, row) {
        lines.push(("was", was));
    }
    if let Some(figure) = row.figure {
        lines.push(("how", figure.method.clone()));
    }
    lines.push((
        "word",
        format!("{} in files; {}", row.name.word(), row.name.source()),
    ));
    let mut y = area.top() + 1;
    for (label, text) in lines {
        if y >= area.bottom() {
            let more = format!(" more: assess --explain {} ", row.name.word());
            pen.right(area, area.top(), &more, Tone::Quiet);
            break;
        }
        pen.put(area.left() + 2, y, 6, label, Tone::Quiet);
        let place = Rect {
            x: area.left() + 9,
            y,
            width: area.width.saturating_sub(11),
            height: area.bottom().saturating_sub(y).min(3),
        };
        y += pen.wrapped(place, &text, Tone::Plain).max(1);
    }
    y + 1
}

/// What it was in the run that lies under, and whether it changed.
fn was(state: &State, pen: &Pen<'_>, row: &Row<'_>) -> Option<String> {
    let under = state.under.as_ref()?;
    let compared = under.of(row.channel, row.name)?;
    let r = words::reading(row.name, &compared.before);
    let sign = pen.theme.either("±", "+-");
    let spread = r
        .plus_minus
        .map_or(String::new(), |pm| format!(" {sign} {pm}"));
    let changed = match compared.change {
        None => "not to be held against it",
        Some(_) if compared.stands_out => "a change that stands out",
        Some(_) => "no change that the two uncertainties do not explain",
    };
    Some(format!(
        "{}{spread} {} on {}: {changed}",
        r.value, r.unit, under.name
    ))
}

/// The keys that are listed: those of the place under the page.
fn listed(state: &State) -> impl Iterator<Item = &'static keys::Binding> {
    let situation = match (state.place, &state.run.phase) {
        (Screen::Sources, _) => Situation::Sources,
        (Screen::Unit, _) => Situation::Unit,
        (Screen::Bench, Phase::Live) => Situation::Live,
        (Screen::Bench, _) => Situation::Ended,
        (Screen::Units, _) => Situation::Units,
        (Screen::Page, _) => Situation::Page,
        (Screen::Blocks, _) => Situation::Blocks,
        (Screen::Blend, _) => Situation::Blend,
        (Screen::ProofAsk, _) => Situation::ProofAsk,
        (Screen::Proving, Phase::Live) => Situation::Proving,
        (Screen::Proving, _) => Situation::Proved,
    };
    keys::within(situation).filter(|b| !b.long.is_empty())
}

/// The keys of the place that the page was opened from, in as many columns as fit.
fn keys_of(state: &State, pen: &mut Pen<'_>, area: Rect) {
    if area.height < 2 {
        return;
    }
    pen.rule(area, area.top(), "keys");
    let bindings: Vec<_> = listed(state).collect();
    let columns = (area.width / 64).clamp(1, 3);
    let columns = if columns == 1 && bindings.len() > usize::from(area.height - 1) {
        2
    } else {
        columns
    };
    let each = bindings.len().div_ceil(usize::from(columns)).max(1);
    let width = area.width / columns;
    for (at, binding) in bindings.iter().enumerate() {
        let (Ok(column), Ok(row)) = (u16::try_from(at / each), u16::try_from(at % each)) else {
            continue;
        };
        let (x, y) = (area.left() + column * width + 2, area.top() + 1 + row);
        if y >= area.bottom() {
            continue;
        }
        pen.put(x, y, 7, binding.shown, Tone::Strong);
        pen.put(x + 7, y, width.saturating_sub(9), binding.long, Tone::Plain);
    }
}
