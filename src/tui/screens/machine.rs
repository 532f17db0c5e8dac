//! The machine's page: what stands, what is next; enter does it.

use crate::machine::{Link, LinkState};
use crate::outlet::Shown;
use crate::tui::draw::{
    Pen, columns_of, cut, from_column, inset, rows_of, safety, scrolled, split, wrap,
};
use crate::tui::host::{MachineOffer, MachinePage, MachineTask, Subject};
use crate::tui::keys::Action;
use crate::tui::list::shift;
use crate::tui::message::{Effect, Message, Request};
use crate::tui::theme::Tone;
use crossterm::event::KeyCode;
use ratatui::layout::Rect;

#[derive(Debug, Clone, Default)]
pub struct Machine {
    /// How it stands; absent as long as it is looked at.
    page: Option<Result<MachinePage, String>>,
    /// What went wrong with the last thing that was begun.
    pub refused: Option<String>,
    /// Whether what is next is begun as soon as it is known.
    pub goes_on: bool,
    /// The file under the pointer, when none is open.
    at: usize,
}

impl Machine {
    pub fn update(&mut self, message: &Message) -> Vec<Request> {
        match message {
            Message::Action(Action::Accept, _) => return self.begin(),
            Message::Action(Action::Rescan, _) => return vec![Request::Effect(Effect::Machine)],
            Message::Action(action, key) => return self.choose(*action, *key),
            Message::Machine(answer) => {
                self.page = Some((**answer).clone());
                return self.go_on();
            }
            // The constants have been made, or not: either way it may stand otherwise now.
            Message::Page(subject, _) if matches!(**subject, Subject::Constants) => {
                self.look_again(None);
                return vec![Request::Effect(Effect::Machine)];
            }
            _ => {}
        }
        Vec::new()
    }

    /// What stood there may stand no more: nothing is begun before it was looked at.
    pub fn look_again(&mut self, refused: Option<String>) {
        *self = Self {
            refused,
            ..Self::default()
        };
    }

    /// Begins what is next, if that was asked for and nothing has failed that a person should read first.
    fn go_on(&mut self) -> Vec<Request> {
        let failed = |link: &Link| link.state == LinkState::Failed;
        let Some(Ok(page)) = &self.page else {
            return Vec::new();
        };
        let clear = !page.links.iter().any(failed);
        if std::mem::take(&mut self.goes_on) && clear {
            return self.begin();
        }
        Vec::new()
    }

    fn choose(&mut self, action: Action, key: KeyCode) -> Vec<Request> {
        let offers = match &self.page {
            Some(Ok(page)) => match &page.task {
                MachineTask::Open(offers) => offers.len() + 1,
                _ => 0,
            },
            _ => 0,
        };
        match (action, key) {
            (Action::Boards, _) => return vec![Request::Page(Ok(Box::new(Subject::Boards)))],
            (Action::Up, _) => shift(&mut self.at, -1, offers),
            (Action::Down, _) => shift(&mut self.at, 1, offers),
            (Action::Digit, KeyCode::Char(digit)) => {
                let row = digit.to_digit(10).and_then(|n| usize::try_from(n).ok());
                if let Some(at) = row.and_then(|n| n.checked_sub(1)).filter(|at| *at < offers) {
                    self.at = at;
                    return self.begin();
                }
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
            MachineTask::Open(offers) => match offers.get(self.at) {
                Some(offer) => vec![Request::Effect(Effect::OpenMachine(offer.file.clone()))],
                None => vec![Request::NewMachine],
            },
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
        let state = match page.ready {
            true if page.links.iter().any(|link| link.simulated) => {
                "ready, with simulated recordings"
            }
            true => "ready",
            false => "not ready",
        };
        if let MachineTask::Open(offers) = &page.task {
            return self.openings(pen, area, offers);
        }
        pen.heading(area, &format!("{}: {state}", page.name));
        let area = safety(pen, area);
        let list = rows_of(area, area.top() + 2, area.height.saturating_sub(2));
        let rest = links(pen, list, &page.links);
        let next = match &page.task {
            _ if page.ready => format!("NEXT  {}", page.next),
            MachineTask::Wiring(..) => format!("NEXT  {} (enter: its wiring)", page.next),
            _ => format!("NEXT  {}: press enter", page.next),
        };
        let rows = pen.wrapped(inset(rest), &next, Tone::Now);
        if let Some(why) = &self.refused {
            pen.wrapped(inset(split(rest, rows).1), why, Tone::Bad);
        }
    }
}

impl Machine {
    /// None is open: the machines of this folder, and starting one.
    fn openings(&self, pen: &mut Pen<'_>, area: Rect, offers: &[MachineOffer]) {
        let title = match offers {
            [] => "No machine here yet",
            _ => "Which machine?",
        };
        pen.heading(area, title);
        let area = inset(safety(pen, split(area, 2).1));
        let file = |offer: &MachineOffer| offer.file.shown().into_owned();
        let known = offers.iter().map(|offer| (offer.name.clone(), file(offer)));
        let start = (
            "start a machine".to_owned(),
            "then enter always does what is next".to_owned(),
        );
        for (row, at, (name, detail)) in scrolled(area, self.at, known.chain([start])) {
            let (pointer, tone) = pen.pointer(at == self.at);
            let names = if area.width < 72 { 20 } else { 28 };
            let name = format!(" {:<names$} ", cut(&name, names));
            let pieces = [
                (pointer, Tone::Now),
                (name.as_str(), tone),
                (detail.as_str(), Tone::Quiet),
            ];
            pen.pieces(row, row.y, &pieces);
        }
        let shown = u16::try_from(offers.len() + 2).unwrap_or(u16::MAX);
        let rest = split(area, shown).1;
        let words = "Enter chooses. To measure a part without a machine: n";
        let rows = pen.wrapped(rest, words, Tone::Now);
        if let Some(why) = &self.refused {
            pen.wrapped(split(rest, rows + 1).1, why, Tone::Bad);
        }
    }
}

/// Columns before a reason and behind it.
const WHY: u16 = 30;

/// Every link with its reason, which goes on in a second row where there is room for that; gives what is left below.
fn links(pen: &mut Pen<'_>, area: Rect, links: &[Link]) -> Rect {
    let columns = area.width.saturating_sub(WHY);
    let wanted = links
        .iter()
        .map(|link| wrap(&link.why, columns).len().clamp(1, 2));
    // What is next stands below.
    let room = usize::from(area.height.saturating_sub(4));
    let each = if wanted.sum::<usize>() <= room { 2 } else { 1 };
    let mut rest = area;
    for link in links {
        let taken = link_row(pen, split(rest, each).0, link);
        rest = split(rest, taken.max(1)).1;
    }
    split(rest, 1).1
}

fn link_row(pen: &mut Pen<'_>, area: Rect, link: &Link) -> u16 {
    let tone = match link.state {
        LinkState::Done => Tone::Good,
        LinkState::Failed => Tone::Bad,
        LinkState::Stale => Tone::Open,
        LinkState::Missing => Tone::Quiet,
    };
    let state = format!("   {:<8} ", link.state.word());
    let name = format!("{:<16} ", cut(&link.link, 16));
    let pieces = [(state.as_str(), tone), (name.as_str(), Tone::Strong)];
    pen.pieces(area, area.y, &pieces);
    let why = from_column(area, (area.x + WHY - 1).min(area.right()));
    let why = columns_of(why, why.x, why.width.saturating_sub(1));
    pen.wrapped(why, &link.why, Tone::Plain)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile;
    use crate::tui::host::Part;

    fn page(task: MachineTask) -> MachinePage {
        MachinePage {
            name: "trolley T1".to_owned(),
            links: Vec::new(),
            next: "measure pedal".to_owned(),
            task,
            ready: false,
            open: true,
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
            pins: Vec::new(),
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
        machine.goes_on = true;
        let next = machine.update(&Message::Machine(Box::new(Ok(page(
            MachineTask::Constants,
        )))));
        assert!(matches!(next[..], [Request::Page(Ok(_))]), "{next:?}");
        // What has failed is to be read first.
        let mut failed = page(MachineTask::Constants);
        failed.links = vec![Link {
            link: "control pedal".to_owned(),
            state: LinkState::Failed,
            evidence: None,
            why: String::new(),
            next: None,
            simulated: false,
            waits: false,
        }];
        machine.goes_on = true;
        assert!(
            machine
                .update(&Message::Machine(Box::new(Ok(failed))))
                .is_empty()
        );
    }

    #[test]
    fn without_a_machine_one_is_opened_or_started() {
        let mut machine = Machine::default();
        let offer = MachineOffer {
            name: "trolley T1".to_owned(),
            file: "T1.json".into(),
        };
        let mut none = page(MachineTask::Open(vec![offer]));
        none.open = false;
        machine.update(&Message::Machine(Box::new(Ok(none))));
        let open = enter(&mut machine).pop();
        assert!(
            matches!(&open, Some(Request::Effect(Effect::OpenMachine(file))) if file.ends_with("T1.json"))
        );
        machine.update(&Message::Action(Action::Down, KeyCode::Down));
        assert!(matches!(enter(&mut machine)[..], [Request::NewMachine]));
    }
}
