//! The question before a flashed board is held against its block.
//!
//! Belongs here: its layout. Does not belong here: what the rounds are (`tui::proving`), the run (`super`).

use super::{inset, round_words};
use crate::report::SAFETY;
use crate::tui::blocks::ProofRound;
use crate::tui::proving::{ProofAsk, YES, sources};
use crate::tui::state::State;
use crate::tui::theme::Tone;
use crate::tui::view::choose::heading;
use crate::tui::view::pen::Pen;
use crate::tui::view::split;
use ratatui::layout::Rect;

/// The question before a proof.
pub fn ask(state: &State, pen: &mut Pen<'_>, area: Rect) {
    let Some(ask) = &state.ask else {
        return;
    };
    heading(pen, area, "Hold a flashed board against its block");
    let (body, foot) = split(area, area.height.saturating_sub(3));
    let mut rest = inset(split(body, 2).1);
    let mut row = |pen: &mut Pen<'_>, words: &str, tone: Tone| {
        let taken = pen.wrapped(rest, words, tone);
        rest = split(rest, taken).1;
    };
    row(pen, SAFETY, Tone::Open);
    row(
        pen,
        "Isolate the traction battery while wiring.",
        Tone::Open,
    );
    let block = format!("block   {}", ask.offer.name);
    row(pen, &block, Tone::Plain);
    for round in [ProofRound::Compare, ProofRound::Faults] {
        let (mark, tone) = chosen(pen, ask.round == round, Tone::Quiet);
        let (is, does) = round_words(round);
        row(pen, &format!("{mark} {is}: {does}"), tone);
    }
    row(pen, "measured at", Tone::Quiet);
    measured_at(state, ask, pen, rest);
    let foot = inset(foot);
    let question = format!(
        "Are the drive wheels off the ground or the motor leads off? Type {YES}: {}_",
        ask.typed
    );
    let taken = pen.wrapped(foot, &question, Tone::Now);
    if let Some(why) = &ask.refused {
        pen.wrapped(split(foot, taken).1, why, Tone::Bad);
    }
}

/// The sources, as many as fit around the one under the pointer.
fn measured_at(state: &State, ask: &ProofAsk, pen: &mut Pen<'_>, area: Rect) {
    let sources = sources(state, &ask.offer);
    if sources.is_empty() {
        let words = "no board found: plug one in and press f5";
        pen.put(area.x, area.y, area.width, words, Tone::Open);
    }
    let first = (ask.source + 1).saturating_sub(usize::from(area.height));
    let rows = (area.top()..area.bottom()).zip(sources.iter().enumerate().skip(first));
    for (y, (at, source)) in rows {
        let (mark, tone) = chosen(pen, at == ask.source, Tone::Plain);
        let detail = match source.blocked {
            Some(_) => "cannot be used as it is",
            None => source.detail.as_str(),
        };
        let words = format!("{mark} {}: {detail}", source.name);
        pen.put(area.x, y, area.width, &words, tone);
    }
}

/// The mark and tone of a choice.
fn chosen(pen: &Pen<'_>, is: bool, otherwise: Tone) -> (&'static str, Tone) {
    if is {
        (pen.glyphs().pointer, Tone::Strong)
    } else {
        ("-", otherwise)
    }
}
