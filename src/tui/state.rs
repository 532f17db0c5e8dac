//! The state of the screen, a stack of screens over one session, and what each message changes in it. No clock, no terminal,
//! no thread.

use super::host::{Choice, ProofChoice};
use super::keys::{self, Action, Situation};
use super::message::{Effect, Message, Request};
use super::run::{Phase, Run, heard};
use super::screens::{
    Begin, Bench, Blend, Blocks, Earlier, Import, Machine, Page, Prove, ProveAsk, Screen, Sources,
    Station, Unit, Units,
};
use super::session::{Height, Prompting, Session};
use super::theme::Theme;
use crate::bench::{RunCommand, RunEvent};
use crate::profile::Profile;
use crossterm::event::KeyCode;
use std::time::Duration;

#[derive(Debug, Clone)]
pub struct State {
    pub(super) session: Session,
    /// From the first to the one in front; never empty.
    pub(super) screens: Vec<Screen>,
}

impl State {
    /// A screen at the list of sources.
    pub fn choosing(theme: Theme, profiles: Vec<Profile>) -> Self {
        let run = Run::new(String::new(), None, None, Duration::ZERO);
        Self::new(theme, profiles, run, Screen::Sources(Sources::default()))
    }

    /// A screen at the page of a machine.
    pub fn at_machine(theme: Theme, profiles: Vec<Profile>) -> Self {
        let run = Run::new(String::new(), None, None, Duration::ZERO);
        Self::new(theme, profiles, run, Screen::Machine(Machine::default()))
    }

    /// A screen at a run that has begun.
    pub fn at_run(
        theme: Theme,
        profile: Option<Profile>,
        source: String,
        tag: Option<String>,
    ) -> Self {
        let run = Run::new(source, tag, profile, Duration::ZERO);
        Self::new(theme, Vec::new(), run, Screen::Bench(Bench::default()))
    }

    fn new(theme: Theme, profiles: Vec<Profile>, run: Run, first: Screen) -> Self {
        Self {
            session: Session {
                theme,
                clock: Duration::ZERO,
                profiles,
                run,
                machine: false,
                leaving: false,
                prompting: Prompting::default(),
                height: Height::default(),
                all_figures: false,
            },
            screens: vec![first],
        }
    }

    pub(super) fn front(&self) -> Option<&Screen> {
        self.screens.last()
    }

    /// The screen in front, dialogs aside.
    pub(super) fn page(&self) -> Option<&Screen> {
        self.screens.iter().rfind(|screen| !screen.is_dialog())
    }

    pub(super) fn situation(&self) -> Situation {
        let front = self.front();
        front.map_or(Situation::Sources, |s| s.situation(&self.session.run))
    }

    /// Whether there is a run or a proof on a screen of the stack.
    pub(super) fn has_run(&self) -> bool {
        let has = |screen: &Screen| matches!(screen, Screen::Bench(_) | Screen::Prove(_));
        self.screens.iter().any(has)
    }

    pub(super) fn is_live(&self) -> bool {
        self.has_run() && self.session.run.phase == Phase::Live
    }

    /// Whether there is a list of sources to go back to.
    pub(super) fn can_choose(&self) -> bool {
        matches!(
            self.screens.first(),
            Some(Screen::Sources(_) | Screen::Machine(_))
        )
    }

    fn act(&mut self, action: Action, key: KeyCode) -> Vec<Effect> {
        match action {
            Action::Help if self.situation() == Situation::Help => self.close(),
            Action::Help => self.screens.push(Screen::Help),
            Action::Back if matches!(self.front(), Some(Screen::Begin(_))) => {
                return self.pass_to_front(&Message::Action(action, key));
            }
            Action::Back => self.close(),
            Action::Rescan if self.situation() != Situation::Machine => {
                return vec![Effect::Rescan];
            }
            Action::Units => return self.open(Screen::Units(Units::default()), Effect::Units),
            Action::Blocks => return self.open(Screen::Blocks(Blocks::default()), Effect::Blocks),
            Action::Prove if self.is_live() || !self.can_choose() => {}
            Action::Leave | Action::Another | Action::Prove if self.would_lose() => {
                let words = "s saves it; the same key again leaves it.";
                self.session.run.saved = Some(Err(words.to_owned()));
            }
            // From the choice of a board back to the machine that it is for.
            Action::Leave if self.situation() == Situation::Sources && self.screens.len() > 1 => {
                self.close();
            }
            Action::Leave => return self.leave(),
            Action::Another if self.situation() == Situation::Machine => {
                return self.open(Screen::Sources(Sources::default()), Effect::Rescan);
            }
            Action::Another => return self.choose_again(None),
            Action::End => self.screens.push(Screen::EndRun),
            Action::Suspend => return vec![Effect::Suspend],
            _ => return self.pass_to_front(&Message::Action(action, key)),
        }
        Vec::new()
    }

    fn pass_to_front(&mut self, message: &Message) -> Vec<Effect> {
        let front = self.screens.last_mut();
        let requests = front.map(|screen| screen.update(&mut self.session, message));
        self.grant(requests.unwrap_or_default())
    }

    /// Every screen hears what comes from outside: the answer may be for one that lies below.
    fn pass_to_all(&mut self, message: &Message) -> Vec<Effect> {
        let mut requests = Vec::new();
        for screen in &mut self.screens {
            requests.extend(screen.update(&mut self.session, message));
        }
        self.grant(requests)
    }

    fn grant(&mut self, requests: Vec<Request>) -> Vec<Effect> {
        requests
            .into_iter()
            .flat_map(|request| self.grant_one(request))
            .collect()
    }

    fn grant_one(&mut self, request: Request) -> Vec<Effect> {
        match request {
            Request::Effect(effect) => return vec![effect],
            Request::Close => self.close(),
            Request::Unit(source) => {
                let unit = Unit::new(*source, &self.session.profiles);
                self.screens.push(Screen::Unit(unit));
            }
            Request::Import(source, part) => {
                let mut import = Import::new(*source, part);
                let look = import.first_look();
                self.screens.push(Screen::Import(import));
                return look.into_iter().collect();
            }
            Request::Begin(choice) => return self.begin(choice),
            Request::Measure(part) => {
                let sources = Screen::Sources(Sources::of_part(*part));
                return self.open(sources, Effect::Rescan);
            }
            Request::NewMachine => self.screens.push(Screen::Begin(Begin::default())),
            Request::Next => return self.go_on(),
            Request::Page(Ok(subject)) => {
                let page = Screen::Page(Page::about(subject.clone()));
                return self.open(page, Effect::Page(subject));
            }
            Request::Page(Err(why)) => self.screens.push(Screen::Page(Page::refused(why))),
            Request::Station(asked) => self.screens.push(Screen::Station(Station::new(asked))),
            Request::Earlier(list) => match self.screens.last_mut() {
                Some(Screen::Earlier(earlier)) => earlier.list = list,
                Some(Screen::Bench(_)) => self.screens.push(Screen::Earlier(Earlier::new(list))),
                _ => {}
            },
            Request::Overlay(offer) => {
                if let Some(Screen::Bench(bench)) = self.screens.last_mut() {
                    let effect = bench.overlay_with(offer);
                    return effect.into_iter().collect();
                }
            }
            Request::Blend(offer) => {
                let run = self.has_run().then_some(&self.session.run);
                self.screens.push(Screen::Blend(Blend::new(*offer, run)));
            }
            Request::ProveAsk(offer, round) => {
                let ask = ProveAsk::new(*offer, round, None);
                return self.open(Screen::ProveAsk(ask), Effect::Rescan);
            }
            Request::Prove(choice) => return self.prove(choice),
        }
        Vec::new()
    }

    fn open(&mut self, screen: Screen, effect: Effect) -> Vec<Effect> {
        self.screens.push(screen);
        vec![effect]
    }

    fn close(&mut self) {
        if self.screens.len() > 1 {
            self.screens.pop();
        }
    }

    /// Takes the stack down to its first screen and puts one on it.
    fn restart(&mut self, screen: Screen, run: Run) {
        self.session.run = run;
        self.screens.truncate(1);
        self.screens.push(screen);
    }

    fn begin(&mut self, choice: Box<Choice>) -> Vec<Effect> {
        let (source, tag) = (choice.source.name.clone(), choice.tag.clone());
        let run = Run::new(source, tag, choice.profile.clone(), self.session.clock);
        self.restart(Screen::Bench(Bench::default()), run);
        vec![Effect::Start(choice)]
    }

    fn prove(&mut self, choice: Box<ProofChoice>) -> Vec<Effect> {
        let run = Run::new(choice.source.name.clone(), None, None, self.session.clock);
        self.restart(Screen::Prove(Box::new(Prove::new((*choice).clone()))), run);
        vec![Effect::Prove(choice)]
    }

    /// The proof could not begin: back to the question.
    fn ask_again(&mut self, why: String) {
        let prove = |screen: &Screen| match screen {
            Screen::Prove(prove) => Some(prove.choice.clone()),
            _ => None,
        };
        if let Some(choice) = self.screens.iter().find_map(prove) {
            let ask = ProveAsk::new(choice.offer, choice.round, Some(why));
            self.screens.truncate(1);
            self.screens.push(Screen::ProveAsk(ask));
            self.session.run.phase = Phase::Finished;
        }
    }

    /// Back to the list of sources, if there is one.
    fn choose_again(&mut self, refused: Option<String>) -> Vec<Effect> {
        let effect = match self.screens.first_mut() {
            Some(Screen::Sources(sources)) => {
                sources.refused = refused;
                Effect::Rescan
            }
            Some(Screen::Machine(machine)) => {
                machine.look_again(refused);
                Effect::Machine
            }
            _ => return Vec::new(),
        };
        self.screens.truncate(1);
        vec![effect]
    }

    /// Back to the machine, to begin what is next there.
    fn go_on(&mut self) -> Vec<Effect> {
        let effects = self.choose_again(None);
        if let Some(Screen::Machine(machine)) = self.screens.first_mut() {
            machine.goes_on = true;
        }
        effects
    }

    /// Whether a verdict is on the screen that nobody has saved nor been told of: it is told once, then left.
    fn would_lose(&self) -> bool {
        let run = &self.session.run;
        let found = match self.situation() {
            Situation::Ended => run.assessment.is_some(),
            Situation::Proved => run.proved.is_some(),
            _ => false,
        };
        found && run.saved.is_none()
    }

    fn leave(&mut self) -> Vec<Effect> {
        while self.front().is_some_and(Screen::is_dialog) {
            self.close();
        }
        if self.is_live() && !self.session.leaving {
            self.session.leaving = true;
            return vec![Effect::Command(RunCommand::Stop)];
        }
        vec![Effect::Leave]
    }

    fn run_event(&mut self, event: RunEvent) -> Vec<Effect> {
        let rings = match &event {
            RunEvent::Progress(steps) if self.session.prompting.bell => {
                heard::rings(&self.session.run.steps, steps)
            }
            _ => 0,
        };
        self.session.run.apply(&event, self.session.clock);
        let ended = matches!(event, RunEvent::Finished { .. } | RunEvent::Failed(_));
        let mut effects = self.pass_to_all(&Message::Run(event));
        effects.extend((rings > 0).then_some(Effect::Bell(rings)));
        if ended && self.session.machine && self.session.run.assessment.is_some() {
            // A machine's part is saved by itself; a proof once it is judged.
            let at_bench = self.screens.iter().any(|s| matches!(s, Screen::Bench(_)));
            effects.extend(at_bench.then_some(Effect::Save));
        }
        if ended && self.session.leaving {
            effects.push(Effect::Leave);
        }
        effects
    }
}

/// Takes a message in. Gives what is to be done outside, in order.
pub fn update(state: &mut State, message: Message) -> Vec<Effect> {
    match message {
        Message::Key(key) => match keys::action(state.situation(), &key) {
            Some(action) => state.act(action, key.code),
            None => Vec::new(),
        },
        Message::Action(action, key) => state.act(action, key),
        Message::Tick(since_opened) => {
            state.session.clock = since_opened;
            Vec::new()
        }
        Message::Run(event) => state.run_event(event),
        Message::RunGone if state.is_live() => {
            let words = "The run stopped without saying why.\n  What was taken is in the recording. Leave with q and start again.";
            state.run_event(RunEvent::Failed(words.to_owned()))
        }
        Message::Started(Err(why)) => state.choose_again(Some(why)),
        Message::MachineStarted(Ok(())) => state.choose_again(None),
        Message::ProofStarted(Err(why)) => {
            state.ask_again(why);
            vec![Effect::Rescan]
        }
        Message::Saved(outcome) => {
            let again = matches!(state.session.run.saved, Some(Ok(_)));
            if !again || outcome.is_ok() {
                state.session.run.saved = Some(outcome);
            }
            Vec::new()
        }
        Message::Machine(ref answer) => {
            if let Ok(page) = &**answer {
                state.session.machine = page.open;
            }
            state.pass_to_all(&message)
        }
        Message::Terminate => state.leave(),
        Message::Mouse(_) => state.pass_to_front(&message),
        Message::Resized | Message::RunGone | Message::Started(Ok(())) => Vec::new(),
        other => state.pass_to_all(&other),
    }
}
