//! The unit at the source that was chosen: its tag, and the profile that it is checked as.

use crate::profile::Profile;
use crate::tui::draw::{Pen, rows_of, safety, scrolled, split};
use crate::tui::host::{Choice, SourceOffer, Subject};
use crate::tui::keys::Action;
use crate::tui::list::shift;
use crate::tui::message::{Message, Request};
use crate::tui::run::USUAL_BITS;
use crate::tui::session::Session;
use crate::tui::theme::Tone;
use crossterm::event::KeyCode;
use ratatui::layout::Rect;

/// The longest tag that can be typed.
const TAG_LENGTH: usize = 40;

/// From this width on the steps of a kind stand beside it.
const WIDE: u16 = 79;

#[derive(Debug, Clone)]
pub struct Unit {
    source: SourceOffer,
    pub tag: String,
    /// Which profile; the number of profiles stands for none.
    profile: usize,
}

impl Unit {
    pub fn new(source: SourceOffer, profiles: &[Profile]) -> Self {
        let named = |name: &String| profiles.iter().position(|p| p.name == *name);
        Self {
            tag: source.tag.clone().unwrap_or_default(),
            profile: source.profile.as_ref().and_then(named).unwrap_or(0),
            source,
        }
    }

    pub fn update(&mut self, session: &mut Session, message: &Message) -> Vec<Request> {
        let Message::Action(action, key) = message else {
            return Vec::new();
        };
        let rows = session.profiles.len() + 1;
        match (action, key) {
            (Action::Up, _) => shift(&mut self.profile, -1, rows),
            (Action::Down, _) => shift(&mut self.profile, 1, rows),
            (Action::Type, KeyCode::Char(letter)) if self.tag.chars().count() < TAG_LENGTH => {
                self.tag.push(*letter);
            }
            (Action::Erase, _) => {
                self.tag.pop();
            }
            (Action::Wiring, _) => {
                let profile = session.profiles.get(self.profile).cloned();
                let wiring = profile.map(|p| Box::new(Subject::Wiring(Box::new(p), USUAL_BITS)));
                return wiring.map(|w| Request::Page(Ok(w))).into_iter().collect();
            }
            (Action::Accept, _) => return vec![self.begin(session)],
            _ => {}
        }
        Vec::new()
    }

    fn begin(&self, session: &mut Session) -> Request {
        let profile = session.profiles.get(self.profile).cloned();
        if profile.is_some() {
            // The next unit is likely to be of the same kind.
            session.profiles[..=self.profile].rotate_right(1);
        }
        Request::Begin(Box::new(Choice {
            source: self.source.clone(),
            tag: Some(self.tag.trim().to_owned()).filter(|tag| !tag.is_empty()),
            profile,
            control: None,
        }))
    }

    pub fn view(&self, session: &Session, pen: &mut Pen<'_>, area: Rect) {
        pen.heading(area, "Name this part");
        let area = safety(pen, area);
        let rows = [
            ("from", &self.source.name, Tone::Plain),
            ("tag", &self.tag, Tone::Strong),
        ];
        let mut end = (0, 0);
        for (y, (label, text, tone)) in (area.top() + 2..).zip(rows) {
            pen.put(area.left() + 3, y, 6, label, Tone::Quiet);
            let room = area.width.saturating_sub(11);
            end = (pen.put(area.left() + 10, y, room, text, tone), y);
        }
        let (x, y) = end;
        pen.put(x, y, 1, "_", Tone::Now);
        if self.tag.is_empty() {
            let hint = "what is written on its sticker; type it";
            pen.put(x + 2, y, area.width, hint, Tone::Quiet);
        }
        let list = rows_of(area, area.top() + 5, area.height.saturating_sub(5));
        pen.put(
            list.x + 2,
            list.y,
            list.width,
            "What kind is it?",
            Tone::Quiet,
        );
        self.profiles(session, pen, list);
    }

    fn profiles(&self, session: &Session, pen: &mut Pen<'_>, list: Rect) {
        let profiles = session.profiles.iter().map(|profile| {
            let steps: Vec<&str> = profile.card.iter().map(|step| step.word()).collect();
            (profile.name.as_str(), steps.join(", "))
        });
        let none = ("I do not know yet", "measure only, no verdict".to_owned());
        let rows = split(list, 1).1;
        for (row, at, (name, detail)) in scrolled(rows, self.profile, profiles.chain([none])) {
            let (pointer, tone) = pen.pointer(at == self.profile);
            let pieces = [
                ("  ", Tone::Plain),
                (pointer, Tone::Now),
                (" ", Tone::Plain),
                (name, tone),
            ];
            let x = pen.pieces(row, row.y, &pieces);
            let x = (x + 2).max(row.left() + 44);
            let room = row.right().saturating_sub(x + 1);
            // Half a list of steps tells nothing.
            if row.width >= WIDE {
                pen.put(x, row.y, room, &detail, Tone::Quiet);
            }
        }
    }
}
