//! The list of what samples can come from.

use crate::report;
use crate::tui::draw::{Pen, first_shown, rows_of, safety, scrolled, split};
use crate::tui::host::{Choice, FITTING, Part, SourceKind, SourceOffer, Subject};
use crate::tui::keys::Action;
use crate::tui::list::shift;
use crate::tui::message::{Message, Request};
use crate::tui::theme::Tone;
use crossterm::event::KeyCode;
use ratatui::layout::Rect;

/// Rows that the list keeps, its heading among them.
const LIST_ROWS: u16 = 9;

#[derive(Debug, Clone, Default)]
pub struct Sources {
    pub offers: Vec<SourceOffer>,
    /// The offer under the pointer.
    at: usize,
    /// What went wrong with the last choice.
    pub refused: Option<String>,
    /// The machine's control that is to be measured; absent for a part that is named next.
    part: Option<Part>,
}

impl Sources {
    /// The sources for a control of the machine: nothing of it has to be asked.
    pub fn of_part(part: Part) -> Self {
        Self {
            part: Some(part),
            ..Self::default()
        }
    }

    pub fn update(&mut self, message: &Message) -> Vec<Request> {
        let count = self.offers.len();
        match message {
            Message::Action(Action::Up, _) => shift(&mut self.at, -1, count),
            Message::Action(Action::Down, _) => shift(&mut self.at, 1, count),
            Message::Action(Action::Accept, _) => return self.choose(),
            Message::Action(Action::Digit, KeyCode::Char(digit)) => {
                let number = digit.to_digit(10).and_then(|d| usize::try_from(d).ok());
                if let Some(at) = number
                    .and_then(|n| n.checked_sub(1))
                    .filter(|at| *at < count)
                {
                    self.at = at;
                    return self.choose();
                }
            }
            Message::Action(Action::File, _) => return vec![self.import(other_file())],
            Message::Action(Action::Boards, _) => {
                return vec![Request::Page(Ok(Box::new(Subject::Boards)))];
            }
            Message::Sources(offers) => {
                self.offers = match &self.part {
                    None => offers.clone(),
                    Some(part) => of_kind(offers, part),
                };
                self.offers.push(other_file());
                shift(&mut self.at, 0, self.offers.len());
            }
            _ => {}
        }
        Vec::new()
    }

    fn choose(&mut self) -> Vec<Request> {
        let Some(offer) = self.offers.get(self.at) else {
            return Vec::new();
        };
        self.refused.clone_from(&offer.blocked);
        if offer.blocked.is_some() {
            return Vec::new();
        }
        if offer.kind == SourceKind::Foreign {
            return vec![self.import(offer.clone())];
        }
        match &self.part {
            None => vec![Request::Unit(Box::new(offer.clone()))],
            Some(part) => vec![Request::Begin(Box::new(Choice {
                source: offer.clone(),
                tag: Some(part.tag.clone()),
                profile: Some(part.profile.clone()),
                control: Some(part.control.clone()),
            }))],
        }
    }

    fn import(&self, offer: SourceOffer) -> Request {
        Request::Import(Box::new(offer), self.part.clone().map(Box::new))
    }

    pub fn view(&self, pen: &mut Pen<'_>, area: Rect) {
        let title = match &self.part {
            None => "What shall we measure?".to_owned(),
            Some(part) => format!("Wire {} to a board, then choose it", part.control),
        };
        pen.heading(area, &title);
        let mut area = safety(pen, area);
        if let Some(part) = &self.part {
            area = wires(pen, area, part);
        }
        let refusal_rows = if self.refused.is_some() { 5 } else { 0 };
        let list = rows_of(
            area,
            area.top() + 2,
            area.height.saturating_sub(2 + refusal_rows),
        );
        if self.offers.is_empty() {
            let words = "Nothing found. Plug a board in and press r.";
            pen.put(list.left() + 3, list.top(), list.width, words, Tone::Open);
        }
        self.rows(pen, list);
        if let Some(why) = &self.refused {
            let place = Rect {
                x: area.left() + 3,
                y: list.bottom(),
                width: area.width.saturating_sub(4),
                height: refusal_rows,
            };
            pen.rule(place, place.top(), "it did not begin");
            let words = rows_of(place, place.top() + 1, refusal_rows - 1);
            pen.wrapped(words, why, Tone::Bad);
        }
    }

    /// Each offer, and above the first of each kind its title.
    fn rows(&self, pen: &mut Pen<'_>, list: Rect) {
        let mut rows: Vec<Result<(usize, &SourceOffer), &str>> = Vec::new();
        let mut kind = None;
        let mut pointed = 0;
        for (at, offer) in self.offers.iter().enumerate() {
            if kind.replace(offer.kind) != Some(offer.kind) {
                rows.push(Err(title(offer.kind)));
            }
            if at == self.at {
                pointed = rows.len();
            }
            rows.push(Ok((at, offer)));
        }
        let hidden = rows
            .len()
            .saturating_sub(first_shown(list, pointed) + usize::from(list.height));
        for (place, _, row) in scrolled(list, pointed, rows) {
            match row {
                Ok((at, offer)) => offer_row(pen, place, at, offer, at == self.at),
                Err(title) => {
                    pen.put(place.x + 2, place.y, place.width, title, Tone::Quiet);
                }
            }
        }
        if hidden > 0 {
            let more = format!(" {hidden} more below ");
            pen.right(list, list.top() - 1, &more, Tone::Quiet);
        }
    }
}

/// What the part can be measured at: of the simulated ones those of its kind, a good one first.
fn of_kind(offers: &[SourceOffer], part: &Part) -> Vec<SourceOffer> {
    let good = SourceOffer {
        tag: Some(part.tag.clone()),
        profile: Some(part.profile.name.clone()),
        ..SourceOffer::new(
            SourceKind::Simulated,
            FITTING,
            format!("{}, as it should be", part.profile.name),
        )
    };
    let fits = |offer: &&SourceOffer| {
        matches!(offer.kind, SourceKind::Port | SourceKind::Foreign)
            || offer.profile.as_ref() == Some(&part.profile.name)
    };
    let mut kept: Vec<SourceOffer> = offers.iter().filter(fits).cloned().collect();
    let at = kept.partition_point(|offer| offer.kind < SourceKind::Simulated);
    kept.insert(at, good);
    kept
}

/// How the part is wired, where there is room for it above the list; gives what is left below.
fn wires(pen: &mut Pen<'_>, area: Rect, part: &Part) -> Rect {
    let drawn = report::picture(&part.profile, &part.pins);
    let rows = u16::try_from(drawn.lines().count()).unwrap_or(u16::MAX);
    if area.height < rows.saturating_add(LIST_ROWS) {
        return area;
    }
    for (y, line) in (area.top() + 2..).zip(drawn.lines()) {
        let room = area.width.saturating_sub(4);
        pen.put(area.left() + 3, y, room, line, Tone::Plain);
    }
    split(area, rows + 1).1
}

fn title(kind: SourceKind) -> &'static str {
    match kind {
        SourceKind::Port => "boards at a port",
        SourceKind::Simulated => "simulated boards: no hardware needed",
        SourceKind::Capture => "recordings: replay",
        SourceKind::Foreign => "made with a scope, a logger, a spreadsheet",
    }
}

/// A file that is not in the working folder: its name is typed.
fn other_file() -> SourceOffer {
    SourceOffer::new(SourceKind::Foreign, "", "type its name")
}

fn shown_name(offer: &SourceOffer) -> &str {
    match offer.name.as_str() {
        "" => "another file",
        name => name,
    }
}

fn offer_row(pen: &mut Pen<'_>, area: Rect, at: usize, offer: &SourceOffer, chosen: bool) {
    let (pointer, name) = pen.pointer(chosen);
    let number = if at < 9 {
        format!(" {} ", at + 1)
    } else {
        "   ".to_owned()
    };
    let pieces = [
        ("  ", Tone::Plain),
        (pointer, Tone::Now),
        (&number, Tone::Quiet),
        (shown_name(offer), name),
    ];
    let x = pen.pieces(area, area.top(), &pieces);
    let names = if area.width < 80 { 18 } else { 32 };
    let x = (x + 2).max(area.left() + names);
    let (words, tone) = match &offer.blocked {
        Some(why) => (
            format!("cannot be used: {}", why.replace('\n', " ")),
            Tone::Bad,
        ),
        None => (offer.detail.clone(), Tone::Quiet),
    };
    let room = area.right().saturating_sub(x + 1);
    pen.put(x, area.top(), room, &words, tone);
}
