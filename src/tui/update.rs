//! Messages in, state and effects out. No clock, no terminal, no thread.
//!
//! Belongs here: what each message and each action changes. Does not belong here: carrying out effects (`shell`).

use super::blocks::{self, BlockOffer, ProofChoice, ProofTaken};
use super::keys::{self, Action};
use super::offers::{Choice, EarlierOffer, EarlierRun, SourceOffer, Subject, UnitSummary};
use super::places;
use super::proving::{self, ProofTold};
use super::rows;
use super::state::{Height, Over, Picture, Run, Screen, State, UnitForm};
use super::told::told;
use super::view;
use super::window::Window;
use crate::bench::{RunCommand, RunEvent};
use crossterm::event::{KeyCode, KeyEvent};
use measure::units::Step;
use std::time::Duration;

/// Rows that a page key moves a page by: what the smallest screen shows of one.
const PAGE_ROWS: u16 = 14;

/// Codes that a page key moves an input of the blend page by.
const CODE_STRIDE: i32 = 16;

/// The longest tag that can be typed.
const TAG_LENGTH: usize = 40;

/// Everything that can happen to the screen.
#[derive(Debug, Clone)]
pub enum Message {
    /// A key was pressed.
    Key(KeyEvent),
    /// The terminal has another size; the next frame is drawn to it.
    Resized,
    /// Time since the screen was opened.
    Tick(Duration),
    /// The run tells something.
    Run(RunEvent),
    /// The run has gone without a word.
    RunGone,
    /// What samples can come from.
    Sources(Vec<SourceOffer>),
    /// Whether the chosen run began.
    Started(Result<(), String>),
    /// The mouse, when the person asked for it.
    Mouse(Pointed),
    /// The units kept.
    Units(Result<Vec<UnitSummary>, String>),
    /// A page to read.
    Page(Box<Subject>, Result<String, String>),
    /// Earlier runs of the unit.
    Earlier(Result<Vec<EarlierOffer>, String>),
    /// The earlier run that was chosen.
    Fetched(Box<Result<EarlierRun, String>>),
    /// What became of saving.
    Saved(Result<String, String>),
    /// The blocks.
    Blocks(Result<Vec<BlockOffer>, String>),
    /// Whether the proof began.
    Proving(Result<(), String>),
    /// What a proof came to.
    Proved(Box<ProofTaken>, Result<ProofTold, String>),
    /// What became of saving the proof.
    ProofSaved(Result<String, String>),
    /// The system asks the program to end.
    Terminate,
}

/// What the mouse did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pointed {
    /// Column and row, from 0.
    pub at: (u16, u16),
    /// Columns and rows of the screen.
    pub size: (u16, u16),
    /// The wheel: towards (`true`, closer) or away; absent for a click.
    pub wheel: Option<bool>,
}

/// What is to be done outside.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// Look for sources; comes back as [`Message::Sources`].
    Rescan,
    /// Begin a run; comes back as [`Message::Started`].
    Start(Box<Choice>),
    /// Tell the run.
    Command(RunCommand),
    /// List the units kept; comes back as [`Message::Units`].
    Units,
    /// Make a page to read; comes back as [`Message::Page`].
    Page(Box<Subject>),
    /// List earlier runs of the unit with this tag; comes back as [`Message::Earlier`].
    Earlier(String),
    /// Read an earlier run; comes back as [`Message::Fetched`].
    Fetch(Box<EarlierOffer>),
    /// List the blocks; comes back as [`Message::Blocks`].
    Blocks,
    /// Begin a proof; comes back as [`Message::Proving`].
    Prove(Box<ProofChoice>),
    /// Judge a proof; comes back as [`Message::Proved`].
    Judge(Box<ProofTaken>),
    /// Keep a proof; comes back as [`Message::ProofSaved`].
    SaveProof(Box<ProofTaken>),
    /// Keep what was found; comes back as [`Message::Saved`].
    Save,
    /// Give the terminal back and stop as job control does.
    Suspend,
    /// Give the terminal back and return.
    Leave,
}

/// Takes a message in. Gives what is to be done outside, in order.
pub fn update(state: &mut State, message: Message) -> Vec<Effect> {
    match message {
        Message::Key(key) => {
            let Some(action) = keys::action(state.situation(), &key) else {
                return Vec::new();
            };
            return act(state, action, key.code);
        }
        Message::Resized | Message::Started(Ok(())) | Message::Proving(Ok(())) => {}
        Message::Tick(since_opened) => state.clock = since_opened,
        Message::Run(event) => return run_told(state, event),
        Message::RunGone => {
            if state.is_live() {
                let words = "The run stopped without saying why.\n  What was taken is in the capture. Leave with q and start again.";
                return run_told(state, RunEvent::Failed(words.to_owned()));
            }
        }
        Message::Sources(offers) => {
            state.offers = offers;
            state.offer = state.offer.min(state.offers.len().saturating_sub(1));
        }
        Message::Started(Err(why)) => {
            state.refused = Some(why);
            state.place = Screen::Sources;
            state.came_from.clear();
            state.over = None;
            return vec![Effect::Rescan];
        }
        Message::Saved(outcome) => state.run.saved = Some(outcome),
        Message::Mouse(pointed) => point(state, pointed),
        Message::Units(answer) => places::units_came(state, answer),
        Message::Page(subject, answer) => places::page_came(state, &subject, answer),
        Message::Earlier(answer) => places::earlier_came(state, answer),
        Message::Fetched(answer) => places::fetched(state, *answer),
        Message::Blocks(answer) => blocks::came(state, answer),
        Message::Proving(Err(why)) => {
            proving::refused(state, why);
            return vec![Effect::Rescan];
        }
        Message::Proved(taken, answer) => proving::told(state, &taken, answer),
        Message::ProofSaved(outcome) => {
            if let Some(proving) = &mut state.proving {
                proving.saved = Some(outcome);
            }
        }
        Message::Terminate => return leave(state),
    }
    Vec::new()
}

fn act(state: &mut State, action: Action, key: KeyCode) -> Vec<Effect> {
    match action {
        Action::Help => {
            state.over = match state.over {
                Some(Over::Help) => None,
                _ => Some(Over::Help),
            }
        }
        Action::Accept => return accept(state),
        Action::Digit => return choose_by_number(state, key),
        Action::Type => typed(state, key),
        Action::Erase => erase(state),
        Action::Back => back(state),
        Action::Rescan => return vec![Effect::Rescan],
        Action::Up => move_pointer(state, false),
        Action::Down => move_pointer(state, true),
        Action::Picture => state.picture = next_picture(state),
        Action::Compare => return places::compare(state),
        Action::Align => places::align(state),
        Action::Units => return places::to_units(state),
        Action::Wiring => return places::to_wiring(state),
        Action::Blocks => return blocks::to_blocks(state),
        Action::Feed => blocks::feed_next(state),
        Action::Prove => return proving::to_ask(state),
        Action::Round => proving::other_round(state),
        Action::Constants => return places::to_constants(state),
        Action::Earlier | Action::Later | Action::PageEarlier | Action::PageLater
            if state.place == Screen::Blend =>
        {
            let by = match action {
                Action::Earlier => -1,
                Action::Later => 1,
                Action::PageEarlier => -CODE_STRIDE,
                _ => CODE_STRIDE,
            };
            blocks::move_code(state, by);
        }
        Action::PageEarlier if state.place == Screen::Proving => {
            proving::turn(state, -i64::from(PAGE_ROWS));
        }
        Action::PageLater if state.place == Screen::Proving => {
            proving::turn(state, i64::from(PAGE_ROWS));
        }
        Action::Skip if state.place == Screen::Proving => return proving::skip(state),
        Action::Save if state.place == Screen::Proving => return proving::save(state),
        Action::PageEarlier if state.place == Screen::Page => {
            places::turn(state, -i64::from(PAGE_ROWS));
        }
        Action::PageLater if state.place == Screen::Page => {
            places::turn(state, i64::from(PAGE_ROWS));
        }
        Action::Skip => return vec![Effect::Command(RunCommand::Skip)],
        Action::Repeat => return vec![Effect::Command(RunCommand::Repeat)],
        Action::Station => {
            if state.run.steps.iter().any(|s| s.step == Step::Stations) {
                state.over = Some(Over::Station(String::new()));
            }
        }
        Action::Every => {
            state.every = !state.every;
            state.figure = state.figure.min(rows::rows(state).len().saturating_sub(1));
        }
        Action::Save => {
            if state.run.assessment.is_some() {
                return vec![Effect::Save];
            }
            state.run.saved = Some(Err("There is nothing to save: no sample was taken.".into()));
        }
        Action::Leave | Action::Another if would_lose(state) => {
            let words = "s saves it; the same key again leaves it.";
            state.run.saved = Some(Err(words.to_owned()));
        }
        Action::Another => {
            if state.can_choose {
                state.came_from.clear();
                state.place = Screen::Sources;
                state.refused = None;
                return vec![Effect::Rescan];
            }
        }
        Action::End => state.over = Some(Over::Ask),
        Action::EndRun => {
            state.over = None;
            return vec![Effect::Command(RunCommand::Stop)];
        }
        Action::Leave => return leave(state),
        Action::Suspend => return vec![Effect::Suspend],
        Action::Hold
        | Action::Earlier
        | Action::Later
        | Action::PageEarlier
        | Action::PageLater
        | Action::First
        | Action::Latest
        | Action::Closer
        | Action::Wider
        | Action::Whole
        | Action::Height => look(state, action),
    }
    Vec::new()
}

/// The next picture that there is something for.
fn next_picture(state: &State) -> Picture {
    match state.picture {
        Picture::Trace if state.has_strokes() => Picture::Travel,
        Picture::Trace | Picture::Travel if state.has_curve() => Picture::Deviation,
        _ => Picture::Trace,
    }
}

/// A click on a figure puts the pointer there; the wheel over the trace stretches it.
fn point(state: &mut State, pointed: Pointed) {
    if state.place != Screen::Bench || state.over.is_some() {
        return;
    }
    match (view::hit(state, pointed.size, pointed.at), pointed.wheel) {
        (Some(view::Hit::Figure(row)), None) => state.figure = row,
        (Some(view::Hit::Trace), Some(closer)) => state.window.stretch(closer),
        (Some(view::Hit::Figure(_)), Some(up)) => move_pointer(state, !up),
        _ => {}
    }
}

/// Moves the trace.
fn look(state: &mut State, action: Action) {
    let extent = state.run.extent_us();
    let window = &mut state.window;
    match action {
        Action::Hold => window.toggle(extent),
        Action::Earlier => window.step(-1, extent),
        Action::Later => window.step(1, extent),
        Action::PageEarlier => window.page(-1, extent),
        Action::PageLater => window.page(1, extent),
        Action::First => window.first(extent),
        Action::Latest => window.follow(),
        Action::Closer => window.stretch(true),
        Action::Wider => window.stretch(false),
        Action::Whole => window.whole(extent),
        Action::Height => {
            state.height = match state.height {
                Height::Limits => Height::Ruler,
                Height::Ruler => Height::Close,
                Height::Close => Height::Limits,
            }
        }
        _ => {}
    }
}

/// Whether a verdict is on the screen that nobody has saved nor been told of: it is told once, then left.
fn would_lose(state: &State) -> bool {
    state.situation() == keys::Situation::Ended
        && state.run.assessment.is_some()
        && state.run.saved.is_none()
}

fn leave(state: &mut State) -> Vec<Effect> {
    state.over = None;
    if state.is_live() && !state.leaving {
        state.leaving = true;
        return vec![Effect::Command(RunCommand::Stop)];
    }
    vec![Effect::Leave]
}

fn accept(state: &mut State) -> Vec<Effect> {
    match (&state.over, state.place) {
        (Some(Over::Station(text)), _) => {
            let position = text.trim().parse::<f64>().ok().filter(|p| p.is_finite());
            if let Some(position) = position {
                state.over = None;
                return vec![Effect::Command(RunCommand::Station(position))];
            }
            Vec::new()
        }
        (Some(Over::Earlier(at)), _) => places::lay_under(state, *at),
        (_, Screen::Sources) => {
            choose_source(state);
            Vec::new()
        }
        (_, Screen::Unit) => begin(state),
        (_, Screen::Units) => places::to_story(state),
        (_, Screen::Blocks) => {
            blocks::to_blend(state);
            Vec::new()
        }
        (_, Screen::ProofAsk) => proving::begin(state),
        (_, Screen::Bench | Screen::Page | Screen::Blend | Screen::Proving) => Vec::new(),
    }
}

fn choose_by_number(state: &mut State, key: KeyCode) -> Vec<Effect> {
    let number = match key {
        KeyCode::Char(digit) => digit.to_digit(10).and_then(|d| usize::try_from(d).ok()),
        _ => None,
    };
    if let Some(place) = number.and_then(|n| n.checked_sub(1))
        && place < state.offers.len()
    {
        state.offer = place;
        choose_source(state);
    }
    Vec::new()
}

fn choose_source(state: &mut State) {
    let Some(offer) = state.offers.get(state.offer) else {
        return;
    };
    if let Some(why) = &offer.blocked {
        state.refused = Some(why.clone());
        return;
    }
    let named = |name: &String| state.profiles.iter().position(|p| p.name == *name);
    state.unit = UnitForm {
        source: state.offer,
        tag: offer.tag.clone().unwrap_or_default(),
        profile: offer.profile.as_ref().and_then(named).unwrap_or(0),
    };
    state.refused = None;
    state.place = Screen::Unit;
}

fn begin(state: &mut State) -> Vec<Effect> {
    let Some(source) = state.offers.get(state.unit.source).cloned() else {
        state.place = Screen::Sources;
        return vec![Effect::Rescan];
    };
    let tag = Some(state.unit.tag.trim().to_owned()).filter(|tag| !tag.is_empty());
    state.profile = state.profiles.get(state.unit.profile).cloned();
    if state.unit.profile < state.profiles.len() {
        // The next unit is likely to be of the same kind.
        state.profiles[..=state.unit.profile].rotate_right(1);
        state.unit.profile = 0;
    }
    state.run = Run::new(source.name.clone(), tag.clone(), state.clock);
    state.window = Window::default();
    state.figure = 0;
    state.under = None;
    state.fetching = None;
    state.fault_edges.clear();
    state.picture = Picture::Trace;
    state.proving = None;
    state.came_from.clear();
    state.place = Screen::Bench;
    vec![Effect::Start(Box::new(Choice {
        source,
        tag,
        profile: state.profile.clone(),
    }))]
}

fn typed(state: &mut State, key: KeyCode) {
    let KeyCode::Char(letter) = key else { return };
    match &mut state.over {
        Some(Over::Station(text)) => {
            let fits = letter.is_ascii_digit() || matches!(letter, '.' | '-');
            text.extend((fits && text.len() < 12).then_some(letter));
        }
        None if state.place == Screen::ProofAsk => proving::typed(state, letter),
        _ if state.unit.tag.chars().count() < TAG_LENGTH => state.unit.tag.push(letter),
        _ => {}
    }
}

fn erase(state: &mut State) {
    let text = match &mut state.over {
        Some(Over::Station(text)) => text,
        _ => match &mut state.ask {
            Some(ask) if state.place == Screen::ProofAsk => &mut ask.typed,
            _ => &mut state.unit.tag,
        },
    };
    text.pop();
}

fn back(state: &mut State) {
    if state.over.take().is_some() {
        return;
    }
    if let Some(place) = state.came_from.pop() {
        state.place = place;
    } else if state.place == Screen::Unit {
        state.place = Screen::Sources;
    }
}

fn move_pointer(state: &mut State, down: bool) {
    if let Some(Over::Earlier(at)) = &mut state.over {
        let last = state.earlier.items().len();
        *at = if down {
            at.saturating_add(1)
        } else {
            at.saturating_sub(1)
        }
        .min(last);
        return;
    }
    let (pointer, last) = match state.place {
        Screen::Page => return places::turn(state, if down { 1 } else { -1 }),
        Screen::Proving => return proving::turn(state, if down { 1 } else { -1 }),
        Screen::ProofAsk => return proving::move_source(state, down),
        Screen::Blocks => (
            &mut state.block,
            state.blocks.items().len().saturating_sub(1),
        ),
        Screen::Blend => match &mut state.blend {
            Some(page) => {
                let last = page.inputs.len().saturating_sub(1);
                (&mut page.at, last)
            }
            None => return,
        },
        Screen::Units => (
            &mut state.unit_kept,
            state.units.items().len().saturating_sub(1),
        ),
        Screen::Sources => (&mut state.offer, state.offers.len().saturating_sub(1)),
        Screen::Unit => (&mut state.unit.profile, state.profiles.len()),
        Screen::Bench => {
            let last = rows::rows(state).len().saturating_sub(1);
            (&mut state.figure, last)
        }
    };
    *pointer = if down {
        pointer.saturating_add(1)
    } else {
        pointer.saturating_sub(1)
    }
    .min(last);
}

/// Takes in what the run tells; a proof looks at it first and has its own end.
fn run_told(state: &mut State, event: RunEvent) -> Vec<Effect> {
    let mut effects = proving::see(state, &event);
    let ended = matches!(event, RunEvent::Finished { .. });
    effects.extend(told(state, event));
    if ended && !state.leaving {
        effects.extend(proving::over(state));
    }
    effects
}
