//! A page to read: a unit's story, a profile's wiring, the constants of a unit.

use crate::tui::draw::{Pen, columns_of, inset, split};
use crate::tui::host::Subject;
use crate::tui::keys::Action;
use crate::tui::list::scroll;
use crate::tui::message::{Message, Request};
use crate::tui::theme::Tone;
use ratatui::layout::Rect;

/// Columns that a page is set in.
const COLUMNS: u16 = 80;

#[derive(Debug, Clone)]
pub struct Page {
    /// What it is about; absent for one that only says why there is none.
    subject: Option<Box<Subject>>,
    /// Its rows, or why there are none; absent as long as it is being worked out.
    pub rows: Option<Result<Vec<String>, String>>,
    /// The row on top.
    top: usize,
}

impl Page {
    pub fn about(subject: Box<Subject>) -> Self {
        Self {
            subject: Some(subject),
            rows: None,
            top: 0,
        }
    }

    /// A page that says why there is none.
    pub fn refused(why: &str) -> Self {
        Self {
            subject: None,
            rows: Some(Err(why.to_owned())),
            top: 0,
        }
    }

    pub fn update(&mut self, message: &Message) -> Vec<Request> {
        match message {
            Message::Action(Action::Accept, _) => return self.next(),
            Message::Action(action, _) => {
                if let Some(Ok(text)) = &self.rows {
                    scroll(&mut self.top, *action, text.len());
                }
            }
            // One that was asked for before this one is left out.
            Message::Page(subject, answer) if self.subject.as_ref() == Some(subject) => {
                let rows = |text: &String| text.lines().map(str::to_owned).collect();
                self.rows = Some(answer.as_ref().map(rows).map_err(Clone::clone));
                self.top = 0;
            }
            _ => {}
        }
        Vec::new()
    }

    /// What enter does: on with the machine once its constants are there; back from what was only to be read.
    fn next(&self) -> Vec<Request> {
        match (self.subject.as_deref(), &self.rows) {
            (Some(Subject::Constants), Some(Ok(_))) => vec![Request::Next],
            (_, None) => Vec::new(),
            _ => vec![Request::Close],
        }
    }

    pub fn view(&self, pen: &mut Pen<'_>, area: Rect) {
        let title = match self.subject.as_deref() {
            Some(Subject::Unit(tag)) => format!("{tag} over time"),
            Some(Subject::Wiring(profile, _)) => {
                format!("Wiring of {}, and what breaks", profile.name)
            }
            Some(Subject::Constants) => "Constants of this machine".to_owned(),
            Some(Subject::Boards) => "The boards of this machine".to_owned(),
            // Constants alone are refused so.
            None => "No constants of this part alone".to_owned(),
        };
        pen.heading(area, &title);
        let body = split(area, 2).1;
        // Indented only where that leaves the page whole.
        let indent = body.width.saturating_sub(COLUMNS).min(3);
        let body = columns_of(body, body.x + indent, body.width - indent);
        let rows = match &self.rows {
            None => {
                pen.wrapped(inset(body), "Working it out.", Tone::Quiet);
                return;
            }
            Some(Err(why)) => {
                pen.wrapped(inset(body), why, Tone::Bad);
                return;
            }
            Some(Ok(rows)) => rows,
        };
        for (place, row) in body.rows().zip(rows.iter().skip(self.top)) {
            pen.left(place, place.y, row, Tone::Plain);
        }
        let below = rows
            .len()
            .saturating_sub(self.top + usize::from(body.height));
        if below > 0 {
            let more = format!(" {below} more rows below ");
            pen.right(area, area.top() + 1, &more, Tone::Quiet);
        }
    }
}
