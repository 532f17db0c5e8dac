//! A machine's constants file, read in any format that the program writes.

use super::measured::shown;
use crate::constants::formats::Format;
use crate::constants::{Block, BlockFields};
use serde_json::Value;

pub(super) struct ReadBlock {
    pub block: Block,
    pub is_old: bool,
    pub made_from: Vec<String>,
    pub accepted: Option<String>,
}

/// A constants file of any format that the program writes, `constants --json` among them.
pub(super) fn read_block(text: &str) -> Result<ReadBlock, String> {
    let json: Option<Value> = serde_json::from_str(text).ok();
    if let Some(whole) = json.filter(|json| json["format"] == "constants/1") {
        let fields: BlockFields =
            serde_json::from_value(whole["block"].clone()).map_err(|e| e.to_string())?;
        let units = whole["units"].as_array().into_iter().flatten();
        let shas = units.filter_map(|unit| unit["sha256"].as_str().map(str::to_owned));
        return Ok(ReadBlock {
            block: Block::new(fields).map_err(|e| e.to_string())?,
            is_old: false,
            made_from: shas.collect(),
            accepted: whole["accepted"].as_str().map(shown),
        });
    }
    let format = Format::of(text);
    let block = format.read(text).map_err(|e| e.to_string())?;
    let accepted = text.split("ACCEPTED: ").nth(1);
    let accepted = accepted.map(|rest| {
        let line = rest.lines().next().unwrap_or_default();
        shown(line.trim_end_matches(['"', ',']).trim())
    });
    Ok(ReadBlock {
        is_old: format.is_old(text),
        made_from: named_sums(text),
        accepted,
        block,
    })
}

/// The sums that stand in a comment as `(sha256 ...)`.
fn named_sums(text: &str) -> Vec<String> {
    let after = text.split("(sha256 ").skip(1);
    let sums = after.filter_map(|rest| rest.get(..64));
    let hex = |sum: &&str| sum.chars().all(|c| c.is_ascii_hexdigit());
    sums.filter(hex).map(str::to_owned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_are_found_in_every_comment() {
        let sum = "0123456789abcdef".repeat(4);
        let text = format!("// T1: T1.csv (sha256 {sum}), \"x\"\n// T2 (sha256 zz)");
        assert_eq!(named_sums(&text), [sum]);
    }
}
