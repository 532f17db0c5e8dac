//! The blocks that can be looked at and proved against.

use crate::tui::draw::{Pen, cut, inset, scrolled, split, width};
use crate::tui::host::{BlockOffer, ProofRound};
use crate::tui::keys::Action;
use crate::tui::list::{Listed, shift};
use crate::tui::message::{Message, Request};
use crate::tui::theme::Tone;
use ratatui::layout::Rect;

#[derive(Debug, Clone, Default)]
pub struct Blocks {
    list: Listed<BlockOffer>,
    at: usize,
}

impl Blocks {
    pub fn update(&mut self, message: &Message) -> Vec<Request> {
        let blocks = self.list.items();
        let chosen = || blocks.get(self.at).cloned().map(Box::new);
        match message {
            Message::Action(Action::Up, _) => shift(&mut self.at, -1, blocks.len()),
            Message::Action(Action::Down, _) => shift(&mut self.at, 1, blocks.len()),
            Message::Action(Action::Accept, _) => {
                return chosen().map(Request::Blend).into_iter().collect();
            }
            Message::Action(Action::Prove, _) => {
                let ask = |offer| Request::ProveAsk(offer, ProofRound::Compare);
                return chosen().map(ask).into_iter().collect();
            }
            Message::Blocks(answer) => {
                self.list = Listed::from_answer(answer);
                shift(&mut self.at, 0, self.list.items().len());
            }
            _ => {}
        }
        Vec::new()
    }

    pub fn view(&self, pen: &mut Pen<'_>, area: Rect) {
        pen.heading(area, "Which constants file?");
        let body = inset(split(area, 2).1);
        let (words, tone) = match &self.list {
            Listed::Asked => ("Looking for constants files here.", Tone::Quiet),
            Listed::Failed(why) => (why.as_str(), Tone::Bad),
            Listed::There(offers) if offers.is_empty() => (
                "No constants file (.h, .hex, .json) is in this folder. The command `constants`, or g after a test, writes one.",
                Tone::Open,
            ),
            Listed::There(offers) => return self.rows(pen, body, offers),
        };
        pen.wrapped(body, words, tone);
    }

    fn rows(&self, pen: &mut Pen<'_>, area: Rect, offers: &[BlockOffer]) {
        let longest = |words: fn(&BlockOffer) -> &str| offers.iter().map(|o| width(words(o))).max();
        let detail = longest(|offer| &offer.detail).unwrap_or(0);
        let name = longest(|offer| &offer.name).unwrap_or(0);
        let name = usize::from(name.min(area.width.saturating_sub(detail + 4)).max(26));
        for (row, at, offer) in scrolled(area, self.at, offers) {
            let (pointer, tone) = pen.pointer(at == self.at);
            let name = format!(" {:<name$} ", cut(&offer.name, name));
            let pieces = [
                (pointer, Tone::Now),
                (&name, tone),
                (&offer.detail, Tone::Quiet),
            ];
            pen.pieces(row, row.y, &pieces);
        }
    }
}
