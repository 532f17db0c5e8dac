//! What is said, as values: the blocks that a text, a page of HTML and a Markdown file are written from.

use super::agreement::Agreement;
use super::recurring::{Along, Curve};
use super::trace::Trace;
use crate::record::ChannelPart;
use measure::figure::numbers::DASH;
use measure::holds::NoiseLines;
use measure::judge::{Outcome, Verdict};
use measure::{DeviationCurve, TravelMap};
use std::collections::BTreeMap;

#[derive(Default)]
pub struct Document<'a> {
    /// Empty where the first section says what it is.
    pub(super) title: String,
    /// What stands right below the title.
    pub(super) intro: Vec<Block<'a>>,
    pub(super) sections: Vec<Section<'a>>,
}

/// A section. Its title may be empty, and its anchor where nobody looks for it.
#[derive(Default)]
pub(super) struct Section<'a> {
    pub id: &'static str,
    pub title: String,
    pub blocks: Vec<Block<'a>>,
}

impl<'a> Section<'a> {
    pub fn new(title: impl Into<String>, blocks: Vec<Block<'a>>) -> Self {
        Self {
            id: "",
            title: title.into(),
            blocks,
        }
    }

    pub fn at(self, id: &'static str) -> Self {
        Self { id, ..self }
    }

    pub fn untitled(blocks: Vec<Block<'a>>) -> Self {
        Self::new("", blocks)
    }
}

pub(super) enum Block<'a> {
    Banner(Banner),
    /// A heading below the section's own, and what it adds: `Track 1`, `three-wire, 10 kohm`.
    Heading(String, String),
    /// What stands above a list or a paragraph that belongs to it.
    Caption(String),
    Paragraph(String),
    /// A paragraph behind its label, which says how far it is indented.
    Item(String, String),
    /// Lines as they are.
    Verbatim(String),
    /// Entries, and the mark that each has in a text.
    List(&'static str, Vec<String>),
    /// Terms with what is said of each.
    Terms(Vec<(String, String)>),
    Findings(Vec<FindingRow>),
    Table(Table),
    /// A table that few look at: on a page it opens on request, and is not printed.
    Folded(Table),
    Picture(Picture<'a>),
}

impl Block<'_> {
    /// A line or more at the margin.
    pub fn line(text: impl Into<String>) -> Self {
        Self::Item(String::new(), text.into())
    }

    pub fn heading(label: &str, text: impl Into<String>) -> Self {
        Self::Heading(label.to_owned(), text.into())
    }

    pub fn paragraph(text: impl Into<String>) -> Self {
        Self::Paragraph(text.into())
    }

    pub fn terms<'t>(terms: impl IntoIterator<Item = (&'t str, impl Into<String>)>) -> Self {
        let terms = terms.into_iter();
        Self::Terms(
            terms
                .map(|(term, text)| (term.to_owned(), text.into()))
                .collect(),
        )
    }

    pub fn item(label: &str, text: impl Into<String>) -> Self {
        Self::Item(label.to_owned(), text.into())
    }
}

pub(super) struct Banner {
    pub verdict: Option<Verdict>,
    /// `PASS: fit it`.
    pub headline: String,
    /// Which unit, held against what.
    pub unit: String,
    /// What decided it, one line each.
    pub why: Vec<String>,
}

pub(super) struct FindingRow {
    pub outcome: Outcome,
    pub channel: String,
    /// In words.
    pub label: String,
    /// `163.99 code`; a dash when not measured.
    pub value: String,
    /// `163.2 .. 164.8`; nothing for what is counted or not measured.
    pub interval: Option<String>,
    /// `0.08 .. 0.12`; empty without a limit.
    pub allowed: String,
    pub gauge: Gauge,
    /// Nothing where the outcome says it all.
    pub reason: Option<String>,
    pub advice: Option<String>,
}

impl FindingRow {
    /// Rows in the order in which they matter.
    pub fn block(mut rows: Vec<Self>) -> Block<'static> {
        rows.sort_by_key(|row| match row.outcome {
            Outcome::Fail => 0,
            Outcome::Undecided => 1,
            Outcome::NotMeasured => 2,
            Outcome::Pass => 3,
        });
        Block::Findings(rows)
    }
}

/// A limit with the value and its interval in it, in the figure's unit.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Gauge {
    pub min: Option<f64>,
    pub max: Option<f64>,
    pub value: Option<f64>,
    pub low: Option<f64>,
    pub high: Option<f64>,
}

/// A table; every row has as many cells as there are columns. Columns without a name have no header.
#[derive(Default)]
pub(super) struct Table {
    /// May be empty.
    pub caption: String,
    /// Spaces before each line of a text.
    pub indent: usize,
    /// The column that is wrapped where a text would be too wide; without one, rows are as long as they are.
    pub wrapped: Option<usize>,
    pub columns: Vec<Column>,
    pub rows: Vec<Vec<Cell>>,
}

pub(super) struct Column {
    pub name: &'static str,
    pub align: Align,
}

/// Columns by their names; `>` before a name makes it one of numbers, which end at the right.
pub(super) fn columns(names: impl IntoIterator<Item = &'static str>) -> Vec<Column> {
    let column = |name: &'static str| match name.strip_prefix('>') {
        Some(name) => (name, Align::Right),
        None => (name, Align::Left),
    };
    let columns = names.into_iter().map(column);
    columns
        .map(|(name, align)| Column { name, align })
        .collect()
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Align {
    Left,
    Right,
}

pub(super) enum Cell {
    Text(String),
    /// A name as the program writes it.
    Name(&'static str),
    Outcome(Outcome),
    /// To be seen at once: a fault that reads like a command.
    Alarm(String),
}

impl Cell {
    pub fn dash() -> Self {
        DASH.into()
    }

    pub fn text(&self) -> String {
        match self {
            Self::Text(text) | Self::Alarm(text) => text.clone(),
            Self::Name(name) => (*name).to_owned(),
            Self::Outcome(outcome) => outcome.to_string(),
        }
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}

/// A picture: a caption that tells what it shows, and the values.
pub(super) struct Picture<'a> {
    pub caption: String,
    pub plot: Plot<'a>,
    /// The same in ASCII, for texts; empty when there is none.
    pub ascii: String,
}

#[derive(Clone, Copy)]
pub(super) enum Plot<'a> {
    /// One channel of a trace, by its place in it, and what of it was assessed.
    Trace(&'a Trace, usize, Option<&'a ChannelPart>),
    Noise(&'a TravelMap, &'a ChannelPart),
    Along(&'a Along),
    /// Returns over each other, close up at rest, over the band that is allowed there.
    Returns(&'a [Curve], Option<(f64, f64)>),
    Strokes(&'a [Curve]),
    /// How often each reading came at rest.
    AtRest(&'a BTreeMap<i64, u64>),
    /// What the noise at rest is made of, and the mains line in it, hertz.
    Lines(&'a NoiseLines, u32),
    /// The curve, the band that it must keep and the narrowest that holds it, % of span either way.
    Deviation(&'a DeviationCurve, Option<f64>, Option<f64>),
    /// Two tracks, and the band that they must keep, % of span either way.
    Agreement(&'a Agreement, Option<f64>),
}
