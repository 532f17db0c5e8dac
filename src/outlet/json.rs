//! JSON that somebody else wrote, read whole, with the place of what is wrong in it.

use super::visible::json_source;
use serde::de::DeserializeOwned;
use std::fmt;

/// Why a text is not the JSON that it is to be.
#[derive(Debug)]
pub struct JsonError {
    /// Where, e.g. `pedalproof.board.bits`; `.` is the whole text.
    pub place: String,
    pub source: serde_json::Error,
}

impl std::error::Error for JsonError {}

impl fmt::Display for JsonError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let words = self.source.to_string();
        write!(f, "at `{}`: {words}{}", self.place, json_advice(&words))
    }
}

/// Reads a text that is one JSON value and nothing behind it; its strings as [`json_source`] makes them.
pub fn read_json<T: DeserializeOwned>(text: &str) -> Result<T, JsonError> {
    let text = json_source(text);
    let mut reader = serde_json::Deserializer::from_str(&text);
    let value = serde_path_to_error::deserialize(&mut reader).map_err(|e| JsonError {
        place: e.path().to_string(),
        source: e.into_inner(),
    })?;
    reader.end().map_err(|source| JsonError {
        place: ".".to_owned(),
        source,
    })?;
    Ok(value)
}

/// What to do about a slip that people make when they write JSON by hand, to go behind the reader's own words.
pub fn json_advice(words: &str) -> &'static str {
    let slips = [
        (
            "trailing comma",
            ": JSON takes none after the last entry, take it out",
        ),
        (
            "key must be a string",
            ": a name stands in straight double quotes",
        ),
        (
            "expected value",
            ": JSON has no comments, and a text stands in straight double quotes",
        ),
    ];
    let slip = slips.iter().find(|(slip, _)| words.contains(slip));
    slip.map_or("", |(_, advice)| advice)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    #[test]
    fn what_is_wrong_is_told_with_its_place() {
        let read = |text: &str| read_json::<BTreeMap<String, Vec<u8>>>(text);
        assert_eq!(read("\u{feff}{\"a\": [1]}\n").unwrap()["a"], [1]);
        let refused = |text: &str| read(text).unwrap_err().to_string();
        assert!(refused("{\"a\": [1, 300]}").starts_with("at `a[1]`: "));
        let behind = refused("{\"a\": [1]}\n}");
        assert!(
            behind.starts_with("at `.`: trailing characters at line 2"),
            "{behind}"
        );
        assert!(refused("{\"a\": [1],}").ends_with("take it out"));
    }
}
