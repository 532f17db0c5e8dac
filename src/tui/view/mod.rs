//! Drawing: the state into a frame. Nothing here changes the state.
//!
//! Belongs here: the layout of each place. Does not belong here: reacting to keys, figures, files.

mod card;
mod choose;
mod figures;
mod found;
mod health;
mod help;
mod pen;
mod plot;
mod trace;

use super::keys;
use super::rows;
use super::state::{Over, Phase, Place, State};
use super::theme::Tone;
use super::words;
use pen::Pen;
use ratatui::Frame;
use ratatui::layout::Rect;

/// The smallest screen that everything fits on.
const LEAST: (u16, u16) = (64, 18);

/// From this width on the figures stand beside the trace.
const TWO_COLUMNS: u16 = 150;

/// The least width of the list beside the trace.
const LIST: u16 = 80;

/// Draws the screen.
pub fn view(state: &State, frame: &mut Frame<'_>) {
    let area = frame.area();
    if area.is_empty() {
        return;
    }
    let mut pen = Pen::new(frame.buffer_mut(), state.theme);
    if area.width < LEAST.0 || area.height < LEAST.1 {
        too_small(state, &mut pen, area);
    } else {
        let (body, foot) = split(area, area.height - 1);
        match (&state.over, state.place) {
            (Some(Over::Help), _) => help::draw(state, &mut pen, body),
            (_, Place::Sources) => choose::sources(state, &mut pen, body),
            (_, Place::Unit) => choose::unit(state, &mut pen, body),
            (_, Place::Bench) => bench(state, &mut pen, body),
        }
        ask(state, &mut pen, body);
        key_line(state, &mut pen, foot);
    }
    pen.make_plain();
}

/// The first `rows` rows of an area, and the rest.
fn split(area: Rect, rows: u16) -> (Rect, Rect) {
    let rows = rows.min(area.height);
    let top = Rect {
        height: rows,
        ..area
    };
    let rest = Rect {
        y: area.y + rows,
        height: area.height - rows,
        ..area
    };
    (top, rest)
}

/// Says that it is too small, and that the run goes on.
fn too_small(state: &State, pen: &mut Pen<'_>, area: Rect) {
    let size = format!(
        "Too small: {} x {}. Make it {} x {}.",
        area.width, area.height, LEAST.0, LEAST.1
    );
    let mut lines = vec![size];
    if state.place == Place::Bench {
        let samples = words::count(state.run.store.len() as u64);
        lines.push(match &state.run.phase {
            Phase::Live => format!("The run goes on: {samples} samples."),
            Phase::Finished => format!("The run is over: {samples} samples."),
            Phase::Failed(_) => format!("The run cannot go on; {samples} samples were taken."),
        });
        if let (Phase::Live, Some(step)) = (&state.run.phase, state.run.current()) {
            lines.push(step.instruction.to_owned());
        }
    }
    let mut rest = area;
    for line in lines {
        let taken = pen.wrapped(rest, &line, Tone::Plain);
        rest = split(rest, taken).1;
    }
}

/// The bench: header, card, trace and figures, stream.
fn bench(state: &State, pen: &mut Pen<'_>, area: Rect) {
    header(state, pen, area);
    let (_, below) = split(area, 1);
    let airy = area.height >= 40;
    let (_, below) = split(below, u16::from(airy));
    let most = if airy { 14 } else { 8 };
    let (card, below) = split(below, card::rows(state, area.width, most));
    card::draw(state, pen, card);
    let (_, below) = split(below, u16::from(area.height >= 26));
    let advice = state
        .run
        .health
        .as_ref()
        .is_some_and(|h| h.advice.is_some());
    let stream_rows = 1 + u16::from(airy && advice);
    let (middle, stream) = split(below, below.height.saturating_sub(stream_rows));
    if area.width >= TWO_COLUMNS {
        let right = LIST.max(middle.width * 9 / 20);
        let trace = Rect {
            width: middle.width - right - 1,
            ..middle
        };
        let list = Rect {
            x: middle.x + middle.width - right,
            width: right,
            ..middle
        };
        trace::draw(state, pen, trace);
        beside(state, pen, list);
    } else {
        let wanted = u16::try_from(rows::rows(state).len()).unwrap_or(u16::MAX);
        let list_rows = wanted
            .saturating_add(1)
            .clamp(4, (middle.height / 2).max(4));
        let (trace, list) = split(middle, middle.height.saturating_sub(list_rows));
        trace::draw(state, pen, trace);
        figures::draw(state, pen, list);
    }
    health::draw(state, pen, stream);
}

/// Beside the trace: the list, the figure under the pointer explained, what was found along the way.
fn beside(state: &State, pen: &mut Pen<'_>, area: Rect) {
    let rows = rows::rows(state);
    let wanted = u16::try_from(rows.len())
        .unwrap_or(u16::MAX)
        .saturating_add(1);
    let list_rows = wanted.clamp(4, (area.height / 2).max(4));
    let (list, below) = split(area, list_rows);
    figures::draw(state, pen, list);
    let (_, below) = split(below, 1);
    let y = match rows.get(state.figure) {
        Some(row) if below.height > 4 => help::figure(pen, below, row),
        _ => below.top(),
    };
    let (_, below) = split(below, y.saturating_sub(below.top()));
    found::draw(state, pen, below);
}

/// Which unit against what, and where the samples come from.
fn header(state: &State, pen: &mut Pen<'_>, area: Rect) {
    let run = &state.run;
    let taking = run.taking.as_ref();
    let tag = taking.and_then(|t| t.tag.as_deref()).or(run.tag.as_deref());
    let tag = tag.unwrap_or("unit without a tag");
    let profile = state
        .profile
        .as_ref()
        .map_or("no profile: figures only", |p| p.name.as_str());
    let pieces = [
        (" ", Tone::Plain),
        (tag, Tone::Strong),
        ("   ", Tone::Plain),
        (profile, Tone::Plain),
    ];
    let x = pen.pieces(area, area.top(), &pieces) + 2;
    let source = taking.map_or_else(
        || run.source.clone(),
        |t| {
            let volts = words::bare(t.vref_mv);
            format!("{} bit, {volts} mV, {}", t.bits, t.source)
        },
    );
    let room = Rect {
        x,
        width: area.right().saturating_sub(x + 1),
        ..area
    };
    pen.right(room, area.top(), &source, Tone::Quiet);
}

/// What is asked over the screen: end the run, position of a station.
fn ask(state: &State, pen: &mut Pen<'_>, area: Rect) {
    let lines = match &state.over {
        Some(Over::Ask) => vec![
            "End the run here?".to_owned(),
            "What was taken is kept either way.".to_owned(),
        ],
        Some(Over::Station(text)) => vec![
            "Where does the control stand?".to_owned(),
            format!("{text}_"),
        ],
        Some(Over::Help) | None => return,
    };
    let rows = u16::try_from(lines.len()).unwrap_or(2) + 2;
    let columns = 46;
    let place = Rect {
        x: area.x + area.width.saturating_sub(columns) / 2,
        y: area.y + area.height.saturating_sub(rows) / 2,
        width: columns.min(area.width),
        height: rows.min(area.height),
    };
    pen.clear(place);
    pen.rule(place, place.top(), "");
    pen.rule(place, place.bottom().saturating_sub(1), "");
    for (y, line) in (place.top() + 1..).zip(&lines) {
        pen.middle(place, y, line, Tone::Strong);
    }
}

/// The keys that mean something now, as many as fit; those of help and leaving always do.
fn key_line(state: &State, pen: &mut Pen<'_>, area: Rect) {
    let mut x = area.left() + 1;
    for binding in keys::within(state.situation()).filter(|b| !b.short.is_empty()) {
        if binding.action == keys::Action::Another && !state.can_choose {
            continue;
        }
        let key = format!(" {} ", binding.shown);
        let room = area.right().saturating_sub(x);
        if pen::width(&key) + pen::width(binding.short) + 1 > room {
            break;
        }
        x = pen.put(x, area.top(), room, &key, Tone::Chosen);
        let words = format!(" {}  ", binding.short);
        x = pen.put(
            x,
            area.top(),
            area.right().saturating_sub(x),
            &words,
            Tone::Quiet,
        );
    }
}
