//! Where everything at the bench stands, by the size of the screen.
//!
//! Belongs here: rectangles. Does not belong here: what is drawn in them.

use super::{card, split};
use crate::tui::rows;
use crate::tui::state::{Picture, State};
use ratatui::layout::Rect;

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
    /// Codes over time.
    pub trace: Rect,
    /// Noise along the travel.
    pub travel: Rect,
    /// Deviation along the travel.
    pub deviation: Rect,
    /// The list of figures.
    pub list: Rect,
    /// The figure under the pointer and what was found.
    pub beside: Rect,
    /// The stream.
    pub stream: Rect,
}

/// The layout of an area whose first row is the header's.
pub fn of(state: &State, area: Rect) -> Layout {
    let (_, below) = split(area, 1);
    let airy = area.height >= 40;
    let (_, below) = split(below, u16::from(airy));
    let most = if airy { 14 } else { 8 };
    let (card, below) = split(below, card::rows(state, area.width, most));
    let (_, below) = split(below, u16::from(area.height >= 26));
    let health = state.run.health.as_ref();
    let advice = health.is_some_and(|h| h.advice.is_some());
    let stream_rows = 1 + u16::from(airy && advice);
    let (middle, stream) = split(below, below.height.saturating_sub(stream_rows));
    let wanted = u16::try_from(rows::rows(state).len())
        .unwrap_or(u16::MAX)
        .saturating_add(1);
    if area.width < TWO_COLUMNS {
        let list_rows = wanted.clamp(4, (middle.height / 2).max(4));
        let (left, list) = split(middle, middle.height.saturating_sub(list_rows));
        return Layout {
            card,
            list,
            stream,
            ..pictures(state, left)
        };
    }
    let right = LIST.max(middle.width * 9 / 20);
    let left = Rect {
        width: middle.width - right - 1,
        ..middle
    };
    let column = Rect {
        x: middle.x + middle.width - right,
        width: right,
        ..middle
    };
    let (list, below) = split(column, wanted.clamp(4, (column.height / 2).max(4)));
    Layout {
        card,
        list,
        beside: split(below, 1).1,
        stream,
        ..pictures(state, left)
    }
}

/// The pictures that have a place: all that there is something for where there is room, else the one that was asked for.
fn pictures(state: &State, area: Rect) -> Layout {
    let (strokes, curve) = (state.has_strokes(), state.has_curve());
    let mut layout = Layout::default();
    if area.height >= TOGETHER[1] && strokes && curve {
        let (trace, below) = split(area, area.height * 2 / 5);
        let (travel, deviation) = split(below, below.height / 2);
        (layout.trace, layout.travel, layout.deviation) = (trace, travel, deviation);
    } else if area.height >= TOGETHER[0] && (strokes || curve) {
        let (trace, below) = split(area, area.height * 3 / 5);
        layout.trace = trace;
        if curve && (state.picture == Picture::Deviation || !strokes) {
            layout.deviation = below;
        } else {
            layout.travel = below;
        }
    } else {
        match state.picture {
            Picture::Travel if strokes => layout.travel = area,
            Picture::Deviation if curve => layout.deviation = area,
            _ => layout.trace = area,
        }
    }
    layout
}
