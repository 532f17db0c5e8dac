//! JSON: the numbers by name, `block/2`. Read is `block/1`, too, which did not say what is watched.

use super::error::FormatError;
use crate::constants::Block;
use crate::constants::block::{BlockFields, OWN_REFERENCE_MV, TargetBoard, Watch};
use crate::constants::layout::{self, OLD_VREF_MV};
use crate::outlet::{self, json_source};
use schemars::JsonSchema;
use serde::de::{Error as _, MapAccess, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize};
use std::collections::BTreeSet;
use std::fmt;

const FORMAT: &str = "block/2";
const OLD_FORMAT: &str = "block/1";

#[derive(Serialize, Deserialize, JsonSchema)]
#[schemars(title = "block/2")]
struct Document {
    /// `block/2`; `block/1` is read, too.
    format: String,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    comment: Vec<String>,
    block: BlockFields,
    /// Of the numbers as the board keeps them, four hex digits; one that is edited does not fit them any more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    check_sum: Option<String>,
    /// Of the comment, likewise: it says what the limits miss, and what was accepted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    comment_sum: Option<String>,
}

/// Read first: of another format nothing else is sure.
#[derive(Deserialize)]
struct Head {
    format: String,
}

/// The JSON Schema of a block's JSON.
pub fn schema_json() -> String {
    outlet::schema_json::<Document>()
}

pub fn to_json(block: &Block, comment: &str) -> String {
    // As it is read again, what is unseen written out.
    let lines = comment.lines().map(|line| outlet::line(line).into_owned());
    let comment: Vec<String> = lines.collect();
    let document = Document {
        format: FORMAT.to_owned(),
        comment_sum: sum_of_comment(&comment),
        comment,
        block: block.numbers().clone(),
        check_sum: Some(layout::sum_of(block)),
    };
    let mut text = serde_json::to_string_pretty(&document).unwrap_or_default();
    text.push('\n');
    text
}

/// Reads the block back.
pub fn from_json(text: &str) -> Result<Block, FormatError> {
    read(text, Edits::Refused)
}

/// Whether numbers are taken that were changed after the block was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Edits {
    Refused,
    Taken,
}

pub(super) fn read(text: &str, edits: Edits) -> Result<Block, FormatError> {
    let wrong = |e: &serde_json::Error| FormatError::Text {
        line: e.line().max(1),
        what: e.to_string(),
    };
    let text = &*json_source(text);
    let head: Head = serde_json::from_str(text).map_err(|e| wrong(&e))?;
    serde_json::from_str::<KeysOnce>(text).map_err(|e| wrong(&e))?;
    if head.format == OLD_FORMAT {
        let mut document: serde_json::Value = serde_json::from_str(text).map_err(|e| wrong(&e))?;
        if edits == Edits::Refused && is_newer(&document) {
            return Err(FormatError::Relabelled);
        }
        add_watch(&mut document);
        let document: Document = serde_json::from_value(document).map_err(|e| wrong(&e))?;
        return Ok(Block::new(document.block)?);
    }
    if head.format != FORMAT {
        return Err(FormatError::Text {
            line: 1,
            what: format!(
                "`{}` is not `{FORMAT}`, the format this program reads",
                head.format
            ),
        });
    }
    let document: Document = serde_json::from_str(text).map_err(|e| wrong(&e))?;
    let comment_sum = sum_of_comment(&document.comment);
    let block = Block::new(document.block)?;
    if edits == Edits::Refused {
        let computed = layout::sum_of(&block);
        let said = document.check_sum.unwrap_or_else(|| "missing".to_owned());
        if said != computed {
            return Err(FormatError::Edited { said, computed });
        }
        // Files of before had none.
        if document.comment_sum.is_some() && document.comment_sum != comment_sum {
            return Err(FormatError::Comment);
        }
    }
    Ok(block)
}

/// Of the lines of a comment; none where there is no comment.
fn sum_of_comment(lines: &[String]) -> Option<String> {
    let sum = || format!("{:04X}", layout::check_sum(lines.join("\n").as_bytes()));
    (!lines.is_empty()).then(sum)
}

/// Whether a document holds what its format did not have.
fn is_newer(document: &serde_json::Value) -> bool {
    document.get("check_sum").is_some() || document["block"].get("watch").is_some()
}

/// JSON in which no key stands twice in one object: which of the two is meant cannot be told.
struct KeysOnce;

impl<'de> Deserialize<'de> for KeysOnce {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        from.deserialize_any(Self)
    }
}

impl<'de> Visitor<'de> for KeysOnce {
    type Value = Self;

    fn expecting(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        to.write_str("a JSON value")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Self, A::Error> {
        let mut seen = BTreeSet::new();
        while let Some(key) = map.next_key::<String>()? {
            map.next_value::<Self>()?;
            if let Some(twice) = seen.replace(key) {
                return Err(A::Error::custom(format!(
                    "`{}` stands twice",
                    outlet::line(&twice)
                )));
            }
        }
        Ok(self)
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Self, A::Error> {
        while seq.next_element::<Self>()?.is_some() {}
        Ok(self)
    }

    fn visit_bool<E>(self, _: bool) -> Result<Self, E> {
        Ok(self)
    }

    fn visit_i64<E>(self, _: i64) -> Result<Self, E> {
        Ok(self)
    }

    fn visit_u64<E>(self, _: u64) -> Result<Self, E> {
        Ok(self)
    }

    fn visit_f64<E>(self, _: f64) -> Result<Self, E> {
        Ok(self)
    }

    fn visit_str<E>(self, _: &str) -> Result<Self, E> {
        Ok(self)
    }

    fn visit_unit<E>(self) -> Result<Self, E> {
        Ok(self)
    }
}

/// What is usual, where the old format says nothing.
fn add_watch(document: &mut serde_json::Value) {
    let Some(block) = document["block"].as_object_mut() else {
        return;
    };
    let board = block.get("board").cloned().unwrap_or_default();
    let Ok(TargetBoard {
        adc_bits, dac_bits, ..
    }) = serde_json::from_value(board)
    else {
        return;
    };
    let usual = Watch::usual((adc_bits, dac_bits), OLD_VREF_MV, OWN_REFERENCE_MV);
    block
        .entry("watch")
        .or_insert_with(|| serde_json::json!(usual));
}

/// Whether a text is of the format before this one.
pub(super) fn is_old(text: &str) -> bool {
    serde_json::from_str::<Head>(&json_source(text)).is_ok_and(|head| head.format == OLD_FORMAT)
}
