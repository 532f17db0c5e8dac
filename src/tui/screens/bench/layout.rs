//! Where everything at the bench stands, by the size of the screen.

use super::pictures::overlaid;
use super::state::{Bench, Picture};
use super::{card, figures, rows};
use crate::tui::draw::{LEAST, columns_of, split};
use crate::tui::session::Session;
use ratatui::layout::{Position, Rect};

/// From this width on the figures stand beside the trace.
const TWO_COLUMNS: u16 = 150;

/// The least width of the list beside the trace.
const LIST: u16 = 80;

/// From this many rows on the trace and a picture along the travel stand one above the other; from the second on all three.
const TOGETHER: [u16; 2] = [20, 44];

/// The places at the bench. An empty one is not drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Layout {
    /// What to do and how it goes.
    pub card: Rect,
    pub trace: Rect,
    pub travel: Rect,
    pub deviation: Rect,
    /// What is laid over each other, when it was asked for.
    pub overlaid: Rect,
    pub list: Rect,
    /// The figure under the pointer and what was found.
    pub beside: Rect,
    pub stream: Rect,
}

/// The layout of an area whose first row is the header's.
pub fn of(bench: &Bench, session: &Session, area: Rect) -> Layout {
    let (_, below) = split(area, 1);
    let airy = area.height >= 40;
    let (_, below) = split(below, u16::from(airy));
    let most = if airy { 14 } else { 8 };
    let (card, below) = split(below, card::rows(&session.run, area.width, most));
    let (_, below) = split(below, u16::from(area.height >= 26));
    let health = session.run.health.as_ref();
    let advice = health.is_some_and(|h| h.advice.is_some());
    let stream_rows = 1 + u16::from(airy && advice);
    let (middle, stream) = split(below, below.height.saturating_sub(stream_rows));
    let wanted = u16::try_from(rows::rows(session).len())
        .unwrap_or(u16::MAX)
        .saturating_add(1);
    if area.width < TWO_COLUMNS {
        let list_rows = wanted.clamp(4, (middle.height / 2).max(4));
        let (left, list) = split(middle, middle.height.saturating_sub(list_rows));
        return Layout {
            card,
            list,
            stream,
            ..pictures(bench, session, left)
        };
    }
    let right = LIST.max(middle.width * 9 / 20);
    let left = columns_of(middle, middle.x, middle.width - right - 1);
    let column = columns_of(middle, middle.x + middle.width - right, right);
    let (list, below) = split(column, wanted.clamp(4, (column.height / 2).max(4)));
    Layout {
        card,
        list,
        beside: split(below, 1).1,
        stream,
        ..pictures(bench, session, left)
    }
}

/// The pictures that have a place: all that there is something for where there is room, else the one that was asked for.
fn pictures(bench: &Bench, session: &Session, area: Rect) -> Layout {
    let (strokes, curve) = (session.run.has_strokes(), session.run.has_curve());
    let mut layout = Layout::default();
    let asked = overlaid::shows(bench.picture, &session.run);
    if asked && area.height >= TOGETHER[0] {
        (layout.trace, layout.overlaid) = split(area, area.height / 2);
    } else if asked {
        layout.overlaid = area;
    } else if area.height >= TOGETHER[1] && strokes && curve {
        let (trace, below) = split(area, area.height * 2 / 5);
        let (travel, deviation) = split(below, below.height / 2);
        (layout.trace, layout.travel, layout.deviation) = (trace, travel, deviation);
    } else if area.height >= TOGETHER[0] && (strokes || curve) {
        let (trace, below) = split(area, area.height * 3 / 5);
        layout.trace = trace;
        if curve && (bench.picture == Picture::Deviation || !strokes) {
            layout.deviation = below;
        } else {
            layout.travel = below;
        }
    } else {
        match bench.picture {
            Picture::Travel if strokes => layout.travel = area,
            Picture::Deviation if curve => layout.deviation = area,
            _ => layout.trace = area,
        }
    }
    layout
}

/// What the mouse can do something with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hit {
    Trace,
    /// A figure's row, by its place among all rows.
    Figure(usize),
}

/// What stands at a column and row of a screen of this size.
pub fn hit(
    bench: &Bench,
    session: &Session,
    (width, height): (u16, u16),
    (x, y): (u16, u16),
) -> Option<Hit> {
    if width < LEAST.0 || height < LEAST.1 {
        return None;
    }
    let layout = of(bench, session, Rect::new(0, 0, width, height - 1));
    let at = Position { x, y };
    if layout.trace.contains(at) {
        return Some(Hit::Trace);
    }
    let row = figures::row_at(bench, session, layout.list, y)?;
    layout.list.contains(at).then_some(Hit::Figure(row))
}
