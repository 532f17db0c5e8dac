//! A machine that is started: its name, its controls one after the other, each with a picture of its wiring.

mod meter;
mod values;

use crate::profile::{self, OtherParts, Profile};
use crate::report;
use crate::tui::draw::{Pen, inset, split};
use crate::tui::form::{Form, Row, choices, picture};
use crate::tui::host::{NewControl, NewMachine};
use crate::tui::keys::{Action, Situation};
use crate::tui::list::shift;
use crate::tui::message::{Effect, Message, Request};
use crate::tui::session::Session;
use crate::tui::theme::Tone;
use crossterm::event::KeyCode;
use meter::Meter;
use ratatui::layout::Rect;
use values::Values;

const NAME: &str = "machine";
const FILE: &str = "file";
/// Rows that a picture of a wiring takes at most.
const PICTURE: u16 = 8;

#[derive(Debug, Clone)]
pub struct Begin {
    stage: Stage,
    naming: Form,
    controls: Vec<NewControl>,
    /// The row of the kinds under the pointer.
    at: usize,
    /// Why it does not go on.
    refused: Option<String>,
}

#[derive(Debug, Clone)]
enum Stage {
    Naming,
    Kinds,
    Values(Box<Values>),
    Meter(Meter),
}

impl Default for Begin {
    fn default() -> Self {
        let rows = vec![
            Row::new(NAME, "", "what people call it, e.g. trolley T1"),
            Row::new(FILE, "", "called after the machine"),
        ];
        Self {
            stage: Stage::Naming,
            naming: Form::new(rows, 0),
            controls: Vec::new(),
            at: 0,
            refused: None,
        }
    }
}

impl Begin {
    pub fn situation(&self) -> Situation {
        match &self.stage {
            Stage::Kinds => Situation::Kinds,
            Stage::Meter(meter) if !meter.types() => Situation::Kinds,
            _ => Situation::Form,
        }
    }

    pub fn update(&mut self, session: &Session, message: &Message) -> Vec<Request> {
        let (action, key) = match message {
            Message::Action(action, key) => (*action, *key),
            Message::MachineStarted(Err(why)) => {
                self.refused = Some(why.clone());
                return Vec::new();
            }
            _ => return Vec::new(),
        };
        self.refused = None;
        if action == Action::Back {
            return self.back();
        }
        let done = match &mut self.stage {
            Stage::Naming if action == Action::Accept => self.named(),
            Stage::Naming => {
                self.naming.update(action, key);
                Ok(())
            }
            Stage::Kinds => match self.kinds(&session.profiles, action, key) {
                Some(start) => return vec![start],
                None => Ok(()),
            },
            Stage::Values(values) if action == Action::Accept => {
                let control = values.control();
                control.map(|control| self.add(&session.profiles, control))
            }
            Stage::Values(values) => {
                values.form.update(action, key);
                Ok(())
            }
            Stage::Meter(meter) => meter.update(action, key).map(|found| {
                if let Some((kind, parts)) = found
                    && let Some(profile) = profile::find(kind)
                {
                    self.ask_values(profile, &parts);
                }
            }),
        };
        self.refused = done.err();
        Vec::new()
    }

    /// One stage back; from the first one to the screen below.
    fn back(&mut self) -> Vec<Request> {
        match &mut self.stage {
            Stage::Naming => return vec![Request::Close],
            Stage::Kinds => match self.controls.pop() {
                Some(_) => {}
                None => self.stage = Stage::Naming,
            },
            Stage::Meter(meter) if !meter.is_first() => meter.back(),
            Stage::Values(_) | Stage::Meter(_) => self.stage = Stage::Kinds,
        }
        Vec::new()
    }

    fn named(&mut self) -> Result<(), String> {
        let name = self.naming.text(NAME);
        name.ok_or("Type what the machine is called, then press enter.")?;
        self.stage = Stage::Kinds;
        Ok(())
    }

    /// What was chosen of the list; the request when that is all.
    fn kinds(&mut self, profiles: &[Profile], action: Action, key: KeyCode) -> Option<Request> {
        let unknown = profiles.len();
        let rows = unknown + 1 + usize::from(!self.controls.is_empty());
        match (action, key) {
            (Action::Up, _) => shift(&mut self.at, -1, rows),
            (Action::Down, _) => shift(&mut self.at, 1, rows),
            (Action::Digit, KeyCode::Char(digit)) => {
                let row = digit.to_digit(10).and_then(|n| usize::try_from(n).ok());
                let at = row.and_then(|n| n.checked_sub(1)).filter(|at| *at < rows)?;
                self.at = at;
                return self.kinds(profiles, Action::Accept, key);
            }
            (Action::Values, _) => {
                let profile = profiles.get(self.at)?.clone();
                self.ask_values(profile, &OtherParts::default());
            }
            (Action::Accept, _) if self.at == unknown => {
                self.stage = Stage::Meter(Meter::default());
            }
            (Action::Accept, _) if self.at > unknown => return Some(self.start()),
            (Action::Accept, _) => {
                let profile = profiles.get(self.at)?.clone();
                if Values::asks(&profile) {
                    self.ask_values(profile, &OtherParts::default());
                } else {
                    let name = self.free_name(&profile);
                    let control = NewControl {
                        name,
                        tag: None,
                        profile,
                    };
                    self.add(profiles, control);
                }
            }
            _ => {}
        }
        None
    }

    fn start(&self) -> Request {
        let text = |label| self.naming.text(label).unwrap_or_default().to_owned();
        Request::Effect(Effect::StartMachine(Box::new(NewMachine {
            name: text(NAME),
            file: text(FILE),
            controls: self.controls.clone(),
        })))
    }

    fn ask_values(&mut self, profile: Profile, metered: &OtherParts) {
        let name = self.free_name(&profile);
        self.stage = Stage::Values(Box::new(Values::new(profile, &name, metered)));
    }

    /// Takes a control in; the pointer then stands at "that is all".
    fn add(&mut self, profiles: &[Profile], control: NewControl) {
        self.controls.push(control);
        self.at = profiles.len() + 1;
        self.stage = Stage::Kinds;
    }

    /// `dial`, and `dial-2` where there is one.
    fn free_name(&self, profile: &Profile) -> String {
        let base = match profile.kind {
            profile::Kind::Pedal => "pedal",
            profile::Kind::Dial => "dial",
            profile::Kind::Lever => "lever",
        };
        let taken = |name: &String| self.controls.iter().any(|control| control.name == *name);
        let names = (2..).map(|n| format!("{base}-{n}"));
        let mut names = std::iter::once(base.to_owned()).chain(names);
        names.find(|name| !taken(name)).unwrap_or_default()
    }

    /// The board's pins of the next control, after those that were chosen.
    fn next_pins(&self) -> Vec<String> {
        let taken: usize = self.controls.iter().map(|c| c.profile.tracks.len()).sum();
        (taken..taken + 2).map(|n| format!("A{n}")).collect()
    }

    pub fn view(&self, session: &Session, pen: &mut Pen<'_>, area: Rect) {
        let machine = self.naming.text(NAME).unwrap_or_default();
        let title = match &self.stage {
            Stage::Naming => "Start a machine".to_owned(),
            Stage::Kinds if self.controls.is_empty() => format!("{machine}: its first control?"),
            Stage::Kinds => format!("{machine}: another control?"),
            Stage::Values(values) => format!("{machine}: {}", values.profile.name),
            Stage::Meter(_) => "I do not know this part".to_owned(),
        };
        pen.heading(area, &title);
        let body = split(area, 2).1;
        let refusal = if self.refused.is_some() { 3 } else { 0 };
        let (body, foot) = split(body, body.height.saturating_sub(refusal));
        match &self.stage {
            Stage::Naming => {
                let taken = self.naming.view(pen, inset(body));
                let words = "Its recordings, constants and proofs will lie in this folder, beside its file.";
                pen.wrapped(inset(split(body, taken + 1).1), words, Tone::Quiet);
            }
            Stage::Kinds => self.list(session, pen, body),
            Stage::Values(values) => {
                let taken = values.form.view(pen, inset(body));
                let drawn = match values.changed() {
                    Ok(profile) => report::picture(&profile, &self.next_pins()),
                    Err(why) => why,
                };
                picture(pen, inset(split(body, taken + 1).1), &drawn);
            }
            Stage::Meter(meter) => meter.view(pen, body),
        }
        if let Some(why) = &self.refused {
            pen.wrapped(inset(foot), why, Tone::Bad);
        }
    }

    /// What was chosen, the kinds, and below them how the one under the pointer is wired.
    fn list(&self, session: &Session, pen: &mut Pen<'_>, area: Rect) {
        let chosen: Vec<String> = self
            .controls
            .iter()
            .map(|control| format!("{} ({})", control.name, control.profile.name))
            .collect();
        let mut area = area;
        if !chosen.is_empty() {
            let words = format!("so far: {}", chosen.join(", "));
            let rows = pen.wrapped(inset(area), &words, Tone::Good);
            area = split(area, rows).1;
        }
        let drawn = session.profiles.get(self.at).map_or(0, |_| PICTURE + 1);
        let (list, below) = split(area, area.height.saturating_sub(drawn));
        let kinds = session.profiles.iter().map(|p| (p.name.as_str(), ""));
        let unknown = ("I do not know this part", "three questions with a meter");
        let all = (!chosen.is_empty()).then_some(("that is all", "start the machine"));
        choices(pen, inset(list), self.at, kinds.chain([unknown]).chain(all));
        if let Some(profile) = session.profiles.get(self.at) {
            pen.rule(below, below.top(), "how it is wired");
            let drawn = report::picture(profile, &self.next_pins());
            picture(pen, inset(split(below, 1).1), &drawn);
        }
    }
}
