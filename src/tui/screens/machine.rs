//! The machine's page: what stands, what is next; enter does it.

use crate::machine::{Link, LinkState};
use crate::tui::draw::{Pen, cut, inset, rows_of, safety, split};
use crate::tui::host::{MachinePage, MachineTask, Subject};
use crate::tui::keys::Action;
use crate::tui::message::{Effect, Message, Request};
use crate::tui::theme::Tone;
use ratatui::layout::Rect;

#[derive(Debug, Clone, Default)]
pub struct Machine {
    /// How it stands; absent as long as it is looked at.
    page: Option<Result<MachinePage, String>>,
    /// What went wrong with the last thing that was begun.
    pub refused: Option<String>,
}

impl Machine {
    pub fn update(&mut self, message: &Message) -> Vec<Request> {
        match message {
            Message::Action(Action::Accept, _) => return self.begin(),
            Message::Action(Action::Rescan, _) => return vec![Request::Effect(Effect::Machine)],
            Message::Machine(answer) => self.page = Some((**answer).clone()),
            // The constants have been made, or not: either way it may stand otherwise now.
            Message::Page(subject, _) if matches!(**subject, Subject::Constants) => {
                return vec![Request::Effect(Effect::Machine)];
            }
            _ => {}
        }
        Vec::new()
    }

    /// Begins the next thing.
    fn begin(&mut self) -> Vec<Request> {
        self.refused = None;
        let Some(Ok(page)) = &self.page else {
            return Vec::new();
        };
        match &page.task {
            MachineTask::Measure(part) => vec![Request::Measure(part.clone())],
            MachineTask::Wiring(profile, bits) => {
                let wiring = Subject::Wiring(profile.clone(), *bits);
                vec![Request::Page(Ok(Box::new(wiring)))]
            }
            MachineTask::Constants => vec![Request::Page(Ok(Box::new(Subject::Constants)))],
            MachineTask::Prove(offer, round) => vec![Request::ProveAsk(offer.clone(), *round)],
            MachineTask::Nothing => Vec::new(),
        }
    }

    pub fn view(&self, pen: &mut Pen<'_>, area: Rect) {
        let page = match &self.page {
            Some(Ok(page)) => page,
            None => {
                pen.heading(area, "The machine");
                let body = inset(split(area, 2).1);
                pen.wrapped(
                    body,
                    "Looking at everything that belongs to it.",
                    Tone::Quiet,
                );
                return;
            }
            Some(Err(why)) => {
                pen.heading(area, "The machine");
                pen.wrapped(inset(split(area, 2).1), why, Tone::Bad);
                return;
            }
        };
        let state = if page.ready { "ready" } else { "not ready" };
        pen.heading(area, &format!("{}: {state}", page.name));
        let area = safety(pen, area);
        let list = rows_of(area, area.top() + 2, area.height.saturating_sub(2));
        for (row, link) in list.rows().zip(&page.links) {
            link_row(pen, row, link);
        }
        let shown = u16::try_from(page.links.len()).unwrap_or(u16::MAX);
        let rest = split(list, shown.saturating_add(1).min(list.height)).1;
        let next = if page.ready {
            format!("NEXT  {}", page.next)
        } else {
            format!("NEXT  {}: press enter", page.next)
        };
        let rows = pen.wrapped(inset(rest), &next, Tone::Now);
        if let Some(why) = &self.refused {
            pen.wrapped(inset(split(rest, rows).1), why, Tone::Bad);
        }
    }
}

fn link_row(pen: &mut Pen<'_>, row: Rect, link: &Link) {
    let tone = match link.state {
        LinkState::Done => Tone::Good,
        LinkState::Failed => Tone::Bad,
        LinkState::Stale => Tone::Open,
        LinkState::Missing => Tone::Quiet,
    };
    let state = format!("   {:<8} ", link.state.word());
    let name = format!("{:<16} ", cut(&link.link, 16));
    let pieces = [
        (state.as_str(), tone),
        (name.as_str(), Tone::Strong),
        (link.why.as_str(), Tone::Plain),
    ];
    pen.pieces(row, row.y, &pieces);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile;
    use crate::tui::host::Part;
    use crossterm::event::KeyCode;

    fn page(task: MachineTask) -> MachinePage {
        MachinePage {
            name: "trolley T1".to_owned(),
            links: Vec::new(),
            next: "measure pedal".to_owned(),
            task,
            ready: false,
        }
    }

    fn enter(machine: &mut Machine) -> Vec<Request> {
        machine.update(&Message::Action(Action::Accept, KeyCode::Enter))
    }

    #[test]
    fn enter_does_the_next_thing_and_nothing_before_it_is_known() {
        let mut machine = Machine::default();
        assert!(enter(&mut machine).is_empty());
        let part = Part {
            control: "pedal".to_owned(),
            tag: "T1-pedal".to_owned(),
            profile: profile::find("pedal-hall-two-track").unwrap(),
        };
        let tasks = [
            MachineTask::Measure(Box::new(part)),
            MachineTask::Constants,
            MachineTask::Nothing,
        ];
        let asked = tasks.map(|task| {
            machine.update(&Message::Machine(Box::new(Ok(page(task)))));
            enter(&mut machine).pop()
        });
        assert!(matches!(&asked[0], Some(Request::Measure(part)) if part.tag == "T1-pedal"));
        assert!(
            matches!(&asked[1], Some(Request::Page(Ok(subject))) if **subject == Subject::Constants)
        );
        assert!(asked[2].is_none());
    }
}
