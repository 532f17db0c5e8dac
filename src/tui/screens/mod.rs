//! The screens, each with its own state, its `update` and its `view`. None knows another: where one leads, it requests.

mod begin;
mod bench;
mod blend;
mod blocks;
mod earlier;
mod end_run;
pub mod help;
mod import;
mod machine;
mod page;
mod prove;
mod prove_ask;
mod sources;
mod station;
mod unit;
mod units;

pub use begin::Begin;
pub use bench::Bench;
pub use blend::Blend;
pub use blocks::Blocks;
pub use earlier::Earlier;
pub use import::Import;
pub use machine::Machine;
pub use page::Page;
pub use prove::Prove;
pub use prove_ask::ProveAsk;
pub use sources::Sources;
pub use station::Station;
pub use unit::Unit;
pub use units::Units;

#[cfg(test)]
pub use bench::{Picture, rows};

use super::draw::Pen;
use super::keys::Situation;
use super::message::{Message, Request};
use super::run::{Phase, Run};
use super::session::Session;
use ratatui::layout::Rect;

#[derive(Debug, Clone)]
pub enum Screen {
    Machine(Machine),
    Begin(Begin),
    Sources(Sources),
    Import(Import),
    Unit(Unit),
    Bench(Bench),
    Units(Units),
    Page(Page),
    Blocks(Blocks),
    Blend(Blend),
    ProveAsk(ProveAsk),
    Prove(Box<Prove>),
    Help,
    EndRun,
    Station(Station),
    Earlier(Earlier),
}

impl Screen {
    /// Whether it stands over another screen, and goes when that one has something to say.
    pub fn is_dialog(&self) -> bool {
        matches!(
            self,
            Self::Help | Self::EndRun | Self::Station(_) | Self::Earlier(_)
        )
    }

    /// Which keys mean something.
    pub fn situation(&self, run: &Run) -> Situation {
        let live = run.phase == Phase::Live;
        match self {
            Self::Machine(_) => Situation::Machine,
            Self::Begin(screen) => screen.situation(),
            Self::Sources(_) => Situation::Sources,
            Self::Import(_) => Situation::Form,
            Self::Unit(_) => Situation::Unit,
            Self::Bench(_) if live => Situation::Live,
            Self::Bench(_) => Situation::Ended,
            Self::Units(_) => Situation::Units,
            Self::Page(_) => Situation::Page,
            Self::Blocks(_) => Situation::Blocks,
            Self::Blend(_) => Situation::Blend,
            Self::ProveAsk(_) => Situation::ProveAsk,
            Self::Prove(_) if live => Situation::Proving,
            Self::Prove(_) => Situation::Proved,
            Self::Help => Situation::Help,
            Self::EndRun => Situation::EndRun,
            Self::Station(_) => Situation::Station,
            Self::Earlier(_) => Situation::Earlier,
        }
    }

    pub fn update(&mut self, session: &mut Session, message: &Message) -> Vec<Request> {
        match self {
            Self::Machine(screen) => screen.update(message),
            Self::Begin(screen) => screen.update(session, message),
            Self::Sources(screen) => screen.update(message),
            Self::Import(screen) => screen.update(message),
            Self::Unit(screen) => screen.update(session, message),
            Self::Bench(screen) => screen.update(session, message),
            Self::Units(screen) => screen.update(message),
            Self::Page(screen) => screen.update(message),
            Self::Blocks(screen) => screen.update(message),
            Self::Blend(screen) => screen.update(session, message),
            Self::ProveAsk(screen) => screen.update(message),
            Self::Prove(screen) => screen.update(session, message),
            Self::Help => Vec::new(),
            Self::EndRun => end_run::update(message),
            Self::Station(screen) => screen.update(message),
            Self::Earlier(screen) => screen.update(message),
        }
    }

    /// Draws it; the help page is drawn with the screen below it.
    pub fn view(&self, session: &Session, pen: &mut Pen<'_>, area: Rect) {
        match self {
            Self::Machine(screen) => screen.view(pen, area),
            Self::Begin(screen) => screen.view(session, pen, area),
            Self::Sources(screen) => screen.view(pen, area),
            Self::Import(screen) => screen.view(pen, area),
            Self::Unit(screen) => screen.view(session, pen, area),
            Self::Bench(screen) => screen.view(session, pen, area),
            Self::Units(screen) => screen.view(pen, area),
            Self::Page(screen) => screen.view(pen, area),
            Self::Blocks(screen) => screen.view(pen, area),
            Self::Blend(screen) => screen.view(session, pen, area),
            Self::ProveAsk(screen) => screen.view(pen, area),
            Self::Prove(screen) => screen.view(session, pen, area),
            Self::Help => {}
            Self::EndRun => end_run::view(pen, area),
            Self::Station(screen) => screen.view(pen, area),
            Self::Earlier(screen) => screen.view(pen, area),
        }
    }
}
