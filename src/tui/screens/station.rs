//! The position of a station, as it is typed.

use crate::bench::{RunCommand, RunEvent};
use crate::tui::draw::Pen;
use crate::tui::keys::Action;
use crate::tui::message::{Message, Request, command};
use crossterm::event::KeyCode;
use ratatui::layout::Rect;

/// The longest position that can be typed.
const LENGTH: usize = 12;

#[derive(Debug, Clone, Default)]
pub struct Station {
    pub typed: String,
}

impl Station {
    pub fn update(&mut self, message: &Message) -> Vec<Request> {
        match message {
            Message::Action(Action::Type, KeyCode::Char(letter)) => {
                let fits = letter.is_ascii_digit() || matches!(letter, '.' | '-');
                if fits && self.typed.len() < LENGTH {
                    self.typed.push(*letter);
                }
            }
            Message::Action(Action::Erase, _) => {
                self.typed.pop();
            }
            Message::Action(Action::Accept, _) => {
                let position = self.typed.trim().parse::<f64>().ok();
                if let Some(position) = position.filter(|p| p.is_finite()) {
                    let mut requests = command(RunCommand::Station(position));
                    requests.push(Request::Close);
                    return requests;
                }
            }
            Message::Run(RunEvent::Finished { .. } | RunEvent::Failed(_)) => {
                return vec![Request::Close];
            }
            _ => {}
        }
        Vec::new()
    }

    pub fn view(&self, pen: &mut Pen<'_>, area: Rect) {
        let typed = format!("{}_", self.typed);
        pen.dialog(area, ["Where does the control stand?", &typed]);
    }
}
