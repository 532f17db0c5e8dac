//! The proof of a flashed board: its run, its verdict.

use crate::bench::{ProofWatch, RunCommand, RunEvent};
use crate::proof::{Fault, Trial};
use crate::tui::host::{ProofChoice, ProofRecording, ProofResult, ProofRound};
use crate::tui::keys::Action;
use crate::tui::list::scroll;
use crate::tui::message::{Effect, Message, Request, command};
use crate::tui::run::{Phase, Run};
use crate::tui::session::Session;

/// A proof under way or over.
#[derive(Debug, Clone)]
pub struct Prove {
    pub choice: ProofChoice,
    /// What the samples show so far; absent before the stream is understood.
    pub watch: Option<ProofWatch>,
    /// Why stream and block do not go together.
    pub unfit: Option<String>,
    /// What is judged; absent before the run is over.
    recording: Option<ProofRecording>,
    /// What it came to, or why it could not be judged; absent before.
    pub result: Option<Result<ProofResult, String>>,
    /// The row of the text on top.
    pub top: usize,
    /// Whether the run has been told to stop.
    stopping: bool,
}

impl Prove {
    pub fn new(choice: ProofChoice) -> Self {
        Self {
            choice,
            watch: None,
            unfit: None,
            recording: None,
            result: None,
            top: 0,
            stopping: false,
        }
    }

    pub fn update(&mut self, session: &mut Session, message: &Message) -> Vec<Request> {
        match message {
            Message::Action(action, _) => return self.act(session, *action),
            Message::Run(RunEvent::Finished { .. }) if !session.leaving => {
                return self.finish(&session.run);
            }
            Message::Run(event) if session.run.phase == Phase::Live => {
                self.observe(event);
                return self.stop_when_through();
            }
            // One of a proof that is no longer on the screen is left out.
            Message::Proved(recording, answer) if self.recording.as_ref() == Some(recording) => {
                session.run.proved = answer.as_ref().ok().map(|result| result.verdict);
                self.result = Some(answer.clone());
                self.top = 0;
                if session.machine {
                    let save = Effect::SaveProof(recording.clone());
                    return vec![Request::Effect(save)];
                }
            }
            _ => {}
        }
        Vec::new()
    }

    fn act(&mut self, session: &mut Session, action: Action) -> Vec<Request> {
        match action {
            Action::Skip => {
                if let Some(watch) = &mut self.watch {
                    watch.skip();
                }
                return self.stop_when_through();
            }
            Action::Accept if session.machine && self.result.is_some() => {
                return vec![Request::Next];
            }
            Action::Prove => {
                let offer = Box::new(self.choice.offer.clone());
                return vec![Request::ProveAsk(offer, self.choice.round.other())];
            }
            Action::Save if session.run.was_saved() => {}
            Action::Save => {
                if let Some(recording) = &self.recording {
                    let save = Effect::SaveProof(Box::new(recording.clone()));
                    return vec![Request::Effect(save)];
                }
                let why = "There is nothing to save: no sample was taken.";
                session.run.saved = Some(Err(why.to_owned()));
            }
            _ => {
                let result = self.result.as_ref().and_then(|result| result.as_ref().ok());
                let count = result.map_or(0, |result| result.text.lines().count());
                scroll(&mut self.top, action, count);
            }
        }
        Vec::new()
    }

    /// Watches what the run reports.
    fn observe(&mut self, event: &RunEvent) {
        match event {
            RunEvent::Stream(taking) => {
                let block = &self.choice.offer.block;
                let round = match self.choice.round {
                    ProofRound::Compare => Vec::new(),
                    ProofRound::Faults => Trial::round(block, &Fault::ALL),
                };
                match ProofWatch::new(block, taking, &round) {
                    Ok(watch) => {
                        // A header that comes again in the middle changes nothing of what was seen.
                        let known = self.watch.as_ref();
                        if known.is_none_or(|old| old.names() != watch.names()) {
                            self.watch = Some(watch);
                        }
                    }
                    Err(why) => self.unfit = Some(why),
                }
            }
            RunEvent::Samples(batch) => {
                if let Some(watch) = &mut self.watch {
                    watch.push(batch);
                }
            }
            _ => {}
        }
    }

    fn stop_when_through(&mut self) -> Vec<Request> {
        let through = self.watch.as_ref().is_some_and(ProofWatch::done) || self.unfit.is_some();
        if !through || self.stopping {
            return Vec::new();
        }
        self.stopping = true;
        command(RunCommand::Stop)
    }

    /// The run is over: what was recorded is to be judged.
    fn finish(&mut self, run: &Run) -> Vec<Request> {
        let refused = match (&self.unfit, &run.capture) {
            (Some(why), _) => why.clone(),
            (None, None) => "No sample arrived, so there is nothing to judge.".to_owned(),
            (None, Some(capture)) => {
                let watch = self.watch.as_ref();
                let recording = ProofRecording {
                    choice: self.choice.clone(),
                    capture: capture.clone(),
                    marks: watch.map(ProofWatch::marks).unwrap_or_default(),
                };
                self.recording = Some(recording.clone());
                return vec![Request::Effect(Effect::Judge(Box::new(recording)))];
            }
        };
        self.result = Some(Err(refused));
        Vec::new()
    }
}
