//! One machine's page: how it stands, what is next.

use super::document::{Block, Cell, Document, Section, Table, columns};
use super::proof::SAFETY;
use crate::machine::{Link, LinkState, Machine, Standing};
use schemars::JsonSchema;
use serde::Serialize;

/// How a machine stands, for programs.
#[derive(Serialize, JsonSchema)]
#[schemars(title = "standing/1")]
pub struct StandingJson<'a> {
    #[schemars(extend("const" = "standing/1"))]
    format: &'static str,
    /// What people call it.
    machine: &'a str,
    links: &'a [Link],
    /// Every link stands.
    ready: bool,
    /// The one thing to do next, with its command.
    next: &'a str,
}

pub fn standing_json<'a>(of: &'a Machine, standing: &'a Standing) -> StandingJson<'a> {
    StandingJson {
        format: "standing/1",
        machine: &of.name,
        links: &standing.links,
        ready: standing.ready,
        next: &standing.next,
    }
}

/// `elsewhere`: the machine's folder, when its commands are read in another.
pub fn machine(of: &Machine, standing: &Standing, elsewhere: Option<&str>) -> Document<'static> {
    let state = if standing.ready && standing.simulated() {
        "READY, with simulated recordings"
    } else if standing.ready {
        "READY"
    } else if standing.failed() {
        "NOT READY: something failed"
    } else {
        "NOT READY"
    };
    let rows = standing.links.iter().map(|link| {
        let word = link.state.word();
        let state = match link.state {
            LinkState::Done | LinkState::Missing => Cell::Text(word.to_owned()),
            LinkState::Failed | LinkState::Stale => Cell::Alarm(word.to_uppercase()),
        };
        vec![state, link.link.clone().into(), link.why.clone().into()]
    });
    let table = Table {
        columns: columns(["", "", ""]),
        rows: rows.collect(),
        indent: 2,
        wrapped: Some(2),
        ..Table::default()
    };
    Document {
        title: format!("{}: {state}", of.name),
        intro: vec![Block::Verbatim(next(standing, elsewhere))],
        sections: vec![
            Section::untitled(vec![Block::Table(table)]),
            Section::untitled(vec![Block::paragraph(SAFETY)]),
        ],
    }
}

/// Its commands name files of the machine's folder.
fn next(standing: &Standing, elsewhere: Option<&str>) -> String {
    let what = &standing.next;
    match elsewhere.filter(|_| what.contains("pedalproof ")) {
        Some(folder) => format!("NEXT  in the folder {folder}: {what}"),
        None => format!("NEXT  {what}"),
    }
}
