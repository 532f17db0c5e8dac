//! Text -> columns of numbers: which separator, which decimal sign, where the headings stand, what is no row.

use super::numbers::number;
use super::units::{bare, is_unit, parted};
use std::cmp::Reverse;
use std::collections::HashMap;
use thiserror::Error;

/// Columns of numbers with their headings.
#[derive(Debug, Default)]
pub struct Sheet {
    pub headings: Vec<Heading>,
    /// A column for each heading, a number for each row; NaN where a cell holds none.
    pub columns: Vec<Vec<f64>>,
    /// Lines among the rows that are none and no comment.
    pub others: u64,
    /// What was seen of the file, in words.
    pub seen: Vec<String>,
}

#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Heading {
    /// Without its unit; empty where the file has no headings.
    pub name: String,
    /// As it stands there.
    pub full: String,
    pub unit: Option<String>,
}

#[derive(Debug, Error, PartialEq, Eq)]
pub enum SheetError {
    #[error("it holds no text")]
    Empty,
    #[error(
        "no rows of numbers were found in it, separated by commas, semicolons, tabs or blanks. Save it as CSV, one sample a line"
    )]
    NoNumbers,
    #[error(
        "it has lines of more than {LONGEST_LINE} bytes, and no recording has: is it the right file?"
    )]
    LongLine,
    #[error(
        "it has {0} columns, and {MOST_COLUMNS} are the most that are looked at: save the ones that matter"
    )]
    TooWide(usize),
}

/// No scope or logger of a workshop has more.
const MOST_COLUMNS: usize = 256;
/// Bytes: wider than the most columns.
const LONGEST_LINE: usize = 1 << 16;
/// Lines that are tried to find out how a file is made.
const TRIED: usize = 400;

/// How cells are parted and numbers written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Style {
    /// Blanks, when absent.
    separator: Option<char>,
    decimal: char,
}

const STYLES: [(Option<char>, char); 8] = [
    (Some(';'), '.'),
    (Some(';'), ','),
    (Some('\t'), '.'),
    (Some('\t'), ','),
    (Some(','), '.'),
    (None, '.'),
    (None, ','),
    // Numbers in quotes.
    (Some(','), ','),
];

impl Sheet {
    pub fn read(text: &str) -> Result<Self, SheetError> {
        if text
            .split(['\n', '\r'])
            .any(|line| line.len() > LONGEST_LINE)
        {
            return Err(SheetError::LongLine);
        }
        let mut lines: Vec<&str> = text.split(['\n', '\r']).map(str::trim_end).collect();
        let mut seen = Vec::new();
        let stated = stated_separator(&lines);
        if let Some((at, separator)) = stated {
            lines.drain(..=at);
            seen.push(format!("separator `{separator}`, as its first line says"));
        }
        if lines.iter().all(|line| line.is_empty()) {
            return Err(SheetError::Empty);
        }
        let (style, pattern) =
            style(&lines, stated.map(|(_, c)| c)).ok_or(SheetError::NoNumbers)?;
        if pattern.len() > MOST_COLUMNS {
            return Err(SheetError::TooWide(pattern.len()));
        }
        if stated.is_none() && pattern.len() > 1 {
            seen.push(format!("separator {}", style.separator_word()));
        }
        if style.decimal == ',' {
            seen.push("decimal commas".to_owned());
        }
        let rows = rows(&lines, style, &pattern);
        let sheet = Self {
            headings: headings(&lines[..rows.first], style, pattern.len()),
            columns: rows.columns,
            others: rows.others,
            seen,
        };
        match sheet.columns.first().map_or(0, Vec::len) {
            0 | 1 => Err(SheetError::NoNumbers),
            _ => Ok(sheet),
        }
    }
}

/// `sep=;` ahead of everything, as spreadsheets write it for each other.
fn stated_separator(lines: &[&str]) -> Option<(usize, char)> {
    let at = lines.iter().position(|line| !line.is_empty())?;
    let first = lines[at].trim_matches('"');
    let (key, rest) = first.split_at_checked(4)?;
    let mut rest = rest.chars();
    let separator = rest.next().unwrap_or('\t'); // a tab at a line's end is trimmed away
    (key.eq_ignore_ascii_case("sep=") && rest.next().is_none()).then_some((at, separator))
}

/// A line's text when it is no comment.
fn uncommented(line: &str) -> Option<&str> {
    let comment = ["#", "//", "%", "\"#"]
        .iter()
        .any(|mark| line.starts_with(mark));
    (!comment && !line.trim().is_empty()).then_some(line)
}

/// How most lines are made, and which of their cells are numbers.
fn style(lines: &[&str], stated: Option<char>) -> Option<(Style, Vec<bool>)> {
    let all: Vec<&str> = lines.iter().copied().filter_map(uncommented).collect();
    // Headings stand ahead: the second half says what a row is.
    let half = &all[all.len() / 2..];
    let step = half.len().div_ceil(TRIED).max(1);
    let tried: Vec<&str> = half.iter().copied().step_by(step).collect();
    let styles = STYLES
        .iter()
        .map(|&(separator, decimal)| Style { separator, decimal });
    let of_stated = ['.', ','].map(|decimal| Style {
        separator: stated,
        decimal,
    });
    let styles: Vec<Style> = match stated {
        Some(_) => of_stated.to_vec(),
        None => styles.collect(),
    };
    let mut best = None;
    for style in styles {
        let Some((count, pattern)) = pattern(&tried, style) else {
            continue;
        };
        let numeric = pattern.iter().filter(|numeric| **numeric).count();
        let headed = is_headed(&all, style, &pattern);
        let rank = (count, Reverse(pattern.len() - numeric), headed, numeric);
        if best.as_ref().is_none_or(|(before, _)| rank > *before) {
            best = Some((rank, (style, pattern)));
        }
    }
    best.map(|(_, found)| found)
}

/// The commonest pattern of cells that are numbers, and how many of the lines have it.
fn pattern(lines: &[&str], style: Style) -> Option<(usize, Vec<bool>)> {
    let mut counts: HashMap<Vec<bool>, usize> = HashMap::new();
    for line in lines {
        let numeric = |cell: &str| number(cell, style.decimal).is_some();
        let cells: Vec<bool> = style.cells(line).iter().map(|cell| numeric(cell)).collect();
        if cells.contains(&true) {
            *counts.entry(cells).or_default() += 1;
        }
    }
    // Of two that are as common, the same one in every run.
    let common = counts
        .into_iter()
        .max_by(|a, b| (a.1, &a.0).cmp(&(b.1, &b.0)));
    common.map(|(cells, count)| (count, cells))
}

/// Whether the line before the first row has as many cells.
fn is_headed(lines: &[&str], style: Style, pattern: &[bool]) -> bool {
    let first = lines
        .iter()
        .position(|line| row(line, style, pattern).is_some());
    first
        .and_then(|at| lines.get(at.checked_sub(1)?))
        .is_some_and(|above| style.cells(above).len() == pattern.len())
}

/// The numbers of a row; nothing when the line is none.
fn row(line: &str, style: Style, pattern: &[bool]) -> Option<Vec<f64>> {
    let mut cells = style.cells(line);
    if cells.len() + 1 == pattern.len() && style.separator.is_some_and(|c| line.ends_with(c)) {
        cells.push(String::new());
    }
    if cells.len() != pattern.len() {
        return None;
    }
    let mut some = false;
    let mut numbers = Vec::with_capacity(cells.len());
    for (cell, numeric) in cells.iter().zip(pattern) {
        match number(cell, style.decimal).filter(|_| *numeric) {
            Some(number) => {
                some = true;
                numbers.push(number);
            }
            None if *numeric && !cell.trim().is_empty() && !is_gap(cell) => return None,
            None => numbers.push(f64::NAN),
        }
    }
    some.then_some(numbers)
}

/// What instruments write where they have no value.
fn is_gap(cell: &str) -> bool {
    let cell = cell.trim().to_lowercase();
    matches!(
        cell.as_str(),
        "nan"
            | "-nan"
            | "inf"
            | "-inf"
            | "+inf"
            | "ol"
            | "-ol"
            | "---"
            | "-"
            | "n/a"
            | "na"
            | "overload"
    )
}

struct Rows {
    /// The line of the first row, by its place.
    first: usize,
    columns: Vec<Vec<f64>>,
    others: u64,
}

fn rows(lines: &[&str], style: Style, pattern: &[bool]) -> Rows {
    let mut found = Rows {
        first: lines.len(),
        columns: vec![Vec::new(); pattern.len()],
        others: 0,
    };
    for (at, line) in lines.iter().enumerate() {
        let Some(line) = uncommented(line) else {
            continue;
        };
        match row(line, style, pattern) {
            Some(row) => {
                found.first = found.first.min(at);
                for (column, number) in found.columns.iter_mut().zip(row) {
                    column.push(number);
                }
            }
            None if found.first < at => found.others += 1,
            None => {}
        }
    }
    found
}

/// The headings in the lines above the rows, with the units that stand in them or in a line of their own.
fn headings(above: &[&str], style: Style, columns: usize) -> Vec<Heading> {
    let mut units = None;
    for line in above.iter().rev().filter(|line| !line.trim().is_empty()) {
        let line = line.trim_start_matches(['#', '%', '/']).trim_start();
        let cells = style.cells(line);
        if cells.len() != columns {
            break;
        }
        let are_units = cells
            .iter()
            .all(|cell| cell.trim().is_empty() || is_unit(cell));
        if are_units && units.is_none() {
            units = Some(
                cells
                    .iter()
                    .map(|cell| bare(cell).to_owned())
                    .collect::<Vec<_>>(),
            );
            continue;
        }
        let heading = |(at, cell): (usize, &String)| {
            let (name, unit) = parted(cell);
            let below = units.as_ref().map(|units: &Vec<String>| units[at].clone());
            Heading {
                name: name.to_owned(),
                full: cell.trim().to_owned(),
                unit: below
                    .filter(|unit| !unit.is_empty())
                    .or(unit.map(str::to_owned)),
            }
        };
        return cells.iter().enumerate().map(heading).collect();
    }
    // No names: units alone, or nothing.
    let unit = |at: usize| units.as_ref().map(|units| units[at].clone());
    let nameless = |at| Heading {
        unit: unit(at),
        ..Heading::default()
    };
    (0..columns).map(nameless).collect()
}

impl Style {
    fn separator_word(self) -> String {
        match self.separator {
            None => "blanks".to_owned(),
            Some('\t') => "tab".to_owned(),
            Some(c) => format!("`{c}`"),
        }
    }

    /// A line's cells, those in quotes without them; an empty one behind a last separator is none.
    fn cells(self, line: &str) -> Vec<String> {
        let Some(separator) = self.separator else {
            return line.split_whitespace().map(str::to_owned).collect();
        };
        let mut cells = vec![String::new()];
        let mut quoted = false;
        for c in line.chars() {
            match c {
                '"' => quoted = !quoted,
                c if c == separator && !quoted => cells.push(String::new()),
                c => {
                    if let Some(cell) = cells.last_mut() {
                        cell.push(c);
                    }
                }
            }
        }
        if cells.len() > 1 && cells.last().is_some_and(|cell| cell.trim().is_empty()) {
            cells.pop();
        }
        cells
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> (Vec<String>, Vec<Option<String>>, Vec<Vec<f64>>) {
        let sheet = Sheet::read(text).unwrap();
        let (names, units) = sheet.headings.into_iter().map(|h| (h.name, h.unit)).unzip();
        (names, units, sheet.columns)
    }

    fn some(units: [&str; 2]) -> Vec<Option<String>> {
        units.map(|unit| Some(unit.to_owned())).to_vec()
    }

    #[test]
    fn one_table_in_many_forms() {
        let columns = vec![vec![0.0, 0.004, 0.008], vec![0.8, 0.805, 0.81]];
        for text in [
            "Model,X1\nRecord Length,3\n\nTime (s),lever (V)\n0,0.8\n0.004,0.805\n0.008,0.81\n",
            "# made by hand\n# Time [s]\tlever [V]\n0\t0.8\n0.004\t0.805\n0.008\t0.81",
            "sep=;\r\nTime;lever\r\ns;V\r\n0,000;0,800\r\n0,004;0,805\r\n0,008;0,810\r\n",
            "\"Time\",\"lever\"\n\"(s)\",\"(V)\"\n\"0,000\",\"0,800\"\n\"0,004\",\"0,805\"\n\"0,008\",\"0,810\"\n",
            "Time/s  lever/V\r0.0  8.0E-1\r4e-3  0.805\r8e-3  .81\r",
            "Time (s),lever (V),\n0,0.8,\n0.004,0.805,\n0.008,0.81,\n",
        ] {
            let (names, units, told) = read(text);
            assert_eq!(names, ["Time", "lever"], "{text}");
            assert_eq!(units, some(["s", "V"]), "{text}");
            assert_eq!(told, columns, "{text}");
        }
    }

    #[test]
    fn plain_numbers_have_no_headings() {
        let (names, units, columns) = read("163\n164\n\n163\n");
        assert_eq!((names, units), (vec![String::new()], vec![None]));
        assert_eq!(columns, [vec![163.0, 164.0, 163.0]]);
        let (names, _, columns) = read("lever\n0,5\n0,25\n0,75\n0,5\n");
        assert_eq!(
            (names[0].as_str(), columns[0].len()),
            ("lever", 4),
            "decimal commas in one column"
        );
    }

    #[test]
    fn gaps_words_and_lines_that_are_no_rows() {
        let text = "at;U (V);state\n09:30:00,0;0,5;OK\n09:30:00,5;;OK\nrestart\n09:30:01,0;OL;OK\n09:30:01,5;0,6;bad\n";
        let sheet = Sheet::read(text).unwrap();
        assert_eq!(sheet.columns[0], [34_200.0, 34_200.5, 34_201.0, 34_201.5]);
        let voltage = &sheet.columns[1];
        assert_eq!((voltage[0], voltage[3]), (0.5, 0.6));
        assert!(voltage[1].is_nan() && voltage[2].is_nan() && sheet.columns[2][0].is_nan());
        assert_eq!(sheet.others, 1);
    }

    #[test]
    fn what_is_no_table_is_refused() {
        for (text, want) in [
            ("", SheetError::Empty),
            ("\n\n", SheetError::Empty),
            ("dear all,\nplease find attached\n", SheetError::NoNumbers),
            ("5\n", SheetError::NoNumbers),
        ] {
            assert_eq!(Sheet::read(text).unwrap_err(), want, "{text}");
        }
        let wide = ["1,".repeat(999), "1,".repeat(999)].join("\n");
        assert_eq!(Sheet::read(&wide).unwrap_err(), SheetError::TooWide(999));
    }
}
