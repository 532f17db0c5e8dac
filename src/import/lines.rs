//! What a serial monitor makes of numbers -> lines of a table: the time of day ahead of each (`09:30:01.25 -> 512`), names before
//! the numbers (`A0: 512, A1: 300`).

use super::numbers::number;
use super::units::is_unit;
use std::borrow::Cow;
use std::collections::HashMap;

/// Lines that are looked at to see how all are made.
pub const TRIED: usize = 400;

/// Lines of a table, and what stood around them.
#[derive(Debug, Default)]
pub struct Lines<'a> {
    pub text: Vec<Cow<'a, str>>,
    /// Seconds of the day, by line; NaN where a line has none.
    pub stamps: Option<Vec<f64>>,
    /// In words.
    pub seen: Vec<&'static str>,
}

impl<'a> Lines<'a> {
    pub fn of(lines: Vec<&'a str>) -> Self {
        let mut found = Self::default();
        let mut rest = lines;
        if most(&rest, |line| stamp(line).is_some()) {
            let stamped = rest.iter().map(|line| stamp(line));
            let parted = stamped
                .zip(&rest)
                .map(|(stamp, line)| stamp.unwrap_or((f64::NAN, line)));
            let (stamps, behind): (Vec<f64>, Vec<&str>) = parted.unzip();
            (found.stamps, rest) = (Some(stamps), behind);
            found.seen.push("a time of day ahead of each line");
        }
        match named(&rest) {
            Some((first, headings, numbers)) => {
                found.seen.push("names before the numbers");
                found.text = numbers;
                found.text.insert(first, headings.into());
                if let Some(stamps) = &mut found.stamps {
                    stamps.insert(first, f64::NAN);
                }
            }
            None => found.text = rest.into_iter().map(Cow::Borrowed).collect(),
        }
        found
    }
}

/// Whether most of some lines of the second half, where no heading stands, are so.
fn most(lines: &[&str], is_so: impl Fn(&str) -> bool) -> bool {
    let half = &lines[lines.len() / 2..];
    let step = half.len().div_ceil(TRIED).max(1);
    let written = || {
        half.iter()
            .step_by(step)
            .filter(|line| !line.trim().is_empty())
    };
    let such = written().filter(|line| is_so(line)).count();
    such > 0 && such * 2 > written().count()
}

/// The seconds of a time of day ahead of an arrow or in brackets, and what follows it.
fn stamp(line: &str) -> Option<(f64, &str)> {
    let bracketed = || line.trim_start().strip_prefix('[')?.split_once(']');
    let (time, rest) = line.split_once("->").or_else(bracketed)?;
    let seconds = number(time, '.').or_else(|| number(time, ','));
    let seconds = seconds.filter(|_| time.contains(':'))?;
    Some((seconds, rest.trim_start()))
}

/// A number with the name before it and the unit behind it.
#[derive(Debug, PartialEq, Eq)]
struct Named<'a> {
    name: &'a str,
    number: Cow<'a, str>,
    unit: &'a str,
}

/// The first line with names, the headings that they make, and each line's numbers between tabs; a line with other names stays as
/// it is.
fn named<'a>(lines: &[&'a str]) -> Option<(usize, String, Vec<Cow<'a, str>>)> {
    if !most(lines, |line| numbers_of(line).is_some()) {
        return None;
    }
    let names = |row: &[Named<'a>]| row.iter().map(|cell| cell.name).collect::<Vec<_>>();
    let mut counts: HashMap<Vec<&str>, (usize, usize)> = HashMap::new();
    for (at, line) in lines.iter().enumerate() {
        if let Some(row) = numbers_of(line) {
            counts.entry(names(&row)).or_insert((0, at)).0 += 1;
        }
    }
    // Of two that are as common, the one that comes first.
    let common = counts
        .into_iter()
        .max_by_key(|(_, (n, at))| (*n, usize::MAX - at));
    let (common, (_, first)) = common?;
    let heading = |cell: Named<'_>| match cell.unit {
        "" => cell.name.to_owned(),
        unit => format!("{} ({unit})", cell.name),
    };
    let headings: Vec<_> = numbers_of(lines[first])?.into_iter().map(heading).collect();
    let numbers = lines.iter().map(|line| match numbers_of(line) {
        Some(row) if names(&row) == common => {
            let cells: Vec<&str> = row.iter().map(|cell| &*cell.number).collect();
            Cow::Owned(cells.join("\t"))
        }
        _ => Cow::Borrowed(*line),
    });
    Some((first, headings.join("\t"), numbers.collect()))
}

/// All of a line as numbers with names; nothing when there is anything else in it.
fn numbers_of(line: &str) -> Option<Vec<Named<'_>>> {
    let line = line.trim();
    let mut rest = line
        .strip_prefix('{')
        .and_then(|line| line.strip_suffix('}'))
        .unwrap_or(line);
    let mut found = Vec::new();
    while !rest.is_empty() {
        let (name, behind) = rest.split_once([':', '='])?;
        let name = name.trim().trim_matches('"');
        let is_name = name.starts_with(|c: char| c.is_alphabetic())
            && name
                .chars()
                .all(|c| c.is_alphanumeric() || "_-. #".contains(c));
        let behind = behind.trim_start();
        let digits = digits_of(behind);
        if !is_name || !digits.contains(|c: char| c.is_ascii_digit()) {
            return None;
        }
        let mut after = &behind[digits.len()..];
        let unit = unit_of(after);
        if !unit.is_empty() {
            after = &after.trim_start()[unit.len()..];
        }
        let next = after.trim_start_matches([',', ';', '|', ' ', '\t']);
        if next.len() == after.len() && !next.is_empty() {
            return None;
        }
        let number = digits.replace('\u{2212}', "-").replace(',', ".");
        found.push(Named {
            name,
            number: number.into(),
            unit,
        });
        rest = next;
    }
    (!found.is_empty()).then_some(found)
}

/// The number that a text begins with; a comma belongs to it where a digit follows.
fn digits_of(text: &str) -> &str {
    let mut chars = text.char_indices().peekable();
    let mut end = 0;
    while let Some((at, c)) = chars.next() {
        let digit_follows = chars.peek().is_some_and(|(_, next)| next.is_ascii_digit());
        let inside = match c {
            '+' | '-' | '\u{2212}' => at == 0 || text[..at].ends_with(['e', 'E']),
            ',' => digit_follows && !text[..at].contains([',', '.']),
            'e' | 'E' => {
                at > 0
                    && chars
                        .peek()
                        .is_some_and(|(_, next)| "+-0123456789".contains(*next))
            }
            c => c.is_ascii_digit() || c == '.',
        };
        if !inside {
            break;
        }
        end = at + c.len_utf8();
    }
    &text[..end]
}

/// The unit behind a number, when the next word is one.
fn unit_of(behind: &str) -> &str {
    let word = behind.trim_start();
    let word = word
        .split([',', ';', '|', ' ', '\t'])
        .next()
        .unwrap_or_default();
    if is_unit(word) { word } else { "" }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_become_headings_and_stamps_a_column() {
        for (line, headings, numbers, stamp) in [
            ("A0: 102,A1: 51", "A0\tA1", "102\t51", None),
            ("A0:102,A1:51", "A0\tA1", "102\t51", None),
            ("A0=102 A1=-51", "A0\tA1", "102\t-51", None),
            ("Sensor value: 512", "Sensor value", "512", None),
            ("U: 2,51 V; I: 3e-2", "U (V)\tI", "2.51\t3e-2", None),
            ("{\"t\":4,\"a0\":102}", "t\ta0", "4\t102", None),
            (
                "11:59:30.004 -> A0: 1 A1: 2",
                "A0\tA1",
                "1\t2",
                Some(43_170.004),
            ),
        ] {
            let found = Lines::of(vec!["ready", line, line, line, "A0: 1"]);
            assert_eq!(found.text[1], headings, "{line}");
            assert_eq!(found.text[2..5], [numbers; 3], "{line}");
            assert_eq!(found.stamps.map(|stamps| stamps[3]), stamp, "{line}");
        }
    }

    #[test]
    fn other_lines_stay_as_they_are() {
        for line in [
            "0.004,0.5",
            "09:30:01.5 0.5",
            "11.04.2026 09:30:01,25;0,5",
            "A0: 102 and more",
            "A0: 1:2",
            "x->5",
            "http://a",
        ] {
            let found = Lines::of(vec![line; 4]);
            assert_eq!(found.text, [line; 4]);
            assert!(found.stamps.is_none(), "{line}");
        }
        let stamped = Lines::of(vec!["[09:30:01,25] 102,51"; 3]);
        assert_eq!(stamped.text, ["102,51"; 3]);
        assert_eq!(stamped.stamps, Some(vec![34_201.25; 3]));
    }
}
