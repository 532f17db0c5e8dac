//! The question before a flashed board is made to run and proved against its block.

use crate::report::SAFETY;
use crate::tui::draw::{Pen, inset, scrolled, split};
use crate::tui::host::{BlockOffer, ProofChoice, ProofRound, SourceKind, SourceOffer, Subject};
use crate::tui::keys::Action;
use crate::tui::list::shift;
use crate::tui::message::{Message, Request};
use crate::tui::theme::Tone;
use crossterm::event::KeyCode;
use ratatui::layout::Rect;

/// What must be typed before a board is made to run.
const YES: &str = "yes";

/// The longest answer that can be typed.
const LENGTH: usize = 8;

#[derive(Debug, Clone)]
pub struct ProveAsk {
    /// What the board was flashed with.
    offer: BlockOffer,
    /// What it can be measured at.
    sources: Vec<SourceOffer>,
    /// The source under the pointer.
    at: usize,
    pub round: ProofRound,
    pub typed: String,
    /// Why the last one did not begin.
    refused: Option<String>,
}

impl ProveAsk {
    pub fn new(offer: BlockOffer, round: ProofRound, refused: Option<String>) -> Self {
        Self {
            sources: measurable(&[], &offer),
            offer,
            at: 0,
            round,
            typed: String::new(),
            refused,
        }
    }

    pub fn update(&mut self, message: &Message) -> Vec<Request> {
        match message {
            Message::Action(Action::Up, _) => shift(&mut self.at, -1, self.sources.len()),
            Message::Action(Action::Down, _) => shift(&mut self.at, 1, self.sources.len()),
            Message::Action(Action::Boards, _) => {
                return vec![Request::Page(Ok(Box::new(Subject::Boards)))];
            }
            Message::Action(Action::Round, _) => self.round = self.round.other(),
            Message::Action(Action::Type, KeyCode::Char(letter))
                if self.typed.len() < LENGTH && letter.is_ascii_alphabetic() =>
            {
                self.typed.push(*letter);
            }
            Message::Action(Action::Erase, _) => {
                self.typed.pop();
            }
            Message::Action(Action::Accept, _) => match self.choice() {
                Ok(choice) => return vec![Request::Prove(Box::new(choice))],
                Err(why) => self.refused = Some(why),
            },
            Message::Sources(offers) => self.sources = measurable(offers, &self.offer),
            _ => {}
        }
        Vec::new()
    }

    /// What has been chosen, or why nothing is begun.
    fn choice(&self) -> Result<ProofChoice, String> {
        let source = self
            .sources
            .get(self.at)
            .ok_or("There is no board to measure: plug one in and press f5.")?;
        if let Some(why) = &source.blocked {
            return Err(why.clone());
        }
        if !self.typed.eq_ignore_ascii_case(YES) {
            return Err("Nothing is begun before yes is typed.".to_owned());
        }
        Ok(ProofChoice {
            offer: self.offer.clone(),
            source: source.clone(),
            round: self.round,
        })
    }

    pub fn view(&self, pen: &mut Pen<'_>, area: Rect) {
        pen.heading(area, "Test the flashed board");
        let (body, foot) = split(area, area.height.saturating_sub(4));
        let mut rest = inset(split(body, 2).1);
        let mut row = |pen: &mut Pen<'_>, words: &str, tone: Tone| {
            let rows = pen.wrapped(rest, words, tone);
            rest = split(rest, rows).1;
        };
        row(pen, SAFETY, Tone::Open);
        row(
            pen,
            "Isolate the traction battery while wiring.",
            Tone::Open,
        );
        let block = format!("file    {}", self.offer.name);
        row(pen, &block, Tone::Plain);
        for round in [ProofRound::Compare, ProofRound::Faults] {
            let (mark, tone) = chosen(pen, self.round == round, Tone::Quiet);
            let words = format!("{mark} {}: {}", round.title(), round.instruction());
            row(pen, &words, tone);
        }
        row(pen, "can be measured at", Tone::Quiet);
        self.list(pen, rest);
        let foot = inset(foot);
        let (words, tone) = self.measured_at();
        pen.left(foot, foot.top(), &words, tone);
        let foot = split(foot, 1).1;
        let question = format!(
            "Are the drive wheels off the ground or the motor leads off? Type {YES}: {}_",
            self.typed
        );
        let rows = pen.wrapped(foot, &question, Tone::Now);
        if let Some(why) = &self.refused {
            pen.wrapped(split(foot, rows).1, why, Tone::Bad);
        }
    }

    /// The board that is made to run: it stands above the question on a screen of any size.
    fn measured_at(&self) -> (String, Tone) {
        let Some(source) = self.sources.get(self.at) else {
            let words = "measured at: no board found; plug one in and press f5";
            return (words.to_owned(), Tone::Open);
        };
        let change = if self.sources.len() > 1 {
            " (up/down changes it)"
        } else {
            ""
        };
        let words = format!("measured at: {}{change}", source.name);
        (words, Tone::Strong)
    }

    fn list(&self, pen: &mut Pen<'_>, area: Rect) {
        for (row, at, source) in scrolled(area, self.at, &self.sources) {
            let (mark, tone) = chosen(pen, at == self.at, Tone::Plain);
            let detail = match source.blocked {
                Some(_) => "cannot be used as it is",
                None => source.detail.as_str(),
            };
            let words = format!("{mark} {}: {detail}", source.name);
            pen.left(row, row.y, &words, tone);
        }
    }
}

/// What a board with this block can be measured at.
fn measurable(offers: &[SourceOffer], block: &BlockOffer) -> Vec<SourceOffer> {
    let ports = offers.iter().filter(|offer| offer.kind == SourceKind::Port);
    let simulated = block.simulated.then(|| {
        SourceOffer::new(
            SourceKind::Simulated,
            "simulated flashed board",
            "no hardware needed, it does what is asked",
        )
    });
    ports.cloned().chain(simulated).collect()
}

/// The mark and tone of a choice.
fn chosen(pen: &Pen<'_>, is: bool, otherwise: Tone) -> (&'static str, Tone) {
    if is {
        (pen.glyphs().pointer, Tone::Strong)
    } else {
        ("-", otherwise)
    }
}
