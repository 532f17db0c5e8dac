//! A report as a list of sections, before it is HTML or Markdown: ready strings, and pictures as the values they show.
//!
//! Belongs here: the kinds of part that a report is made of. Does not belong here: what is said (`sections`), how it is written
//! (`html`, `markdown`).

use super::{Agreement, Trace};
use measure::judge::{Outcome, Verdict};
use measure::{DeviationCurve, Dropout, TravelMap, WornZone};

/// A whole report.
pub(super) struct Document<'a> {
    pub title: String,
    pub banner: Banner,
    pub sections: Vec<Section<'a>>,
}

/// The verdict, first of all.
pub(super) struct Banner {
    pub verdict: Option<Verdict>,
    /// `PASS: fit it`.
    pub headline: String,
    /// Which unit, held against what.
    pub unit: String,
    /// What decided it, one line each.
    pub why: Vec<String>,
}

/// One section; `id` is its anchor.
pub(super) struct Section<'a> {
    pub id: &'static str,
    pub title: &'static str,
    pub parts: Vec<Part<'a>>,
}

/// A piece of a section.
pub(super) enum Part<'a> {
    /// A heading below the section's own.
    Heading(String),
    Words(String),
    List(Vec<String>),
    /// Terms with what is said of each.
    Terms(Vec<(String, String)>),
    Findings(Vec<Found>),
    Table(Table),
    Picture(Picture<'a>),
}

/// A figure held against a limit.
pub(super) struct Found {
    pub outcome: Outcome,
    pub channel: String,
    pub figure: &'static str,
    /// `163.99 code`; a dash when not measured.
    pub value: String,
    /// `163.2 .. 164.8`; nothing for what is counted or not measured.
    pub interval: Option<String>,
    /// `0.08 .. 0.12`.
    pub allowed: String,
    pub gauge: Gauge,
    pub reason: String,
    pub advice: Option<String>,
}

/// A limit with the value and its interval in it, in the figure's unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Gauge {
    pub min: Option<f64>,
    pub max: Option<f64>,
    pub value: Option<f64>,
    pub low: Option<f64>,
    pub high: Option<f64>,
}

/// A table; every row has as many cells as there are columns.
pub(super) struct Table {
    pub caption: String,
    pub columns: Vec<(&'static str, Align)>,
    pub rows: Vec<Vec<Cell>>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Align {
    Words,
    Numbers,
}

pub(super) enum Cell {
    Text(String),
    /// A name as the program writes it.
    Name(String),
    Outcome(Outcome),
    /// To be seen at once: a fault that reads like a command.
    Alarm(String),
}

impl Cell {
    /// The cell's words.
    pub fn words(&self) -> String {
        match self {
            Self::Text(words) | Self::Name(words) | Self::Alarm(words) => words.clone(),
            Self::Outcome(outcome) => outcome.to_string(),
        }
    }
}

/// A picture: what it shows, in words for who cannot see it, and the values.
pub(super) struct Picture<'a> {
    pub caption: String,
    pub shows: Shows<'a>,
    /// The same in letters, for files without pictures; empty when there is none.
    pub letters: String,
}

#[derive(Clone, Copy)]
pub(super) enum Shows<'a> {
    /// One channel of a trace, by its place in it.
    Trace(&'a Trace, usize),
    Noise(&'a TravelMap, &'a [WornZone], &'a [Dropout]),
    /// The curve, the band that it must keep and the narrowest that holds it, % of span either way.
    Deviation(&'a DeviationCurve, Option<f64>, Option<f64>),
    /// Two tracks, and the band that they must keep, % of span either way.
    Agreement(&'a Agreement, Option<f64>),
}
