//! JSON: the numbers by name, `block/1`.

use super::{Block, FormatError};
use crate::constants::block::BlockFields;
use serde::{Deserialize, Serialize};

const FORMAT: &str = "block/1";

#[derive(Serialize, Deserialize)]
struct Document {
    format: String,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    comment: Vec<String>,
    block: BlockFields,
}

/// Read first: of another format nothing else is sure.
#[derive(Deserialize)]
struct Head {
    format: String,
}

pub fn to_json(block: &Block, comment: &str) -> String {
    let document = Document {
        format: FORMAT.to_owned(),
        comment: comment.lines().map(str::to_owned).collect(),
        block: block.numbers().clone(),
    };
    let mut text = serde_json::to_string_pretty(&document).unwrap_or_default();
    text.push('\n');
    text
}

/// Reads the block back.
pub fn from_json(text: &str) -> Result<Block, FormatError> {
    let wrong = |e: &serde_json::Error| FormatError::Text {
        line: e.line().max(1),
        what: e.to_string(),
    };
    let head: Head = serde_json::from_str(text).map_err(|e| wrong(&e))?;
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
    Ok(Block::new(document.block)?)
}
