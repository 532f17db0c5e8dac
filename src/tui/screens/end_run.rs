//! The question whether to end the run.

use crate::bench::{RunCommand, RunEvent};
use crate::tui::draw::Pen;
use crate::tui::keys::Action;
use crate::tui::message::{Message, Request, command};
use ratatui::layout::Rect;

pub fn update(message: &Message) -> Vec<Request> {
    match message {
        Message::Action(Action::StopRun, _) => {
            let mut requests = command(RunCommand::Stop);
            requests.push(Request::Close);
            requests
        }
        Message::Run(RunEvent::Finished { .. } | RunEvent::Failed(_)) => vec![Request::Close],
        _ => Vec::new(),
    }
}

pub fn view(pen: &mut Pen<'_>, area: Rect) {
    let lines = [
        "Stop here?",
        "The recording of a real board is kept, in this folder.",
    ];
    pen.dialog(area, &lines.map(str::to_owned));
}
