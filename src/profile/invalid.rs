//! Where in a profile something is wrong: its path, and line and column found in the text.

use serde_json::value::RawValue;
use std::collections::BTreeMap;
use std::fmt;

/// What is wrong in a profile, and where: `path` is like `tracks.1.limits.rest_ratio`.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub struct InvalidProfile {
    /// Where in the file, by names; empty for the file as a whole.
    pub path: String,
    /// Line and column, both from 1, of the value or of the nearest thing around it that is there.
    pub at: Option<(usize, usize)>,
    /// What is wrong and what to do.
    pub what: String,
}

impl fmt::Display for InvalidProfile {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.at, self.path.as_str()) {
            (Some((line, column)), "" | ".") => write!(f, "line {line}, column {column}")?,
            (Some((line, column)), path) => {
                write!(f, "at `{path}`, line {line}, column {column}")?;
            }
            (None, path) => write!(f, "at `{path}`")?,
        }
        write!(f, ": {}", self.what)
    }
}

impl InvalidProfile {
    /// A place not yet looked up in the text.
    pub(super) fn new(path: impl Into<String>, what: impl Into<String>) -> Self {
        Self {
            path: path.into(),
            at: None,
            what: what.into(),
        }
    }

    /// The same with its line and column in `text`.
    pub(super) fn found_in(mut self, text: &str) -> Self {
        if self.at.is_none() {
            self.at = Some(line_and_column(text, offset(text, &self.path)));
        }
        self
    }
}

/// The byte at which the value at `path` starts, or the innermost one around it that exists.
fn offset(text: &str, path: &str) -> usize {
    let mut inner = text.trim_start();
    let start = |part: &str| part.as_ptr() as usize - text.as_ptr() as usize;
    for name in path.split('.').filter(|name| !name.is_empty()) {
        // Each value borrows from the text: where it starts says where it stands.
        let Ok(members) = serde_json::from_str::<BTreeMap<String, &RawValue>>(inner) else {
            break;
        };
        match members.get(name) {
            Some(value) => inner = value.get(),
            None => break,
        }
    }
    start(inner)
}

/// Line and column from 1 of a byte; columns count characters.
fn line_and_column(text: &str, offset: usize) -> (usize, usize) {
    let before = text.get(..offset).unwrap_or(text);
    let line_start = before.rfind('\n').map_or(0, |at| at + 1);
    (
        before.matches('\n').count() + 1,
        before[line_start..].chars().count() + 1,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str =
        "{\n  \"a\": 1,\n  \"tracks\": {\n    \"1\": { \"limits\": { \"µ\": 2 } }\n  }\n}\n";

    #[test]
    fn values_are_found_and_missing_ones_by_what_is_around_them() {
        let at = |path: &str| InvalidProfile::new(path, "x").found_in(TEXT).at.unwrap();
        assert_eq!(at("a"), (2, 8));
        assert_eq!(at("tracks"), (3, 13));
        assert_eq!(at("tracks.1.limits"), (4, 22));
        assert_eq!(at("tracks.1.limits.µ"), (4, 29));
        assert_eq!(at("tracks.1.limits.gone"), (4, 22));
        assert_eq!(at("gone.too"), (1, 1));
        assert_eq!(at(""), (1, 1));
    }

    #[test]
    fn places_read_well() {
        let place = InvalidProfile::new("tracks.1", "wrong").found_in(TEXT);
        assert_eq!(place.to_string(), "at `tracks.1`, line 4, column 10: wrong");
        assert_eq!(
            InvalidProfile::new("tracks.1", "wrong").to_string(),
            "at `tracks.1`: wrong"
        );
    }
}
