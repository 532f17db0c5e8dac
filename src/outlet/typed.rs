//! Words of a command that a person types next.

use super::visible::Shown;
use std::path::Path;

/// A file as it is typed into a shell.
pub fn typed(path: &Path) -> String {
    quoted(&path.shown())
}

/// A word as the system's usual shell takes it for one.
pub fn quoted(word: &str) -> String {
    quoted_for(word, cfg!(windows))
}

fn quoted_for(word: &str, windows: bool) -> String {
    let plain =
        |c: char| c.is_ascii_alphanumeric() || "-_./=,:+@".contains(c) || (windows && c == '\\');
    if !word.is_empty() && word.chars().all(plain) {
        return word.to_owned();
    }
    if windows {
        return format!("\"{word}\"");
    }
    format!("'{}'", word.replace('\'', "'\\''"))
}

#[cfg(test)]
mod tests {
    use super::quoted_for;

    #[test]
    fn a_word_is_quoted_where_a_shell_would_part_it() {
        let unix = |word| quoted_for(word, false);
        assert_eq!(unix("T1-pedal.csv"), "T1-pedal.csv");
        assert_eq!(unix("my pedal"), "'my pedal'");
        assert_eq!(unix("it's; rm"), "'it'\\''s; rm'");
        let windows = |word| quoted_for(word, true);
        assert_eq!(windows("runs\\T1-pedal.csv"), "runs\\T1-pedal.csv");
        assert_eq!(windows("my pedal"), "\"my pedal\"");
    }
}
