//! Text -> columns of numbers: where the headings stand, what is a row and what is none.

use super::lines::Lines;
use super::numbers::number;
use super::style::{Style, filled, style};
use super::units::{bare, is_any_unit, parted};
use thiserror::Error;

/// Columns of numbers with their headings.
#[derive(Debug, Default)]
pub struct Sheet {
    pub headings: Vec<Heading>,
    /// A column for each heading, a number for each row; NaN where a cell holds none. Nothing for a column of words.
    pub columns: Vec<Vec<f64>>,
    pub rows: usize,
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
    /// Whether its column holds times of day.
    pub clock: bool,
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
        "its lines hold numbers that cannot be told apart, as in `{0}`. Save it as CSV: a line for each sample, a column for each signal"
    )]
    Unread(String),
    #[error(
        "it has lines of more than {LONGEST_LINE} bytes, and no recording has: is it the right file?"
    )]
    LongLine,
    #[error(
        "it has more than {MOST_LINES} lines, an hour at a thousand a second: save the part that matters"
    )]
    TooLong,
    #[error(
        "it has {0} columns, and {MOST_COLUMNS} are the most that are looked at: save the ones that matter"
    )]
    TooWide(usize),
}

/// No scope or logger of a workshop has more.
const MOST_COLUMNS: usize = 256;
/// An hour at a thousand a second, and some.
const MOST_LINES: usize = 4_000_000;
/// Bytes: wider than the most columns.
const LONGEST_LINE: usize = 1 << 16;
/// From this part of the rows on, numbers in a column of words are no accident.
const FEW: f64 = 0.01;

impl Sheet {
    pub fn read(text: &str) -> Result<Self, SheetError> {
        if text
            .split(['\n', '\r'])
            .any(|line| line.len() > LONGEST_LINE)
        {
            return Err(SheetError::LongLine);
        }
        let written = text.split(['\n', '\r']).map(str::trim_end);
        let mut lines: Vec<&str> = written
            .filter(|line| !line.is_empty())
            .take(MOST_LINES + 1)
            .collect();
        if lines.len() > MOST_LINES {
            return Err(SheetError::TooLong);
        }
        let mut seen = Vec::new();
        let stated = stated_separator(&lines);
        if let Some((at, separator)) = stated {
            lines.drain(..=at);
            seen.push(format!("separator `{separator}`, as its first line says"));
        }
        if lines.is_empty() {
            return Err(SheetError::Empty);
        }
        let table = Lines::of(lines);
        let lines: Vec<&str> = table.text.iter().map(|line| &**line).collect();
        let all: Vec<&str> = lines.iter().copied().filter_map(uncommented).collect();
        let (style, numeric) = style(&all, stated.map(|(_, c)| c)).ok_or(SheetError::NoNumbers)?;
        if numeric.len() > MOST_COLUMNS {
            return Err(SheetError::TooWide(numeric.len()));
        }
        seen.extend(table.seen.iter().map(|&seen| seen.to_owned()));
        if stated.is_none() && numeric.len() > 1 && table.seen.is_empty() {
            seen.push(format!("separator {}", style.separator_word()));
        }
        if style.decimal == ',' {
            seen.push("decimal commas".to_owned());
        }
        unread(&lines, style, &numeric)?;
        let sheet = Rows::of(&lines, style, &numeric).into_sheet(table.stamps, seen);
        if sheet.rows < 2 {
            return Err(SheetError::NoNumbers);
        }
        Ok(sheet)
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

/// Refuses a file most of whose rows have more numbers in what was taken for words: `102,A1:`, `4 512`.
fn unread(lines: &[&str], style: Style, numeric: &[bool]) -> Result<(), SheetError> {
    let is_number = |word: &str| number(word, style.decimal).is_some();
    let unread = |cell: &String| {
        let parted = cell.contains([',', ';']) && cell.contains(|c: char| c.is_ascii_digit());
        parted || (cell.trim().contains(' ') && cell.split_whitespace().all(is_number))
    };
    let in_row = |line: &str| {
        let cells = style.cells(line).into_iter().zip(numeric);
        let mut words = cells.filter(|(_, numeric)| !**numeric);
        words.find_map(|(cell, _)| unread(&cell).then_some(cell))
    };
    let half = &lines[lines.len() / 2..];
    let found: Vec<String> = half.iter().filter_map(|line| in_row(line)).collect();
    match found.into_iter() {
        mut found if found.len() * 2 > half.len() => {
            Err(SheetError::Unread(found.next().unwrap_or_default()))
        }
        _ => Ok(()),
    }
}

/// The rows of a file.
struct Rows<'a> {
    style: Style,
    /// Which of the cells that most rows have are numbers.
    numeric: &'a [bool],
    headings: Vec<Heading>,
    columns: Vec<Vec<f64>>,
    /// Their lines, by place.
    lines: Vec<usize>,
    /// Numbers in columns that hold words or nothing in most rows.
    few: Vec<usize>,
    others: u64,
}

impl<'a> Rows<'a> {
    fn of(lines: &[&str], style: Style, numeric: &'a [bool]) -> Self {
        let begins =
            |line: &&str| uncommented(line).is_some_and(|line| style.begins_row(line, numeric));
        let first = lines.iter().position(begins).unwrap_or(lines.len());
        let headings = headings(&lines[..first], style, numeric.len());
        let widest = headings.len();
        let mut found = Self {
            style,
            numeric,
            headings,
            columns: vec![Vec::new(); widest],
            lines: Vec::new(),
            few: vec![0; widest],
            others: 0,
        };
        for (at, line) in lines.iter().enumerate().skip(first) {
            let Some(line) = uncommented(line) else {
                continue;
            };
            match style.row(line, numeric, widest) {
                Some(row) => found.push(at, line, row),
                None => found.others += 1,
            }
        }
        found
    }

    fn push(&mut self, at: usize, line: &str, row: Vec<f64>) {
        if self.lines.is_empty() && line.contains(':') {
            let clocks = self
                .style
                .cells(line)
                .into_iter()
                .map(|cell| cell.contains(':'));
            for (heading, clock) in self.headings.iter_mut().zip(clocks) {
                heading.clock = clock;
            }
        }
        self.lines.push(at);
        let numbers = row.into_iter().chain(std::iter::repeat(f64::NAN));
        for (at, (column, number)) in self.columns.iter_mut().zip(numbers).enumerate() {
            if self.numeric.get(at).copied().unwrap_or_default() {
                column.push(number);
            } else {
                self.few[at] += usize::from(number.is_finite());
            }
        }
    }

    /// The sheet, with the times of day that stood ahead of its lines.
    #[allow(clippy::cast_precision_loss)] // counts of rows
    fn into_sheet(self, stamps: Option<Vec<f64>>, mut seen: Vec<String>) -> Sheet {
        let rows = self.lines.len();
        for (heading, few) in self.headings.iter().zip(&self.few) {
            if *few as f64 > FEW * rows as f64 {
                seen.push(format!(
                    "left out: column `{}` has a number in {few} of {rows} rows",
                    heading.full
                ));
            }
        }
        let (mut headings, mut columns) = (self.headings, self.columns);
        if let Some(stamps) = stamps {
            let time = Heading {
                name: "time".to_owned(),
                full: "time".to_owned(),
                clock: true,
                ..Heading::default()
            };
            headings.insert(0, time);
            columns.insert(0, self.lines.iter().map(|at| stamps[*at]).collect());
        }
        Sheet {
            headings,
            columns,
            rows,
            others: self.others,
            seen,
        }
    }
}

/// The headings in the lines above the rows, with the units that stand in them or in a line of their own: one for each cell of a row,
/// and for the cells that few rows have.
fn headings(above: &[&str], style: Style, columns: usize) -> Vec<Heading> {
    let mut units: Option<Vec<String>> = None;
    for line in above.iter().rev().filter(|line| !line.trim().is_empty()) {
        let line = line.trim_start_matches(['#', '%', '/']).trim_start();
        let cells = style.cells(line);
        let cells = filled(&cells);
        let are_units = cells
            .iter()
            .all(|cell| cell.trim().is_empty() || is_any_unit(cell));
        if are_units && units.is_none() && cells.len() <= MOST_COLUMNS {
            units = Some(cells.iter().map(|cell| bare(cell).to_owned()).collect());
            continue;
        }
        if !(columns..=MOST_COLUMNS).contains(&cells.len()) {
            break;
        }
        let is_same = |cell: &String| cell.eq_ignore_ascii_case(&cells[0]);
        if cells.len() > 1 && cells.iter().all(is_same) {
            continue; // the kind of all columns: `float,float`
        }
        let below = |at: usize| units.as_ref()?.get(at).filter(|unit| !unit.is_empty());
        let heading = |(at, cell): (usize, &String)| {
            let (name, unit) = parted(cell);
            Heading {
                name: name.to_owned(),
                full: cell.trim().to_owned(),
                unit: below(at).cloned().or(unit.map(str::to_owned)),
                clock: false,
            }
        };
        return cells.iter().enumerate().map(heading).collect();
    }
    // No names: units alone, or nothing.
    let nameless = |at| Heading {
        unit: units.as_ref().and_then(|units| units.get(at).cloned()),
        ..Heading::default()
    };
    (0..columns).map(nameless).collect()
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
            let (names, units, message) = read(text);
            assert_eq!(names, ["Time", "lever"], "{text}");
            assert_eq!(units, some(["s", "V"]), "{text}");
            assert_eq!(message, columns, "{text}");
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
        assert!(voltage[1].is_nan() && voltage[2].is_nan() && sheet.columns[2].is_empty());
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
