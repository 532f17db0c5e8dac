//! The earlier runs of the unit, to choose one that is drawn under the run on the bench.

use crate::tui::draw::{Pen, inset, rows_of, scrolled};
use crate::tui::host::EarlierOffer;
use crate::tui::keys::Action;
use crate::tui::list::{Listed, shift};
use crate::tui::message::{Message, Request};
use crate::tui::theme::Tone;
use ratatui::layout::Rect;

#[derive(Debug, Clone)]
pub struct Earlier {
    pub list: Listed<EarlierOffer>,
    /// The row under the pointer; the one after the last run stands for none.
    at: usize,
}

impl Earlier {
    pub fn new(list: Listed<EarlierOffer>) -> Self {
        Self { list, at: 0 }
    }

    pub fn update(&mut self, message: &Message) -> Vec<Request> {
        let rows = self.list.items().len() + 1;
        match message {
            Message::Action(Action::Up, _) => shift(&mut self.at, -1, rows),
            Message::Action(Action::Down, _) => shift(&mut self.at, 1, rows),
            Message::Action(Action::Accept, _) if !matches!(self.list, Listed::Asked) => {
                let chosen = self.list.items().get(self.at).cloned();
                return vec![Request::Close, Request::Overlay(chosen.map(Box::new))];
            }
            Message::Earlier(answer) => {
                self.list = Listed::from_answer(answer);
                shift(&mut self.at, 0, self.list.items().len() + 1);
            }
            _ => {}
        }
        Vec::new()
    }

    pub fn view(&self, pen: &mut Pen<'_>, area: Rect) {
        let rows = u16::try_from(self.list.items().len()).unwrap_or(u16::MAX);
        let height = rows.saturating_add(4).max(7).min(area.height);
        let place = rows_of(area, area.y + (area.height - height) / 2, height);
        pen.clear(place);
        let title = "an earlier run of this part, to lay under this one";
        pen.rule(place, place.top(), title);
        pen.rule(place, place.bottom().saturating_sub(1), "");
        let inner = rows_of(inset(place), place.y + 1, place.height.saturating_sub(2));
        let (words, tone) = match &self.list {
            Listed::Asked => ("Looking for recordings here and for records.", Tone::Quiet),
            Listed::Failed(why) => (why.as_str(), Tone::Bad),
            Listed::There(offers) if offers.is_empty() => (
                "None found: no recording of this tag in this folder, and no record of it.",
                Tone::Open,
            ),
            Listed::There(offers) => return self.rows(pen, inner, offers),
        };
        pen.wrapped(inset(inner), words, tone);
    }

    fn rows(&self, pen: &mut Pen<'_>, area: Rect, offers: &[EarlierOffer]) {
        let rows = offers
            .iter()
            .map(|offer| (offer.name.as_str(), offer.detail.as_str()))
            .chain([("nothing", "this run alone")]);
        for (row, at, (name, detail)) in scrolled(area, self.at, rows) {
            let (pointer, tone) = pen.pointer(at == self.at);
            let name = format!(" {name:<18} ");
            let pieces = [(pointer, Tone::Now), (&name, tone), (detail, Tone::Quiet)];
            pen.pieces(row, row.y, &pieces);
        }
    }
}
