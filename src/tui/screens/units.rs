//! The units on record.

use crate::tui::draw::{Pen, cut, inset, scrolled, split};
use crate::tui::host::{Subject, UnitSummary};
use crate::tui::keys::Action;
use crate::tui::list::{Listed, shift};
use crate::tui::message::{Message, Request};
use crate::tui::theme::{Tone, verdict_tone};
use crossterm::event::KeyCode;
use ratatui::layout::Rect;

/// From this width on the list names the profiles.
const PROFILES: u16 = 100;

#[derive(Debug, Clone, Default)]
pub struct Units {
    list: Listed<UnitSummary>,
    /// Among those that have the word.
    at: usize,
    /// What was typed: only units that have it are listed.
    word: String,
}

/// The longest word that can be typed.
const WORD_LENGTH: usize = 24;

impl Units {
    pub fn update(&mut self, message: &Message) -> Vec<Request> {
        let units = self.listed().len();
        match message {
            Message::Action(Action::Up, _) => shift(&mut self.at, -1, units),
            Message::Action(Action::Down, _) => shift(&mut self.at, 1, units),
            Message::Action(Action::Accept, _) => {
                let story = |unit: &&UnitSummary| Box::new(Subject::Unit(unit.tag.clone()));
                let story = self.listed().get(self.at).map(story);
                return story.map(|s| Request::Page(Ok(s))).into_iter().collect();
            }
            Message::Action(Action::Type, KeyCode::Char(letter))
                if self.word.len() < WORD_LENGTH =>
            {
                self.word.push(*letter);
                self.at = 0;
            }
            Message::Action(Action::Erase, _) => {
                self.word.pop();
                self.at = 0;
            }
            Message::Units(answer) => {
                self.list = Listed::from_answer(answer);
                let units = self.listed().len();
                shift(&mut self.at, 0, units);
            }
            _ => {}
        }
        Vec::new()
    }

    /// The units that have the word in what the list says of them.
    fn listed(&self) -> Vec<&UnitSummary> {
        let word = self.word.trim().to_lowercase();
        let has = |unit: &&UnitSummary| {
            let verdict = unit.verdict.or(unit.doubted);
            let verdict = verdict.map(|verdict| verdict.to_string());
            let unread = (unit.unreadable > 0).then_some("unreadable");
            let said = [
                Some(unit.tag.as_str()),
                unit.profile.as_deref(),
                verdict.as_deref(),
                Some(unit.course),
                unread,
            ];
            said.into_iter()
                .flatten()
                .any(|said| said.to_lowercase().contains(&word))
        };
        self.list.items().iter().filter(has).collect()
    }

    pub fn view(&self, pen: &mut Pen<'_>, area: Rect) {
        let heading = match self.word.as_str() {
            "" => "My parts, what needs doing first (type a word to find)".to_owned(),
            word => format!("My parts that have: {word}_"),
        };
        pen.heading(area, &heading);
        let list = split(area, 2).1;
        let (words, tone) = match &self.list {
            Listed::Asked => ("Reading the records.", Tone::Quiet),
            Listed::Failed(why) => (why.as_str(), Tone::Bad),
            Listed::There(units) if units.is_empty() => (
                "No parts yet. Measure one on a real board, give it a name, press s.",
                Tone::Open,
            ),
            Listed::There(_) if self.listed().is_empty() => ("None has that word.", Tone::Open),
            Listed::There(_) => return self.rows(pen, list, &self.listed()),
        };
        pen.wrapped(inset(list), words, tone);
    }

    fn rows(&self, pen: &mut Pen<'_>, area: Rect, units: &[&UnitSummary]) {
        let title = format!(
            "   {:<18} {:<11} {:<12} {:<16} {:>7}  profile",
            "part", "last taken", "verdict", "going", "records"
        );
        let title = if area.width < PROFILES {
            title.trim_end_matches("profile")
        } else {
            &title
        };
        pen.left(area, area.top(), title, Tone::Quiet);
        for (row, at, unit) in scrolled(split(area, 1).1, self.at, units) {
            unit_row(pen, row, unit, at == self.at);
        }
    }
}

fn unit_row(pen: &mut Pen<'_>, row: Rect, unit: &UnitSummary, chosen: bool) {
    let (pointer, tone) = pen.pointer(chosen);
    let (mark, word, verdict) = match unit.verdict {
        Some(verdict) => (
            pen.theme.verdict_mark(verdict),
            verdict.to_string(),
            verdict_tone(verdict),
        ),
        None if unit.newest_unreadable => ("!", "UNREADABLE".to_owned(), Tone::Bad),
        None if unit.doubted.is_some() => ("!", "CLOCK?".to_owned(), Tone::Bad),
        None => (" ", "-".to_owned(), Tone::Quiet),
    };
    let tag = format!(" {:<18} ", cut(&unit.tag, 18));
    let taken = format!("{:<11} ", unit.taken);
    let outcome = format!("{mark} {word:<10} ");
    let records = match unit.unreadable {
        0 => unit.records.to_string(),
        n => format!("{}+{n}!", unit.records),
    };
    let course = format!("{:<16} {records:>7}  ", unit.course);
    let profile = unit.profile.as_deref().unwrap_or("-");
    let profile = if row.width < PROFILES { "" } else { profile };
    let pieces = [
        (" ", Tone::Plain),
        (pointer, Tone::Now),
        (&tag, tone),
        (&taken, Tone::Plain),
        (&outcome, verdict),
        (&course, Tone::Plain),
        (profile, Tone::Quiet),
    ];
    pen.pieces(row, row.y, &pieces);
}
