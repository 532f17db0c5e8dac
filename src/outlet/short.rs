//! What is said of a file, a board or an argument, at a length that a person reads.

use std::borrow::Cow;

/// What stands between quotes has at most so many characters.
const QUOTED: usize = 120;
/// As many a line: the longest list of words to choose from has half of them.
const LINE: usize = 3000;

/// Words for a person, with what they quote and their lines cut where these are longer than a person reads.
pub(super) fn brief(words: &str) -> Cow<'_, str> {
    if words.len() <= QUOTED {
        return Cow::Borrowed(words);
    }
    let mut out = String::new();
    let mut rest = words;
    while let Some(opens) = rest.find(['`', '"']) {
        let (before, quoted) = rest.split_at(opens + 1);
        out.push_str(before);
        let quote = rest.as_bytes()[opens];
        let Some(closes) = memchr::memchr2(quote, b'\n', quoted.as_bytes()) else {
            rest = quoted;
            continue;
        };
        out.push_str(&cut(&quoted[..closes], QUOTED));
        out.push(char::from(quoted.as_bytes()[closes]));
        rest = &quoted[closes + 1..];
    }
    out.push_str(rest);
    Cow::Owned(out.split_inclusive('\n').map(brief_line).collect())
}

/// A line with its middle left out, where it is too long.
fn brief_line(line: &str) -> Cow<'_, str> {
    if line.char_indices().nth(LINE).is_none() {
        return Cow::Borrowed(line);
    }
    let end = line.char_indices().rev().nth(QUOTED * 2);
    let end = end.map_or(line.len(), |(at, _)| at);
    Cow::Owned(format!("{} {}", cut(line, QUOTED * 2), &line[end..]))
}

/// The first characters of a text, and that there are more.
fn cut(text: &str, most: usize) -> Cow<'_, str> {
    match text.char_indices().nth(most) {
        Some((end, _)) => Cow::Owned(format!("{}...", &text[..end])),
        None => Cow::Borrowed(text),
    }
}

/// A number as it was stated, in the fewest digits: `5000`, `1e308`.
pub fn number(stated: f64) -> String {
    let text = format!("{stated:?}");
    match text.strip_suffix(".0") {
        Some(whole) => whole.to_owned(),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_long_is_cut() {
        let long = "\u{e9}".repeat(100_000);
        for (open, close) in [("`", "`"), ("string \"", "\"")] {
            let words = format!(
                "at `a`: unknown {open}{long}{close}, expected one of `records`, `baud`\n  Say it"
            );
            let said = brief(&words);
            assert!(
                said.starts_with(&format!("at `a`: unknown {open}\u{e9}")),
                "{said}"
            );
            assert!(
                said.ends_with(&format!(
                    "\u{e9}...{close}, expected one of `records`, `baud`\n  Say it"
                )),
                "{said}"
            );
            assert!(said.chars().count() < 250, "{said}");
        }
        let said = brief(&long);
        assert!(said.chars().count() < 500 && said.contains("..."), "{said}");
        let ours = "say `a`, \"b\" or `c` ".repeat(100) + "\n";
        assert_eq!(brief(&ours), ours);
    }

    #[test]
    fn numbers_of_any_size_are_short() {
        for (stated, said) in [
            (5000.0, "5000"),
            (4998.5, "4998.5"),
            (1e308, "1e308"),
            (1e-320, "1e-320"),
            (-2.5e-7, "-2.5e-7"),
            (f64::NAN, "NaN"),
        ] {
            assert_eq!(number(stated), said);
        }
    }
}
