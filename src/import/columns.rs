//! Columns of a sheet as a person names them, and what a person says of a file.

use super::errors::{Asks, SamplesError};
use super::sheet::{Heading, Sheet};
use super::units::{SignalUnit, TimeUnit};

/// What the person says of the file.
#[derive(Debug, Clone, Default)]
pub struct Asked {
    pub time: TimeColumn,
    pub time_unit: Option<TimeUnit>,
    /// Every column of numbers but the time when empty.
    pub signals: Vec<ChannelColumn>,
    pub unit: Option<SignalUnit>,
}

/// Where the time of a sample stands.
#[derive(Debug, Clone, Default)]
pub enum TimeColumn {
    /// The column that looks like it.
    #[default]
    Guessed,
    /// A heading, or a number from 1.
    Named(String),
    /// There is none: so many samples a second.
    Rate(f64),
}

/// `lever=CH1`: a channel and the column that it is in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChannelColumn {
    /// Called after the column's heading when absent.
    pub channel: Option<String>,
    pub column: String,
}

/// The columns as a person would name them.
pub fn listed(sheet: &Sheet) -> String {
    if sheet.headings.iter().all(|heading| heading.full.is_empty()) {
        return match sheet.headings.len() {
            1 => "one column, without a heading".to_owned(),
            n => format!("{n} columns, without headings"),
        };
    }
    let name = |(at, heading): (usize, &Heading)| match heading.full.as_str() {
        "" => format!("{}", at + 1),
        full => format!("{} `{full}`", at + 1),
    };
    let names: Vec<_> = sheet
        .headings
        .iter()
        .take(20)
        .enumerate()
        .map(name)
        .collect();
    let more = if sheet.headings.len() > 20 {
        ", ..."
    } else {
        ""
    };
    format!("the columns {}{more}", names.join(", "))
}

/// A column by its heading, whole or without the unit, or by its number from 1.
pub fn find(sheet: &Sheet, asked: Asks, name: &str) -> Result<usize, SamplesError> {
    let same = |heading: &Heading| {
        let name = name.trim();
        !name.is_empty()
            && (heading.full.eq_ignore_ascii_case(name) || heading.name.eq_ignore_ascii_case(name))
    };
    let number = || {
        name.trim()
            .parse::<usize>()
            .ok()
            .and_then(|n| n.checked_sub(1))
    };
    let found = sheet.headings.iter().position(same).or_else(number);
    let numbers = |at: &usize| {
        sheet
            .columns
            .get(*at)
            .is_some_and(|column| column.iter().any(|x| x.is_finite()))
    };
    found.filter(numbers).ok_or_else(|| SamplesError::NoColumn {
        asked,
        name: name.to_owned(),
        columns: listed(sheet),
    })
}

pub fn called_or_number(sheet: &Sheet, at: usize) -> String {
    match sheet.headings[at].full.as_str() {
        "" => (at + 1).to_string(),
        full => format!("`{full}`"),
    }
}
