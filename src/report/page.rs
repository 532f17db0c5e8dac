//! Plain text set in lines of at most 80 columns.
//!
//! Belongs here: wrapping and indenting. Does not belong here: what is said.

/// Columns that the text keeps to.
pub(super) const COLUMNS: usize = 80;

/// Lines being set.
#[derive(Default)]
pub(super) struct Page(String);

impl Page {
    pub(super) fn line(&mut self, text: &str) {
        self.0.push_str(text.trim_end());
        self.0.push('\n');
    }

    /// Lines as they are, each trimmed at its end.
    pub(super) fn paragraph(&mut self, text: &str) {
        for line in text.lines() {
            self.line(line);
        }
    }

    pub(super) fn gap(&mut self) {
        self.0.push('\n');
    }

    /// Words set in lines of at most [`COLUMNS`], indented by two.
    pub(super) fn words(&mut self, text: &str) {
        self.hang("  ", "  ", text);
    }

    /// Words with a first line that starts otherwise than the rest.
    pub(super) fn hang(&mut self, first: &str, rest: &str, text: &str) {
        let mut line = first.to_owned();
        let mut empty = true;
        for word in text.split_whitespace() {
            if !empty && line.chars().count() + 1 + word.chars().count() > COLUMNS {
                self.line(&line);
                rest.clone_into(&mut line);
                empty = true;
            }
            if !empty {
                line.push(' ');
            }
            line.push_str(word);
            empty = false;
        }
        self.line(&line);
    }

    /// What was set.
    pub(super) fn text(self) -> String {
        self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_wrap_and_a_word_too_long_stands_alone() {
        let mut page = Page::default();
        page.hang(
            "- ",
            "  ",
            &format!("{} {} b", "a".repeat(77), "c".repeat(90)),
        );
        let want = format!("- {}\n  {}\n  b\n", "a".repeat(77), "c".repeat(90));
        assert_eq!(page.text(), want);
    }
}
