//! Characters that nobody sees, or that move what is seen, written out: `\u{1b}`.

use std::borrow::Cow;
use std::fmt::Write as _;
use std::path::Path;

/// Whether a character stands for nothing that is seen where it stands: controls, C1 among them, line and paragraph separators,
/// controls of direction, characters without width. Line ends and tabs are such, too.
///
/// The Unicode Standard: general categories Cc, Zl and Zp, and the property `Default_Ignorable_Code_Point`
/// (`DerivedCoreProperties.txt`, from memory), which holds those of direction; interlinear marks besides.
pub fn is_unseen(c: char) -> bool {
    // Nearly all text.
    if c.is_ascii() {
        return c.is_ascii_control();
    }
    c.is_control()
        || matches!(c,
            '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{115f}'..='\u{1160}' | '\u{17b4}'..='\u{17b5}' | '\u{180b}'..='\u{180f}'
            | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{3164}' | '\u{fe00}'..='\u{fe0f}'
            | '\u{feff}' | '\u{ffa0}' | '\u{fff0}'..='\u{fffb}' | '\u{1bca0}'..='\u{1bca3}' | '\u{1d173}'..='\u{1d17a}'
            | '\u{e0000}'..='\u{e0fff}')
}

/// Text that may leave: its only unseen characters are line ends and tabs, which lay it out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Visible(String);

impl Visible {
    /// Text for people, HTML, Markdown, C: what is unseen is written out.
    pub fn of(text: &str) -> Self {
        let mut rest = text.chars().peekable();
        let mut out = String::with_capacity(text.len());
        while let Some(c) = rest.next() {
            let laid_out = matches!(c, '\n' | '\t') || c == '\r' && rest.peek() == Some(&'\n');
            if is_unseen(c) && !laid_out {
                out.extend(c.escape_default());
            } else {
                out.push(c);
            }
        }
        Self(out)
    }

    /// JSON, which has a way of its own to write them and means the same then.
    pub fn json(text: &str) -> Self {
        let mut out = String::with_capacity(text.len());
        for c in text.chars() {
            if is_unseen(c) && c != '\n' {
                for unit in c.encode_utf16(&mut [0; 2]) {
                    let _ = write!(out, "\\u{unit:04x}");
                }
            } else {
                out.push(c);
            }
        }
        Self(out)
    }

    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// A text from elsewhere as a part of a line: line ends and tabs are written out, too, so that it cannot begin a line of its own.
pub fn line(text: &str) -> Cow<'_, str> {
    if !text.contains(is_unseen) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        if is_unseen(c) {
            out.extend(c.escape_default());
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

/// A path for people.
pub trait Shown {
    fn shown(&self) -> Cow<'_, str>;
}

impl Shown for Path {
    fn shown(&self) -> Cow<'_, str> {
        match self.to_string_lossy() {
            Cow::Borrowed(text) => line(text),
            Cow::Owned(text) => Cow::Owned(line(&text).into_owned()),
        }
    }
}

/// The text of a JSON file, read by a person's program: without the mark that some editors put ahead of it, and with what its
/// strings hold unseen written out, so that no name or note of it can begin a line, or rule a terminal, wherever it goes.
pub fn json_source(text: &str) -> Cow<'_, str> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let escaped = ["\\n", "\\r", "\\t", "\\b", "\\f", "\\u"];
    let outside = |c: char| is_unseen(c) && !matches!(c, '\n' | '\r' | '\t');
    if !text.contains(outside) && !escaped.iter().any(|escape| text.contains(escape)) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let (taken, unseen) = match c {
            '\\' => escape(rest),
            _ => (c.len_utf8(), Some(c).filter(|c| outside(*c))),
        };
        match unseen {
            // A control that JSON does not allow in a string stays one: the file is refused for it.
            Some(c) if !(c.is_ascii_control() && taken == 1 && c != '\u{7f}') => {
                let _ = write!(out, "\\{}", c.escape_default());
            }
            _ => out.push_str(&rest[..taken]),
        }
        rest = &rest[taken..];
    }
    Cow::Owned(out)
}

/// The bytes of the escape that a text begins with, and the character when it is unseen.
fn escape(text: &str) -> (usize, Option<char>) {
    let unit = |at: usize| {
        let digits = text.get(at..at + 6)?.strip_prefix("\\u")?;
        u16::from_str_radix(digits, 16).ok()
    };
    let letter = text.chars().nth(1);
    let c = match letter {
        Some('n') => '\n',
        Some('r') => '\r',
        Some('t') => '\t',
        Some('b') => '\u{8}',
        Some('f') => '\u{c}',
        Some('u') => {
            let pair = unit(0).into_iter().chain(unit(6));
            return match char::decode_utf16(pair).next() {
                Some(Ok(c)) => (6 * c.len_utf16(), Some(c).filter(|c| is_unseen(*c))),
                // Half a character: for the reader of JSON to refuse.
                _ => (if unit(0).is_some() { 6 } else { 2 }, None),
            };
        }
        _ => return (1 + letter.map_or(0, char::len_utf8), None),
    };
    (2, Some(c))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_is_unseen_is_written_out() {
        let of = |text| Visible::of(text).0;
        assert_eq!(
            of("PASS\u{1b}[2J\r\n\ta\u{9b}b\rc"),
            "PASS\\u{1b}[2J\r\n\ta\\u{9b}b\\rc"
        );
        assert_eq!(
            of("1 \u{b1} 2 \u{b5}m \u{202e}x"),
            "1 \u{b1} 2 \u{b5}m \\u{202e}x"
        );
        assert_eq!(line("T1\nPASS\t\u{200b}"), "T1\\nPASS\\t\\u{200b}");
        assert!(matches!(line("T1 pedal \u{e9}"), Cow::Borrowed(_)));
    }

    #[test]
    fn json_means_the_same_when_it_is_written_out() {
        for text in [
            "a\u{7f}\u{85}\u{202e}\u{feff}\u{e0041}\u{1f600}b",
            "\u{1b}\n\t",
        ] {
            let json = serde_json::to_string(text).unwrap();
            let visible = Visible::json(&json).0;
            assert!(!visible.contains(is_unseen), "{visible}");
            assert_eq!(serde_json::from_str::<String>(&visible).unwrap(), text);
        }
    }

    proptest! {
        #[test]
        fn whatever_it_is(text in any::<String>(), at in any::<char>()) {
            let text = format!("{text}{at}\u{1b}{text}");
            prop_assert!(!line(&text).contains(is_unseen));
            let visible = Visible::of(&text).0.replace("\r\n", "\n");
            prop_assert!(!visible.contains(|c| is_unseen(c) && !matches!(c, '\n' | '\t')), "{visible}");
            let json = serde_json::to_string(&text).unwrap();
            prop_assert_eq!(serde_json::from_str::<String>(&Visible::json(&json).0).unwrap(), text.clone());
            prop_assert_eq!(serde_json::from_str::<String>(&json_source(&json)).unwrap(), line(&text));
        }
    }

    #[test]
    fn strings_of_json_are_read_as_they_will_be_shown() {
        let read = |json: &str| serde_json::from_str::<String>(&json_source(json)).ok();
        for (json, want) in [
            (r#""plain \" \\n \/ \u00e9""#, "plain \" \\n / \u{e9}"),
            (r#""a\nb\u001b[2J""#, "a\\nb\\u{1b}[2J"),
            (
                "\u{feff}\"a\u{202e}\u{7f}\u{85}\"",
                "a\\u{202e}\\u{7f}\\u{85}",
            ),
            (r#""\ud83d\ude00 \udb40\udc41""#, "\u{1f600} \\u{e0041}"),
        ] {
            assert_eq!(read(json).as_deref(), Some(want), "{json}");
        }
        for refused in [
            "\"a\u{1b}\"",
            r#""\ud83d""#,
            r#""\u12"#,
            r#""\"#,
            "\"\\\u{e9}\"",
        ] {
            assert_eq!(read(refused), None, "{refused}");
        }
        // Once read, it stays as it is.
        let once = read(r#""a\nb\u202e""#).unwrap();
        assert_eq!(read(&serde_json::to_string(&once).unwrap()), Some(once));
    }
}
