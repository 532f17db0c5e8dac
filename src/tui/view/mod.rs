//! Drawing: the state into a frame. Nothing here changes the state.
//!
//! Belongs here: the layout of each place. Does not belong here: reacting to keys, figures, files.

mod blend;
mod card;
mod choose;
mod deviation;
mod figures;
mod found;
mod health;
mod help;
mod kept;
mod layout;
mod pen;
mod plot;
mod proving;
mod scale;
mod trace;
mod travel;
mod under;

use super::keys;
use super::rows;
use super::state::{Over, Phase, Screen, State};
use super::theme::Tone;
use super::words;
use pen::Pen;
use ratatui::Frame;
use ratatui::layout::{Position, Rect};

/// The smallest screen that everything fits on.
const LEAST: (u16, u16) = (64, 18);

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
            (_, Screen::Sources) => choose::sources(state, &mut pen, body),
            (_, Screen::Unit) => choose::unit(state, &mut pen, body),
            (_, Screen::Bench) => bench(state, &mut pen, body),
            (_, Screen::ProofAsk) => proving::ask(state, &mut pen, body),
            (_, Screen::Proving) => proving::draw(state, &mut pen, body),
            (_, Screen::Units | Screen::Page | Screen::Blocks | Screen::Blend) => {
                let (list, row) = split(body, body.height - u16::from(state.is_live()));
                match state.place {
                    Screen::Units => kept::units(state, &mut pen, list),
                    Screen::Blocks => blend::list(state, &mut pen, list),
                    Screen::Blend => blend::page(state, &mut pen, list),
                    _ => kept::page(state, &mut pen, list),
                }
                meanwhile(state, &mut pen, row);
            }
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
    if state.has_run() {
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

/// What stands at a place of the screen, as far as the mouse can do something with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hit {
    /// The trace.
    Trace,
    /// A figure's row, by its place among all rows.
    Figure(usize),
}

/// What stands at a column and row of the bench on a screen of this size.
#[must_use]
pub fn hit(state: &State, (width, height): (u16, u16), (x, y): (u16, u16)) -> Option<Hit> {
    if width < LEAST.0 || height < LEAST.1 {
        return None;
    }
    let body = Rect::new(0, 0, width, height - 1);
    let layout = layout::of(state, body);
    let at = Position { x, y };
    if layout.trace.contains(at) {
        return Some(Hit::Trace);
    }
    let row = figures::row_at(state, layout.list, y)?;
    layout.list.contains(at).then_some(Hit::Figure(row))
}

/// The bench: header, card, pictures and figures, stream.
fn bench(state: &State, pen: &mut Pen<'_>, area: Rect) {
    header(state, pen, area);
    let layout = layout::of(state, area);
    card::draw(state, pen, layout.card);
    trace::draw(state, pen, layout.trace);
    travel::draw(state, pen, layout.travel);
    deviation::draw(state, pen, layout.deviation);
    figures::draw(state, pen, layout.list);
    beside(state, pen, layout.beside);
    health::draw(state, pen, layout.stream);
}

/// Beside the trace: the figure under the pointer explained, what was found along the way.
fn beside(state: &State, pen: &mut Pen<'_>, area: Rect) {
    if area.is_empty() {
        return;
    }
    let y = match rows::rows(state).get(state.figure) {
        Some(row) if area.height > 4 => help::figure(state, pen, area, row),
        _ => area.top(),
    };
    let (_, below) = split(area, y.saturating_sub(area.top()));
    found::draw(state, pen, below);
}

/// Away from the bench: how the run goes, in one row.
fn meanwhile(state: &State, pen: &mut Pen<'_>, area: Rect) {
    if !state.is_live() {
        return;
    }
    let samples = words::count(state.run.store.len() as u64);
    let now = state.run.current().map_or("", |step| step.instruction);
    let recorded = format!(" recording, {samples} samples  ");
    let pieces = [(recorded.as_str(), Tone::Good), (now, Tone::Strong)];
    pen.pieces(area, area.top(), &pieces);
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
            "A real board's capture is kept either way.".to_owned(),
        ],
        Some(Over::Station(text)) => vec![
            "Where does the control stand?".to_owned(),
            format!("{text}_"),
        ],
        Some(Over::Earlier(at)) => return kept::earlier(state, pen, area, *at),
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
        if !means_something(state, binding.action) {
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

/// Whether a key of this situation has anything to act on.
fn means_something(state: &State, action: keys::Action) -> bool {
    match action {
        keys::Action::Another => state.can_choose,
        keys::Action::Picture => state.has_strokes() || state.has_curve(),
        keys::Action::Prove => state.can_choose && !state.is_live(),
        keys::Action::Skip if state.place == Screen::Proving => {
            let proving = state.proving.as_ref();
            proving.is_some_and(|p| p.choice.round == crate::tui::ProofRound::Faults)
        }
        keys::Action::Constants => state.profile.is_some(),
        keys::Action::Wiring => state.place == Screen::Unit || state.profile.is_some(),
        _ => true,
    }
}
