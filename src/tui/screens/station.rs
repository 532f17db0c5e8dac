//! A known position, or all of them, as it is typed.

use crate::bench::{RunCommand, RunEvent, StationWords, USUAL_STATIONS};
use crate::tui::draw::{Pen, wrap};
use crate::tui::keys::Action;
use crate::tui::message::{Message, Request, command};
use crossterm::event::KeyCode;
use ratatui::layout::Rect;

/// The longest line that can be typed.
const LENGTH: usize = 56;

#[derive(Debug, Clone, Default)]
pub struct Station {
    /// The position that is asked for; absent as long as none were stated.
    asked: Option<String>,
    typed: String,
    /// What was wrong with what was typed.
    refused: Option<String>,
}

impl Station {
    pub fn new(asked: Option<String>) -> Self {
        Self {
            asked,
            ..Self::default()
        }
    }

    pub fn update(&mut self, message: &Message) -> Vec<Request> {
        match message {
            Message::Action(Action::Type, KeyCode::Char(letter)) => {
                self.refused = None;
                if self.typed.chars().count() < LENGTH {
                    self.typed.push(*letter);
                }
            }
            Message::Action(Action::Erase, _) => {
                self.refused = None;
                self.typed.pop();
            }
            Message::Action(Action::Accept, _) => match self.typed_stations() {
                Ok(words) => {
                    let mut requests = command(RunCommand::Station(words));
                    requests.push(Request::Close);
                    return requests;
                }
                Err(why) => self.refused = Some(why),
            },
            Message::Run(RunEvent::Finished { .. } | RunEvent::Failed(_)) => {
                return vec![Request::Close];
            }
            _ => {}
        }
        Vec::new()
    }

    fn typed_stations(&self) -> Result<StationWords, String> {
        match (self.typed.trim(), &self.asked) {
            ("", None) => StationWords::read(USUAL_STATIONS),
            (typed, None) => StationWords::read(typed)
                .map_err(|why| format!("{why}; or all of them, e.g. {USUAL_STATIONS}")),
            (typed, Some(_)) => StationWords::read(typed),
        }
    }

    pub fn view(&self, pen: &mut Pen<'_>, area: Rect) {
        let mut lines = match &self.asked {
            None => vec![
                "Which positions does its scale show?".to_owned(),
                format!("Enter alone: {USUAL_STATIONS}"),
                "`...` goes on in the same step; a unit may follow: deg, mm".to_owned(),
            ],
            Some(asked) => vec![
                "Where does it stand?".to_owned(),
                format!("Enter alone: at {asked}"),
            ],
        };
        lines.push(format!("{}_", self.typed));
        if let Some(why) = &self.refused {
            lines.extend(wrap(why, area.width.saturating_sub(4).min(64)));
        }
        pen.dialog(area, &lines);
    }
}
