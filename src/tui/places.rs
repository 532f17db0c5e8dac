//! The places beside the bench: units kept, pages to read, earlier runs to lay under. The run goes on meanwhile.
//!
//! Belongs here: going there, and what comes from outside for them. Does not belong here: drawing them.

use super::compare::{Align, Under};
use super::offers::{EarlierOffer, EarlierRun, Subject, UnitSummary};
use super::state::{Over, Screen, State};
use super::update::Effect;

/// Resolution of a board as long as none has said: the commonest.
const USUAL_BITS: u32 = 10;

/// A list that comes from outside.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Listed<T> {
    /// It has been asked for.
    #[default]
    Asked,
    /// It is there.
    There(Vec<T>),
    /// It could not be had: what happened and what to do.
    Failed(String),
}

impl<T> Listed<T> {
    /// What is there; nothing as long as it is not.
    #[must_use]
    pub fn items(&self) -> &[T] {
        match self {
            Self::There(items) => items,
            Self::Asked | Self::Failed(_) => &[],
        }
    }

    /// From an answer.
    #[must_use]
    pub fn from_answer(answer: Result<Vec<T>, String>) -> Self {
        match answer {
            Ok(items) => Self::There(items),
            Err(why) => Self::Failed(why),
        }
    }
}

/// A page to read.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Page {
    /// What it is about; absent before the first.
    pub subject: Option<Subject>,
    /// Its rows, or why there are none; absent as long as it is being worked out.
    pub rows: Option<Result<Vec<String>, String>>,
    /// The row on top.
    pub top: usize,
}

pub fn go(state: &mut State, place: Screen) {
    if state.place != place {
        state.came_from.push(state.place);
        state.place = place;
    }
}

/// To the list of units kept.
pub fn to_units(state: &mut State) -> Vec<Effect> {
    state.units = Listed::Asked;
    go(state, Screen::Units);
    vec![Effect::Units]
}

/// The list has come.
pub fn units_came(state: &mut State, answer: Result<Vec<UnitSummary>, String>) {
    state.units = Listed::from_answer(answer);
    let last = state.units.items().len().saturating_sub(1);
    state.unit_kept = state.unit_kept.min(last);
}

/// To the story of the unit under the pointer.
pub fn to_story(state: &mut State) -> Vec<Effect> {
    match state.units.items().get(state.unit_kept) {
        Some(unit) => to_page(state, Subject::Unit(unit.tag.clone())),
        None => Vec::new(),
    }
}

/// To the wiring of the profile: of the one under the pointer before a run, of the run's own after.
pub fn to_wiring(state: &mut State) -> Vec<Effect> {
    let profile = match state.place {
        Screen::Unit => state.profiles.get(state.unit.profile).cloned(),
        _ => state.profile.clone(),
    };
    let taking = state.run.taking.as_ref().filter(|_| state.has_run());
    let bits = taking.map_or(USUAL_BITS, |taking| taking.bits);
    match profile {
        Some(profile) => to_page(state, Subject::Wiring(Box::new(profile), bits)),
        None => Vec::new(),
    }
}

fn to_page(state: &mut State, subject: Subject) -> Vec<Effect> {
    state.page = Page {
        subject: Some(subject.clone()),
        rows: None,
        top: 0,
    };
    go(state, Screen::Page);
    vec![Effect::Page(Box::new(subject))]
}

/// Makes the constants of this unit, saving its capture first where that has not been done.
pub fn to_constants(state: &mut State) -> Vec<Effect> {
    let mut effects = Vec::new();
    let refused = match (&state.profile, &state.run.capture) {
        (None, _) => {
            Err("Constants follow from a profile: take the unit again with one to hold it against.")
        }
        (_, None) => Err("There is no capture to make constants from: no sample was taken."),
        (Some(profile), Some(capture)) => Ok((profile.clone(), capture.clone())),
    };
    let subject = match refused {
        Err(why) => {
            go(state, Screen::Page);
            state.page = Page {
                subject: None,
                rows: Some(Err(why.to_owned())),
                top: 0,
            };
            return effects;
        }
        Ok((profile, capture)) => Subject::Constants(Box::new(profile), capture),
    };
    if !matches!(state.run.saved, Some(Ok(_))) {
        effects.push(Effect::Save);
    }
    effects.extend(to_page(state, subject));
    effects
}

/// A page has come; one that is no longer wanted is left out.
pub fn page_came(state: &mut State, subject: &Subject, answer: Result<String, String>) {
    if state.page.subject.as_ref() == Some(subject) {
        let rows = |text: String| text.lines().map(str::to_owned).collect();
        state.page.rows = Some(answer.map(rows));
        state.page.top = 0;
    }
}

/// Moves the page by so many rows.
pub fn turn(state: &mut State, rows: i64) {
    let last = match &state.page.rows {
        Some(Ok(rows)) => rows.len().saturating_sub(1),
        _ => 0,
    };
    let by = usize::try_from(rows.unsigned_abs()).unwrap_or(usize::MAX);
    let top = state.page.top;
    state.page.top = if rows < 0 {
        top.saturating_sub(by)
    } else {
        top.saturating_add(by)
    }
    .min(last);
}

/// Asks which earlier run is to lie under this one.
pub fn compare(state: &mut State) -> Vec<Effect> {
    let taking = state.run.taking.as_ref();
    let tag = taking
        .and_then(|t| t.tag.clone())
        .or_else(|| state.run.tag.clone());
    state.over = Some(Over::Earlier(0));
    let Some(tag) = tag else {
        let why =
            "This unit has no tag, so nothing of it can be found. Give it one when the run begins.";
        state.earlier = Listed::Failed(why.to_owned());
        return Vec::new();
    };
    state.earlier = Listed::Asked;
    vec![Effect::Earlier(tag)]
}

/// The list of earlier runs has come.
pub fn earlier_came(state: &mut State, answer: Result<Vec<EarlierOffer>, String>) {
    state.earlier = Listed::from_answer(answer);
    let last = state.earlier.items().len();
    if let Some(Over::Earlier(at)) = &mut state.over {
        *at = (*at).min(last);
    }
}

/// Lays the chosen run under, or takes away what lies there.
pub fn lay_under(state: &mut State, at: usize) -> Vec<Effect> {
    let chosen = state.earlier.items().get(at).cloned();
    if chosen.is_none() && matches!(state.earlier, Listed::Asked) {
        return Vec::new();
    }
    state.over = None;
    state.under = None;
    state.fetching = chosen.as_ref().map(|offer| offer.name.clone());
    chosen.map_or_else(Vec::new, |offer| vec![Effect::Fetch(Box::new(offer))])
}

/// The chosen run has been read (for a run that is over and gone: nothing); said at the place of choosing when it could not be.
pub fn fetched(state: &mut State, answer: Result<EarlierRun, String>) {
    if state.fetching.take().is_none() {
        return;
    }
    match answer {
        Ok(run) => {
            let now = state.run.assessment.as_deref();
            state.under = Some(Under::new(run, now, bits(state)));
        }
        Err(why) => {
            state.earlier = Listed::Failed(why);
            if state.over.is_none() && state.place == Screen::Bench {
                state.over = Some(Over::Earlier(0));
            }
        }
    }
}

/// Holds the earlier run's figures against what is being seen now.
pub fn held_against(state: &mut State) {
    let bits = bits(state);
    if let Some(under) = &mut state.under {
        under.compare(state.run.assessment.as_deref(), bits);
    }
}

/// Changes how the earlier run is laid.
pub fn align(state: &mut State) {
    if let Some(under) = &mut state.under {
        under.align = match under.align {
            Align::Step => Align::Beginning,
            Align::Beginning => Align::Step,
        };
    }
}

fn bits(state: &State) -> u32 {
    state
        .run
        .taking
        .as_ref()
        .map_or(USUAL_BITS, |taking| taking.bits)
}
