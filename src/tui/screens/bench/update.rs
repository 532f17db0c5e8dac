//! What keys, the mouse, the run and the host's answers change at the bench.

use super::layout::{self, Hit};
use super::overlay::Overlay;
use super::pictures::overlaid;
use super::rows::rows;
use super::state::{Bench, Picture};
use crate::bench::{RunCommand, RunEvent, StationWords, StepState};
use crate::tui::host::{EarlierOffer, EarlierRun, Subject};
use crate::tui::keys::Action;
use crate::tui::list::{Listed, shift};
use crate::tui::message::{Effect, Message, Pointed, Request, command};
use crate::tui::run::{Phase, Run};
use crate::tui::session::{Height, Session};
use measure::units::Step;
use std::sync::Arc;

impl Bench {
    pub fn update(&mut self, session: &mut Session, message: &Message) -> Vec<Request> {
        match message {
            Message::Action(action, _) => return self.act(session, *action),
            Message::Mouse(pointed) => self.point(session, *pointed),
            Message::Run(RunEvent::Assessed(_)) => {
                self.compare(&session.run);
                self.show_curve(&session.run);
            }
            Message::Run(RunEvent::Finished { .. }) => {
                self.compare(&session.run);
                if self.window.held().is_none() {
                    self.window.whole(session.run.extent_us());
                }
            }
            Message::Fetched(answer) => return self.fetched(&session.run, answer),
            _ => {}
        }
        Vec::new()
    }

    fn act(&mut self, session: &mut Session, action: Action) -> Vec<Request> {
        let run = &mut session.run;
        let extent = run.extent_us();
        match action {
            Action::Up => self.move_pointer(session, -1),
            Action::Down => self.move_pointer(session, 1),
            Action::AllFigures => {
                session.all_figures = !session.all_figures;
                self.move_pointer(session, 0);
            }
            Action::Details => session.prompting.big = !session.prompting.big,
            Action::Bell => session.prompting.bell = !session.prompting.bell,
            Action::Picture => self.picture = self.next_picture(run),
            Action::Compare => return earlier(run),
            Action::Align => {
                if let Some(overlay) = &mut self.overlay {
                    overlay.align = overlay.align.other();
                }
            }
            Action::Wiring => {
                let wiring = |p| Box::new(Subject::Wiring(Box::new(p), run.bits()));
                let wiring = run.profile.clone().map(wiring);
                return wiring.map(|w| Request::Page(Ok(w))).into_iter().collect();
            }
            Action::Constants => return constants(session),
            Action::Skip => return command(RunCommand::Skip),
            Action::Repeat => return command(RunCommand::Repeat),
            Action::Accept if run.phase != Phase::Live => {
                return session
                    .machine
                    .then_some(Request::Next)
                    .into_iter()
                    .collect();
            }
            Action::Accept if asks(run) => return command(RunCommand::GoAhead),
            Action::Station | Action::Accept | Action::TakeBack => return station(run, action),
            Action::OtherProfile => return check_as(run),
            Action::Save if run.was_saved() => {}
            Action::Save if run.assessment.is_some() => return vec![Request::Effect(Effect::Save)],
            Action::Save => {
                let why = "There is nothing to save: no sample was taken.";
                run.saved = Some(Err(why.to_owned()));
            }
            Action::Hold => self.window.toggle(extent),
            Action::Earlier => self.window.step(-1, extent),
            Action::Later => self.window.step(1, extent),
            Action::PageEarlier => self.window.page(-1, extent),
            Action::PageLater => self.window.page(1, extent),
            Action::First => self.window.first(extent),
            Action::Latest => self.window.follow(),
            Action::Closer => self.window.stretch(true),
            Action::Wider => self.window.stretch(false),
            Action::Whole => self.window.whole(extent),
            Action::Height => {
                session.height = match session.height {
                    Height::Limits => Height::FullScale,
                    Height::FullScale => Height::CloseUp,
                    Height::CloseUp => Height::Limits,
                }
            }
            _ => {}
        }
        Vec::new()
    }

    fn move_pointer(&mut self, session: &Session, by: isize) {
        shift(&mut self.figure, by, rows(session).len());
    }

    /// The next picture that there is something for.
    fn next_picture(&self, run: &Run) -> Picture {
        let there = |picture: &Picture| match picture {
            Picture::Trace => true,
            Picture::Travel => run.has_strokes(),
            Picture::Deviation => run.has_curve(),
            other => overlaid::shows(*other, run),
        };
        let at = Picture::ALL.iter().position(|one| *one == self.picture);
        let behind = Picture::ALL.iter().cycle().skip(at.unwrap_or(0) + 1);
        behind.copied().find(there).unwrap_or_default()
    }

    /// The first curve over known positions comes by itself; from then on the person chooses.
    fn show_curve(&mut self, run: &Run) {
        let taking = run.current().is_some_and(|s| s.step == Step::Stations);
        if taking && run.has_curve() && !std::mem::replace(&mut self.curve_shown, true) {
            self.picture = Picture::Deviation;
        }
    }

    /// A click on a figure puts the pointer there; the wheel over the trace stretches it.
    fn point(&mut self, session: &Session, pointed: Pointed) {
        let hit = layout::hit(self, session, pointed.size, pointed.at);
        match (hit, pointed.wheel) {
            (Some(Hit::Figure(row)), None) => self.figure = row,
            (Some(Hit::Trace), Some(closer)) => self.window.stretch(closer),
            (Some(Hit::Figure(_)), Some(up)) => {
                self.move_pointer(session, if up { -1 } else { 1 });
            }
            _ => {}
        }
    }

    /// Has this earlier run read, to be drawn under the run; without one, takes away what is there.
    pub fn overlay_with(&mut self, offer: Option<Box<EarlierOffer>>) -> Option<Effect> {
        self.overlay = None;
        self.fetching = offer.as_ref().map(|offer| offer.name.clone());
        offer.map(Effect::Fetch)
    }

    /// The earlier run has been read; said where it is chosen when it could not be. Nobody asked for it: nothing.
    fn fetched(&mut self, run: &Run, answer: &Result<EarlierRun, String>) -> Vec<Request> {
        if self.fetching.take().is_none() {
            return Vec::new();
        }
        match answer {
            Ok(earlier) => {
                self.overlay = Some(Overlay::new(earlier));
                self.compare(run);
                Vec::new()
            }
            Err(why) => vec![Request::Earlier(Listed::Failed(why.clone()))],
        }
    }

    /// Compares the earlier run's figures with what is seen now.
    fn compare(&mut self, run: &Run) {
        if let Some(overlay) = &mut self.overlay {
            overlay.compare(run.assessment.as_deref(), run.bits());
        }
    }
}

/// Whether somebody is asked to say yes.
fn asks(run: &Run) -> bool {
    let current = run.current();
    current.is_some_and(|step| step.asks() || step.trial.is_some())
}

/// Checks the part as the kind that it looks like, from here on.
fn check_as(run: &mut Run) -> Vec<Request> {
    let Some(other) = run.other_profile() else {
        return Vec::new();
    };
    run.profile = Some(other.clone());
    run.assessment = None;
    command(RunCommand::CheckAs(Arc::new(other)))
}

/// What a key says of the known positions, while they are taken.
fn station(run: &Run, action: Action) -> Vec<Request> {
    let mut steps = run.steps.iter();
    let Some(step) = steps.find(|progress| progress.step == Step::Stations) else {
        return Vec::new();
    };
    let current = step.state == StepState::Current;
    match action {
        Action::TakeBack if step.have > 0.0 || current => {
            command(RunCommand::Station(StationWords::TakeBack))
        }
        Action::Accept if current && step.asked.is_some() => {
            command(RunCommand::Station(StationWords::Here(None)))
        }
        Action::Accept | Action::Station if current => {
            vec![Request::Station(step.asked.clone())]
        }
        _ => Vec::new(),
    }
}

fn earlier(run: &Run) -> Vec<Request> {
    let Some(tag) = run.tag() else {
        let why =
            "This part has no tag, so nothing of it can be found. Give it one when the run begins.";
        return vec![Request::Earlier(Listed::Failed(why.to_owned()))];
    };
    let list = Effect::Earlier(tag.to_owned());
    vec![Request::Earlier(Listed::Asked), Request::Effect(list)]
}

/// The constants of all controls of the machine: a part alone makes no board's constants.
fn constants(session: &Session) -> Vec<Request> {
    if session.machine {
        return vec![Request::Page(Ok(Box::new(Subject::Constants)))];
    }
    let why = "A board's constants are of all its controls together, and this part belongs to no machine yet. Save it with s, then:\n\n  \
               pedalproof machine new MACHINE.json --name NAME --control NAME=PROFILE ...\n  \
               pedalproof machine add MACHINE.json RECORDING.csv ...\n  \
               pedalproof machine MACHINE.json --screen\n\n\
               What a single recording alone would give: pedalproof constants RECORDING.csv";
    vec![Request::Page(Err(why))]
}
