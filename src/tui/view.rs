//! The state drawn into a frame: the screen in front, and the keys that mean something on it.

use super::draw::{LEAST, Pen, split, width};
use super::format;
use super::host::ProofRound;
use super::keys::{self, Action, Binding};
use super::run::Phase;
use super::screens::{Screen, help};
use super::state::State;
use super::theme::Tone;
use ratatui::Frame;
use ratatui::layout::Rect;

pub fn view(state: &State, frame: &mut Frame<'_>) {
    let area = frame.area();
    if area.is_empty() {
        return;
    }
    let mut pen = Pen::new(frame.buffer_mut(), state.session.theme);
    if area.width < LEAST.0 || area.height < LEAST.1 {
        too_small(state, &mut pen, area);
    } else {
        let (body, foot) = split(area, area.height - 1);
        screens(state, &mut pen, body);
        key_line(state, &mut pen, foot);
    }
    pen.make_plain();
}

/// The screen in front; below a dialog the screen that it is about.
fn screens(state: &State, pen: &mut Pen<'_>, area: Rect) {
    let session = &state.session;
    let (Some(front), Some(page)) = (state.front(), state.page()) else {
        return;
    };
    if matches!(front, Screen::Help) {
        return help::view(
            page.situation(&session.run),
            pen,
            area,
            |pen, above| match page {
                Screen::Bench(bench) => bench.explain(session, pen, above),
                _ => above.top(),
            },
        );
    }
    let beside = matches!(
        page,
        Screen::Units(_) | Screen::Page(_) | Screen::Blocks(_) | Screen::Blend(_)
    );
    if beside && state.is_live() {
        let (page_area, row) = split(area, area.height - 1);
        page.view(session, pen, page_area);
        recording(state, pen, row);
    } else {
        page.view(session, pen, area);
    }
    if front.is_dialog() {
        front.view(session, pen, area);
    }
}

/// Says that it is too small, and that the run goes on.
fn too_small(state: &State, pen: &mut Pen<'_>, area: Rect) {
    let size = format!(
        "Window too small ({} x {}): needs {} x {}.",
        area.width, area.height, LEAST.0, LEAST.1
    );
    let mut lines = vec![size];
    if state.has_run() {
        let run = &state.session.run;
        let samples = format::count(run.store.len() as u64);
        lines.push(match &run.phase {
            Phase::Live => format!("The run goes on: {samples} samples."),
            Phase::Finished => format!("The run is over: {samples} samples."),
            Phase::Failed(_) => format!("The run cannot go on; {samples} samples were taken."),
        });
        if let (Phase::Live, Some(step)) = (&run.phase, run.current()) {
            lines.push(step.instruction.clone().into_owned());
        }
    }
    let mut rest = area;
    for line in lines {
        let rows = pen.wrapped(rest, &line, Tone::Plain);
        rest = split(rest, rows).1;
    }
}

/// Away from the bench: how the run goes, in one row.
fn recording(state: &State, pen: &mut Pen<'_>, row: Rect) {
    let run = &state.session.run;
    let samples = format::count(run.store.len() as u64);
    let now = run.current().map_or("", |step| &step.instruction);
    let recorded = format!(" recording, {samples} samples  ");
    let pieces = [(recorded.as_str(), Tone::Good), (now, Tone::Strong)];
    pen.pieces(row, row.top(), &pieces);
}

/// The keys that mean something now, as many as fit; those of help and leaving always do.
fn key_line(state: &State, pen: &mut Pen<'_>, area: Rect) {
    let all: Vec<&Binding> = keys::within(state.situation())
        .filter(|b| !b.short.is_empty() && means_something(state, b.action))
        .collect();
    let mut x = area.left() + 1;
    for binding in fitting(&all, area.width.saturating_sub(1)) {
        let room = area.right().saturating_sub(x);
        let key = format!(" {} ", binding.shown);
        x = pen.put(x, area.top(), room, &key, Tone::Chosen);
        let words = format!(" {}  ", binding.short);
        let room = area.right().saturating_sub(x);
        x = pen.put(x, area.top(), room, &words, Tone::Quiet);
    }
}

/// The bindings that have room, in their order: the first one, help and the way out, then as many others as fit.
fn fitting<'a>(all: &[&'a Binding], room: u16) -> Vec<&'a Binding> {
    let columns = |binding: &Binding| width(binding.shown) + width(binding.short) + 5;
    let needed = |at: usize| {
        let action = all[at].action;
        let out = matches!(action, Action::End | Action::Leave | Action::Back);
        at == 0 || out || action == Action::Help
    };
    // The blanks behind the last one may be cut.
    let mut left = room + 2;
    let mut taken = vec![false; all.len()];
    let (first, then): (Vec<usize>, Vec<usize>) = (0..all.len()).partition(|at| needed(*at));
    for at in first.into_iter().chain(then) {
        if let Some(rest) = left.checked_sub(columns(all[at])) {
            (left, taken[at]) = (rest, true);
        } else if !needed(at) {
            break;
        }
    }
    let both = all.iter().zip(taken);
    both.filter_map(|(binding, taken)| taken.then_some(*binding))
        .collect()
}

/// Whether a key of this situation has anything to act on.
fn means_something(state: &State, action: Action) -> bool {
    let run = &state.session.run;
    match (action, state.front()) {
        (Action::Accept, Some(Screen::Bench(_) | Screen::Prove(_) | Screen::Page(_)))
        | (Action::Boards, _) => state.session.machine,
        (Action::Another, _) => state.can_choose(),
        (Action::Picture, _) => run.has_strokes() || run.has_curve(),
        (Action::Prove, _) => state.can_choose() && !state.is_live(),
        (Action::Skip, Some(Screen::Prove(prove))) => prove.choice.round == ProofRound::Faults,
        (Action::Constants, _) | (Action::Wiring, Some(Screen::Bench(_))) => run.profile.is_some(),
        _ => true,
    }
}
