//! The bench drawn: header, card, pictures and figures, stream.

use super::pictures::{deviation, overlaid, trace, travel};
use super::state::Bench;
use super::{big, card, explain, figures, found, layout, rows, stream};
use crate::tui::draw::{Pen, from_column, split};
use crate::tui::run::Run;
use crate::tui::session::Session;
use crate::tui::theme::Tone;
use measure::figure::numbers::four_digits;
use ratatui::layout::Rect;

impl Bench {
    pub fn view(&self, session: &Session, pen: &mut Pen<'_>, area: Rect) {
        header(&session.run, pen, area);
        if big::is_big(session) {
            return big::draw(session, pen, split(area, 1).1);
        }
        let layout = layout::of(self, session, area);
        card::draw(session, pen, layout.card);
        trace::draw(self, session, pen, layout.trace);
        travel::draw(&session.run, pen, layout.travel);
        deviation::draw(&session.run, pen, layout.deviation);
        overlaid::draw(self.picture, &session.run, pen, layout.overlaid);
        figures::draw(self, session, pen, layout.list);
        self.beside(session, pen, layout.beside);
        stream::draw(&session.run, pen, layout.stream);
    }

    /// Beside the trace: the figure under the pointer explained, what was found along the way.
    fn beside(&self, session: &Session, pen: &mut Pen<'_>, area: Rect) {
        if area.is_empty() {
            return;
        }
        let y = match rows::rows(session).get(self.figure) {
            Some(row) if area.height > 4 => explain::figure(self, pen, area, row),
            _ => area.top(),
        };
        let (_, below) = split(area, y.saturating_sub(area.top()));
        found::draw(&session.run, pen, below);
    }

    /// The figure under the pointer explained; gives the row after it.
    pub fn explain(&self, session: &Session, pen: &mut Pen<'_>, area: Rect) -> u16 {
        let rows = rows::rows(session);
        let Some(row) = rows.get(self.figure) else {
            let words = "No result yet to explain.";
            pen.put(area.left() + 1, area.top(), area.width, words, Tone::Quiet);
            return area.top() + 2;
        };
        explain::figure(self, pen, area, row).min(area.bottom() + 1)
    }
}

/// Which unit against what, and where the samples come from.
fn header(run: &Run, pen: &mut Pen<'_>, area: Rect) {
    let profile = run.profile.as_ref();
    let pieces = [
        (" ", Tone::Plain),
        (run.tag().unwrap_or("part without a tag"), Tone::Strong),
        ("   ", Tone::Plain),
        (
            profile.map_or("no profile: results only", |p| p.name.as_str()),
            Tone::Plain,
        ),
    ];
    let x = pen.pieces(area, area.top(), &pieces) + 2;
    let source = run.taking.as_ref().map_or_else(
        || run.source.clone(),
        |t| {
            let volts = four_digits(t.vref_mv);
            format!("{} bit, {volts} mV, {}", t.bits, t.source)
        },
    );
    let mut room = from_column(area, x);
    room.width = room.width.saturating_sub(1);
    pen.right(room, area.top(), &source, Tone::Quiet);
}
