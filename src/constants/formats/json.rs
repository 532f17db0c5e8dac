//! JSON: the numbers by name, `block/2`. Read is `block/1`, too, which did not say what is watched.

use super::error::FormatError;
use crate::constants::Block;
use crate::constants::block::{BlockFields, OWN_REFERENCE_MV, TargetBoard, Watch};
use crate::constants::layout::{self, OLD_VREF_MV};
use crate::outlet::{self, json_source};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

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
    let document = Document {
        format: FORMAT.to_owned(),
        comment: comment.lines().map(str::to_owned).collect(),
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
    if head.format == OLD_FORMAT {
        let mut document: serde_json::Value = serde_json::from_str(text).map_err(|e| wrong(&e))?;
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
    let block = Block::new(document.block)?;
    let computed = layout::sum_of(&block);
    match document.check_sum {
        Some(said) if edits == Edits::Refused && said != computed => {
            Err(FormatError::Edited { said, computed })
        }
        _ => Ok(block),
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
