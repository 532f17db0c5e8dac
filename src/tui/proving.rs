//! A flashed board held against its block: asking for it, its run, its verdict.
//!
//! Belongs here: the state of those places and what their keys and the run's events change. Does not belong here: judging
//! (`proof`, by way of the outside), drawing.

use super::blocks::{BlockOffer, ProofChoice, ProofRound, ProofTaken};
use super::offers::{SourceKind, SourceOffer};
use super::state::{Phase, Run, Screen, State};
use super::update::Effect;
use super::window::Window;
use crate::bench::{ProofWatch, RunCommand, RunEvent};
use crate::proof::Fault;
use measure::judge::Verdict;

/// What must be typed before a board is made to run.
pub const YES: &str = "yes";

/// What a proof came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProofTold {
    /// The verdict.
    pub verdict: Verdict,
    /// What decided it, as text of at most 80 columns.
    pub text: String,
}

/// The question before a proof.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProofAsk {
    /// What the board was flashed with.
    pub offer: BlockOffer,
    /// The source under the pointer, among [`sources`].
    pub source: usize,
    /// What the board is to show.
    pub round: ProofRound,
    /// What has been typed so far.
    pub typed: String,
    /// Why the last one did not begin.
    pub refused: Option<String>,
}

/// A proof under way or over.
#[derive(Debug, Clone)]
pub struct Proving {
    /// What was asked for.
    pub choice: ProofChoice,
    /// What the samples show so far; absent before the stream is understood.
    pub watch: Option<ProofWatch>,
    /// Why stream and block do not go together.
    pub unfit: Option<String>,
    /// What is judged; absent before the run is over.
    pub taken: Option<ProofTaken>,
    /// What it came to, or why it could not be judged; absent before.
    pub told: Option<Result<ProofTold, String>>,
    /// What became of saving.
    pub saved: Option<Result<String, String>>,
    /// The row of the text on top.
    pub top: usize,
    /// Whether the run has been told to stop.
    stopping: bool,
}

/// What a board with this block can be measured at.
#[must_use]
pub fn sources(state: &State, offer: &BlockOffer) -> Vec<SourceOffer> {
    let ports = state
        .offers
        .iter()
        .filter(|source| source.kind == SourceKind::Port);
    let mut sources: Vec<SourceOffer> = ports.cloned().collect();
    if offer.simulated {
        sources.push(SourceOffer {
            kind: SourceKind::Simulated,
            name: "simulated flashed board".to_owned(),
            detail: "no hardware needed, it does what is asked".to_owned(),
            blocked: None,
            tag: None,
            profile: None,
        });
    }
    sources
}

/// To the question, with the block of the place that it is asked from.
pub fn to_ask(state: &mut State) -> Vec<Effect> {
    if state.is_live() || !state.can_choose {
        return Vec::new();
    }
    let (offer, round) = match (state.place, &state.proving) {
        (Screen::Proving, Some(proving)) => (
            Some(proving.choice.offer.clone()),
            match proving.choice.round {
                ProofRound::Compare => ProofRound::Faults,
                ProofRound::Faults => ProofRound::Compare,
            },
        ),
        (Screen::Blend, _) => (
            state.blend.as_ref().map(|page| page.offer.clone()),
            ProofRound::Compare,
        ),
        _ => (
            state.blocks.items().get(state.block).cloned(),
            ProofRound::Compare,
        ),
    };
    let Some(offer) = offer else {
        return Vec::new();
    };
    state.ask = Some(ProofAsk {
        offer,
        source: 0,
        round,
        typed: String::new(),
        refused: None,
    });
    super::places::go(state, Screen::ProofAsk);
    vec![Effect::Rescan]
}

/// Types into the question.
pub fn typed(state: &mut State, letter: char) {
    if let Some(ask) = &mut state.ask
        && ask.typed.len() < 8
        && letter.is_ascii_alphabetic()
    {
        ask.typed.push(letter);
    }
}

/// Moves the question's pointer.
pub fn move_source(state: &mut State, down: bool) {
    let Some(mut ask) = state.ask.take() else {
        return;
    };
    let last = sources(state, &ask.offer).len().saturating_sub(1);
    ask.source = if down {
        ask.source + 1
    } else {
        ask.source.saturating_sub(1)
    }
    .min(last);
    state.ask = Some(ask);
}

/// Changes what the board is to show.
pub fn other_round(state: &mut State) {
    if let Some(ask) = &mut state.ask {
        ask.round = match ask.round {
            ProofRound::Compare => ProofRound::Faults,
            ProofRound::Faults => ProofRound::Compare,
        };
    }
}

/// Begins the proof if the question has been answered.
pub fn begin(state: &mut State) -> Vec<Effect> {
    let Some(mut ask) = state.ask.take() else {
        return Vec::new();
    };
    let source = sources(state, &ask.offer).into_iter().nth(ask.source);
    let refused = match &source {
        None => Some("There is no board to measure: plug one in and press f5.".to_owned()),
        Some(source) => source.blocked.clone(),
    };
    let (Some(source), None) = (source, &refused) else {
        ask.refused = refused;
        state.ask = Some(ask);
        return Vec::new();
    };
    if !ask.typed.eq_ignore_ascii_case(YES) {
        ask.refused = Some("Nothing is begun before yes is typed.".to_owned());
        state.ask = Some(ask);
        return Vec::new();
    }
    let choice = ProofChoice {
        offer: ask.offer,
        source,
        round: ask.round,
    };
    state.run = Run::new(choice.source.name.clone(), None, state.clock);
    state.window = Window::default();
    state.profile = None;
    state.under = None;
    state.fault_edges.clear();
    state.figure = 0;
    state.proving = Some(Proving {
        choice: choice.clone(),
        watch: None,
        unfit: None,
        taken: None,
        told: None,
        saved: None,
        top: 0,
        stopping: false,
    });
    state.came_from.clear();
    state.place = Screen::Proving;
    vec![Effect::Prove(Box::new(choice))]
}

/// It could not begin.
pub fn refused(state: &mut State, why: String) {
    let Some(proving) = state.proving.take() else {
        return;
    };
    state.ask = Some(ProofAsk {
        offer: proving.choice.offer,
        source: 0,
        round: proving.choice.round,
        typed: String::new(),
        refused: Some(why),
    });
    state.over = None;
    state.came_from = vec![Screen::Sources];
    state.place = Screen::ProofAsk;
    state.run.phase = Phase::Finished;
}

/// Sees what the run of a proof tells, before the run itself takes it in.
pub fn see(state: &mut State, event: &RunEvent) -> Vec<Effect> {
    let Some(proving) = state
        .proving
        .as_mut()
        .filter(|_| state.run.phase == Phase::Live)
    else {
        return Vec::new();
    };
    match event {
        RunEvent::Taking(taking) => {
            let faults: &[Fault] = match proving.choice.round {
                ProofRound::Compare => &[],
                ProofRound::Faults => &Fault::ALL,
            };
            match ProofWatch::new(&proving.choice.offer.block, taking, faults) {
                // A header that comes again in the middle changes nothing of what was seen.
                Ok(watch)
                    if proving
                        .watch
                        .as_ref()
                        .is_none_or(|old| old.names() != watch.names()) =>
                {
                    proving.watch = Some(watch);
                }
                Ok(_) => {}
                Err(why) => proving.unfit = Some(why),
            }
        }
        RunEvent::Samples(batch) => {
            if let Some(watch) = &mut proving.watch {
                watch.push(batch);
            }
        }
        _ => {}
    }
    let through = proving.watch.as_ref().is_some_and(ProofWatch::done) || proving.unfit.is_some();
    if through && !proving.stopping {
        proving.stopping = true;
        return vec![Effect::Command(RunCommand::Stop)];
    }
    Vec::new()
}

/// The run of a proof is over: what was taken is to be judged.
pub fn over(state: &mut State) -> Vec<Effect> {
    let Some(proving) = &mut state.proving else {
        return Vec::new();
    };
    if let Some(why) = &proving.unfit {
        proving.told = Some(Err(why.clone()));
        return Vec::new();
    }
    let Some(capture) = state.run.capture.clone() else {
        let why = "No sample arrived, so there is nothing to judge.";
        proving.told = Some(Err(why.to_owned()));
        return Vec::new();
    };
    let taken = ProofTaken {
        choice: proving.choice.clone(),
        capture,
        marks: proving
            .watch
            .as_ref()
            .map(ProofWatch::marks)
            .unwrap_or_default(),
    };
    proving.taken = Some(taken.clone());
    vec![Effect::Judge(Box::new(taken))]
}

/// The verdict has come; one of a proof that is no longer there is left out.
pub fn told(state: &mut State, taken: &ProofTaken, answer: Result<ProofTold, String>) {
    if let Some(proving) = &mut state.proving
        && proving.taken.as_ref() == Some(taken)
    {
        proving.told = Some(answer);
        proving.top = 0;
    }
}

/// Leaves out what is waited for in the round of faults.
pub fn skip(state: &mut State) -> Vec<Effect> {
    if let Some(watch) = state
        .proving
        .as_mut()
        .and_then(|proving| proving.watch.as_mut())
    {
        watch.skip();
    }
    // Whether that was the last is seen with the next samples; there may be none.
    see(state, &RunEvent::Progress(Vec::new()))
}

/// Moves the text of the verdict.
pub fn turn(state: &mut State, rows: i64) {
    if let Some(proving) = &mut state.proving {
        let last = match &proving.told {
            Some(Ok(told)) => told.text.lines().count().saturating_sub(1),
            _ => 0,
        };
        let by = usize::try_from(rows.unsigned_abs()).unwrap_or(usize::MAX);
        proving.top = if rows < 0 {
            proving.top.saturating_sub(by)
        } else {
            proving.top.saturating_add(by)
        }
        .min(last);
    }
}

/// Keeps the proof that was judged.
pub fn save(state: &mut State) -> Vec<Effect> {
    let Some(proving) = &mut state.proving else {
        return Vec::new();
    };
    if let Some(taken) = &proving.taken {
        return vec![Effect::SaveProof(Box::new(taken.clone()))];
    }
    let why = "There is nothing to save: no sample was taken.";
    proving.saved = Some(Err(why.to_owned()));
    Vec::new()
}
