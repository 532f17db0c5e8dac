//! The units on record.

use crate::tui::draw::{Pen, cut, inset, scrolled, split};
use crate::tui::host::{Subject, UnitSummary};
use crate::tui::keys::Action;
use crate::tui::list::{Listed, shift};
use crate::tui::message::{Message, Request};
use crate::tui::theme::{Tone, verdict_tone};
use ratatui::layout::Rect;

/// From this width on the list names the profiles.
const PROFILES: u16 = 100;

#[derive(Debug, Clone, Default)]
pub struct Units {
    list: Listed<UnitSummary>,
    at: usize,
}

impl Units {
    pub fn update(&mut self, message: &Message) -> Vec<Request> {
        let units = self.list.items();
        match message {
            Message::Action(Action::Up, _) => shift(&mut self.at, -1, units.len()),
            Message::Action(Action::Down, _) => shift(&mut self.at, 1, units.len()),
            Message::Action(Action::Accept, _) => {
                let story = |unit: &UnitSummary| Box::new(Subject::Unit(unit.tag.clone()));
                let story = units.get(self.at).map(story);
                return story.map(|s| Request::Page(Ok(s))).into_iter().collect();
            }
            Message::Units(answer) => {
                self.list = Listed::from_answer(answer);
                shift(&mut self.at, 0, self.list.items().len());
            }
            _ => {}
        }
        Vec::new()
    }

    pub fn view(&self, pen: &mut Pen<'_>, area: Rect) {
        pen.heading(area, "The units kept");
        let list = split(area, 2).1;
        let (words, tone) = match &self.list {
            Listed::Asked => ("Reading the records.", Tone::Quiet),
            Listed::Failed(why) => (why.as_str(), Tone::Bad),
            Listed::There(units) if units.is_empty() => (
                "No record is kept yet. A run of a real board with a tag is kept when it is saved.",
                Tone::Open,
            ),
            Listed::There(units) => return self.rows(pen, list, units),
        };
        pen.wrapped(inset(list), words, tone);
    }

    fn rows(&self, pen: &mut Pen<'_>, area: Rect, units: &[UnitSummary]) {
        let title = format!(
            "   {:<18} {:<11} {:<12} {:<16} {:>7}  profile",
            "unit", "last taken", "verdict", "going", "records"
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
        None => (" ", "-".to_owned(), Tone::Quiet),
    };
    let tag = format!(" {:<18} ", cut(&unit.tag, 18));
    let taken = format!("{:<11} ", unit.taken);
    let outcome = format!("{mark} {word:<10} ");
    let course = format!("{:<16} {:>7}  ", unit.course, unit.records);
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
