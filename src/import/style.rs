//! How the lines of a table are made: which separator, which decimal sign, which cells are numbers.

use super::lines::TRIED;
use super::numbers::number;
use std::cmp::Reverse;
use std::collections::HashMap;

/// How cells are parted and numbers written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Style {
    /// Blanks, when absent.
    pub separator: Option<char>,
    pub decimal: char,
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
const COMMAS: Style = Style {
    separator: Some(','),
    decimal: '.',
};
/// As many fractions without a last zero are no accident: of numbers of any kind a tenth ends with one.
const NO_ACCIDENT: usize = 2;

/// How most lines of some are made.
struct Pattern {
    lines: usize,
    /// Which cells are numbers; empty cells at the end are none.
    numeric: Vec<bool>,
}

impl Pattern {
    fn words(&self) -> usize {
        self.numeric.iter().filter(|numeric| !**numeric).count()
    }
}

/// How most lines are made, and which of their cells are numbers.
pub fn style(all: &[&str], stated: Option<char>) -> Option<(Style, Vec<bool>)> {
    // Headings stand ahead: the second half says what a row is.
    let half = &all[all.len() / 2..];
    let step = half.len().div_ceil(TRIED).max(1);
    let tried: Vec<&str> = half.iter().copied().step_by(step).collect();
    let of_stated = ['.', ','].map(|decimal| (stated, decimal));
    let styles = if stated.is_some() {
        &of_stated[..]
    } else {
        &STYLES
    };
    let found = styles.iter().filter_map(|&(separator, decimal)| {
        let style = Style { separator, decimal };
        let pattern = pattern(&tried, style)?;
        let headed = is_headed(all, style, &pattern.numeric);
        let numbers = pattern.numeric.len() - pattern.words();
        let rank = (pattern.lines, Reverse(pattern.words()), headed, numbers);
        Some((rank, style, pattern))
    });
    let all_found: Vec<_> = found.collect();
    // The first of those that are as good.
    let best = all_found
        .iter()
        .reduce(|best, next| if next.0 > best.0 { next } else { best })?;
    let (rank, style, found) = best;
    // `500,250` is one number or two.
    let is_one = |(other, _, pattern): &&Found| other.0 == rank.0 && pattern.numeric == [true];
    let is_two = |(other, style, pattern): &&Found| {
        *style == COMMAS && other.0 == rank.0 && pattern.numeric == [true, true]
    };
    let (one, two) = (all_found.iter().find(is_one), all_found.iter().find(is_two));
    if stated.is_none()
        && let (Some(one), Some(two)) = (one, two)
    {
        let named_twice = two.0.2;
        let (_, style, found) = if !named_twice && is_decimal_comma(all) {
            one
        } else {
            two
        };
        return Some((*style, found.numeric.clone()));
    }
    Some((*style, found.numeric.clone()))
}

/// How good a style is (lines, fewest words, whether it is headed, numbers), and what it finds.
type Found = ((usize, Reverse<usize>, bool, usize), Style, Pattern);

/// Whether the comma in `500,250` is a decimal one: whole numbers have no zero ahead, and a tenth of them ends with one.
fn is_decimal_comma(lines: &[&str]) -> bool {
    let fractions = || {
        let numbers = lines.iter().filter(|line| number(line, ',').is_some());
        numbers.filter_map(|line| Some(line.split_once(',')?.1.trim()))
    };
    let ahead = |digits: &str| digits.len() > 1 && digits.starts_with('0');
    if fractions().any(ahead) {
        return true;
    }
    let long = || fractions().filter(|digits| digits.len() > 1);
    let lengths_differ = fractions().any(|digits| digits.len() == 1);
    lengths_differ && long().count() >= NO_ACCIDENT && !long().any(|digits| digits.ends_with('0'))
}

/// The commonest pattern of cells that are numbers.
fn pattern(lines: &[&str], style: Style) -> Option<Pattern> {
    let mut counts: HashMap<Vec<bool>, usize> = HashMap::new();
    for line in lines {
        let is_number = |cell: &String| number(cell, style.decimal).is_some();
        let cells = style.cells(line);
        let cells: Vec<bool> = filled(&cells).iter().map(is_number).collect();
        if cells.contains(&true) {
            *counts.entry(cells).or_default() += 1;
        }
    }
    // Of two that are as common, the same one in every run.
    let common = counts
        .into_iter()
        .max_by(|a, b| (a.1, &a.0).cmp(&(b.1, &b.0)));
    common.map(|(numeric, lines)| Pattern { lines, numeric })
}

/// Whether the line before the first row has as many cells.
fn is_headed(lines: &[&str], style: Style, numeric: &[bool]) -> bool {
    let first = lines
        .iter()
        .position(|line| style.begins_row(line, numeric));
    first
        .and_then(|at| lines.get(at.checked_sub(1)?))
        .is_some_and(|above| filled(&style.cells(above)).len() == numeric.len())
}

/// The cells up to the last that holds anything.
pub fn filled(cells: &[String]) -> &[String] {
    let empty = |cell: &&String| cell.trim().is_empty();
    &cells[..cells.len() - cells.iter().rev().take_while(empty).count()]
}

/// What instruments write where they have no value.
fn is_gap(cell: &str) -> bool {
    let cell = cell.trim().to_lowercase();
    let filling = |c: char| matches!(c, '*' | '#' | '-' | '?');
    cell.chars().all(filling)
        || matches!(
            cell.as_str(),
            "nan" | "-nan" | "inf" | "-inf" | "+inf" | "ol" | "-ol" | "n/a" | "na" | "overload"
        )
}

impl Style {
    pub fn separator_word(self) -> String {
        match self.separator {
            None => "blanks".to_owned(),
            Some('\t') => "tab".to_owned(),
            Some(c) => format!("`{c}`"),
        }
    }

    /// A line's cells, those in quotes without them.
    pub fn cells(self, line: &str) -> Vec<String> {
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
        cells
    }

    /// Whether the cells that are numbers in most rows are numbers here, whatever follows them.
    pub fn begins_row(self, line: &str, numeric: &[bool]) -> bool {
        self.row(line, numeric, usize::MAX).is_some()
    }

    /// The cells of a row as numbers, NaN for what is none, and as many as `numeric` at least; nothing when the line is no row or
    /// has more than `widest` cells.
    pub fn row(self, line: &str, numeric: &[bool], widest: usize) -> Option<Vec<f64>> {
        let cells = self.cells(line);
        // Tabs at a line's end have been trimmed away.
        let is_long = cells.len() >= numeric.len() || self.separator == Some('\t');
        let cells = filled(&cells);
        if !is_long || cells.len() > widest {
            return None;
        }
        let mut numbers = vec![f64::NAN; numeric.len().max(cells.len())];
        for (at, cell) in cells.iter().enumerate() {
            let must = numeric.get(at).copied().unwrap_or_default();
            match number(cell, self.decimal) {
                Some(number) => numbers[at] = number,
                None if must && !is_gap(cell) => return None,
                None => {}
            }
        }
        let some = numbers.iter().zip(numeric);
        some.into_iter()
            .any(|(x, numeric)| *numeric && x.is_finite())
            .then_some(numbers)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_comma_parts_two_whole_numbers_unless_they_are_written_as_no_whole_number_is() {
        let one =
            |lines: &[&str]| style(lines, None).map(|(style, cells)| (style.decimal, cells.len()));
        // A banner ahead is no heading that would make one column of two.
        assert_eq!(
            one(&["ready", "500,250", "502,251", "510,255"]),
            Some(('.', 2))
        );
        assert_eq!(one(&["Hebel", "0,500", "0,098", "0,102"]), Some((',', 1)));
        assert_eq!(
            one(&["lever", "0,5", "0,25", "0,75", "0,55"]),
            Some((',', 1))
        );
        assert_eq!(
            one(&["lever", "0,5", "0,25", "0,70", "0,55"]),
            Some(('.', 2))
        );
        assert_eq!(one(&["a,b", "102,51", "100,7", "99,3"]), Some(('.', 2)));
        assert_eq!(one(&["x", "11:59:30,004", "11:59:30,104"]), Some((',', 1)));
        assert_eq!(one(&["0,000 0,5", "0,004 0,6"]), Some((',', 2)));
        assert_eq!(one(&[]), None);
    }
}
