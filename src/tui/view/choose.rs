//! Before a run: the list of sources, the unit and its profile.
//!
//! Belongs here: those two places. Does not belong here: finding sources.

use super::pen::Pen;
use super::split;
use crate::tui::offers::{SourceKind, SourceOffer};
use crate::tui::state::State;
use crate::tui::theme::Tone;
use ratatui::layout::Rect;

/// Rows of the safety words.
const SAFETY_ROWS: u16 = 3;

/// What must be so before anything is connected to a drive (DESIGN 8).
const SAFETY: &str = "Before anything is connected to a drive: wheels off the ground or motor leads off, traction battery \
isolated while wiring, an emergency stop that does not pass through this board. A bench verdict is no type approval.";

fn safety(pen: &mut Pen<'_>, area: Rect) {
    let place = Rect {
        x: area.x + 3,
        width: area.width.saturating_sub(4).min(110),
        ..area
    };
    pen.wrapped(place, SAFETY, Tone::Open);
}

/// The list of sources.
pub fn sources(state: &State, pen: &mut Pen<'_>, area: Rect) {
    heading(pen, area, "Where do the samples come from?");
    let (area, foot) = split(area, area.height.saturating_sub(SAFETY_ROWS));
    safety(pen, foot);
    let refusal = state.refused.as_deref().unwrap_or_default();
    let refusal_rows = if refusal.is_empty() { 0 } else { 5 };
    let list = Rect {
        y: area.top() + 2,
        height: area.height.saturating_sub(2 + refusal_rows),
        ..area
    };
    if state.offers.is_empty() {
        let words = "Nothing found. Plug a board in and press r.";
        pen.put(list.left() + 3, list.top(), list.width, words, Tone::Open);
    }
    let mut lines: Vec<(Option<usize>, String)> = Vec::new();
    let mut kind = None;
    for (at, offer) in state.offers.iter().enumerate() {
        if kind != Some(offer.kind) {
            lines.push((None, title(offer.kind).to_owned()));
            kind = Some(offer.kind);
        }
        lines.push((Some(at), offer.name.clone()));
    }
    let pointed = lines
        .iter()
        .position(|(at, _)| *at == Some(state.offer))
        .unwrap_or(0);
    let first = (pointed + 1).saturating_sub(usize::from(list.height));
    for (y, (at, text)) in (list.top()..list.bottom()).zip(lines.iter().skip(first)) {
        let row = Rect {
            y,
            height: 1,
            ..list
        };
        match at.and_then(|at| Some((at, state.offers.get(at)?))) {
            Some((at, offer)) => offered(pen, row, at, offer, at == state.offer),
            None => {
                pen.put(row.left() + 2, y, row.width, text, Tone::Quiet);
            }
        }
    }
    let below = lines.len().saturating_sub(first + usize::from(list.height));
    if below > 0 {
        let more = format!(" {below} more below ");
        pen.right(area, list.top() - 1, &more, Tone::Quiet);
    }
    if refusal_rows > 0 {
        let place = Rect {
            x: area.left() + 3,
            y: list.bottom(),
            width: area.width.saturating_sub(4),
            height: refusal_rows,
        };
        pen.rule(place, place.top(), "it did not begin");
        let words = Rect {
            y: place.top() + 1,
            height: refusal_rows - 1,
            ..place
        };
        pen.wrapped(words, refusal, Tone::Bad);
    }
}

fn title(kind: SourceKind) -> &'static str {
    match kind {
        SourceKind::Port => "boards at a port",
        SourceKind::Simulated => "simulated boards: no hardware needed",
        SourceKind::Capture => "captures, to go through again",
    }
}

fn offered(pen: &mut Pen<'_>, area: Rect, at: usize, offer: &SourceOffer, chosen: bool) {
    let pointer = if chosen { pen.glyphs().pointer } else { " " };
    let number = if at < 9 {
        format!(" {} ", at + 1)
    } else {
        "   ".to_owned()
    };
    let name = if chosen { Tone::Strong } else { Tone::Plain };
    let pieces = [
        ("  ", Tone::Plain),
        (pointer, Tone::Now),
        (&number, Tone::Quiet),
        (&offer.name, name),
    ];
    let x = pen.pieces(area, area.top(), &pieces);
    let x = (x + 2).max(area.left() + 32);
    let (words, tone) = match &offer.blocked {
        Some(why) => (
            format!("cannot be used: {}", why.replace('\n', " ")),
            Tone::Bad,
        ),
        None => (offer.detail.clone(), Tone::Quiet),
    };
    pen.put(
        x,
        area.top(),
        area.right().saturating_sub(x + 1),
        &words,
        tone,
    );
}

/// The unit and its profile.
pub fn unit(state: &State, pen: &mut Pen<'_>, area: Rect) {
    heading(pen, area, "Which unit is it?");
    let (area, foot) = split(area, area.height.saturating_sub(SAFETY_ROWS));
    safety(pen, foot);
    let source = state
        .offers
        .get(state.unit.source)
        .map_or("", |offer| offer.name.as_str());
    let rows = [
        ("from", source, Tone::Plain),
        ("tag", &state.unit.tag, Tone::Strong),
    ];
    for (y, (label, text, tone)) in (area.top() + 2..).zip(rows) {
        pen.put(area.left() + 3, y, 6, label, Tone::Quiet);
        let x = pen.put(
            area.left() + 10,
            y,
            area.width.saturating_sub(11),
            text,
            tone,
        );
        if label == "tag" {
            pen.put(x, y, 1, "_", Tone::Now);
            if text.is_empty() {
                pen.put(
                    x + 2,
                    y,
                    area.width,
                    "what is written on its sticker; type it",
                    Tone::Quiet,
                );
            }
        }
    }
    let list = Rect {
        y: area.top() + 5,
        height: area.height.saturating_sub(5),
        ..area
    };
    pen.put(
        list.left() + 2,
        list.top(),
        list.width,
        "hold it against",
        Tone::Quiet,
    );
    let names = state.profiles.iter().map(|profile| {
        let steps: Vec<&str> = profile.card.iter().map(|step| step.word()).collect();
        (profile.name.as_str(), steps.join(", "))
    });
    let none = ("nothing", "figures only, no verdict".to_owned());
    let room = usize::from(list.height.saturating_sub(1));
    let first = (state.unit.profile + 1).saturating_sub(room);
    let entries = names.chain([none]).enumerate().skip(first);
    for (y, (at, (name, detail))) in (list.top() + 1..list.bottom()).zip(entries) {
        let chosen = at == state.unit.profile;
        let pointer = if chosen { pen.glyphs().pointer } else { " " };
        let tone = if chosen { Tone::Strong } else { Tone::Plain };
        let pieces = [
            ("  ", Tone::Plain),
            (pointer, Tone::Now),
            (" ", Tone::Plain),
            (name, tone),
        ];
        let x = pen.pieces(list, y, &pieces);
        let x = (x + 2).max(area.left() + 44);
        pen.put(
            x,
            y,
            list.right().saturating_sub(x + 1),
            &detail,
            Tone::Quiet,
        );
    }
}

pub(super) fn heading(pen: &mut Pen<'_>, area: Rect, words: &str) {
    let spine = pen.glyphs().spine;
    let pieces = [
        (" ", Tone::Plain),
        (spine, Tone::Now),
        (" ", Tone::Plain),
        (words, Tone::Strong),
    ];
    pen.pieces(area, area.top(), &pieces);
    pen.right(
        Rect {
            width: area.width.saturating_sub(1),
            ..area
        },
        area.top(),
        "pedalproof",
        Tone::Quiet,
    );
}
