//! EEPROM image as Intel HEX: the block from address 0.

use super::error::FormatError;
use crate::constants::Block;
use crate::constants::layout;
use ihex::{Record, create_object_file_representation};

const BYTES_A_RECORD: usize = 16;

/// The block as an EEPROM image, one record a line.
pub fn to_ihex(block: &Block) -> String {
    let bytes = layout::to_bytes(block);
    let mut records: Vec<Record> = (0_u16..)
        .step_by(BYTES_A_RECORD)
        .zip(bytes.chunks(BYTES_A_RECORD))
        .map(|(offset, value)| Record::Data {
            offset,
            value: value.to_vec(),
        })
        .collect();
    records.push(Record::EndOfFile);
    create_object_file_representation(&records).unwrap_or_default()
}

/// Reads the block back, from an image of ours or from a whole EEPROM that was read out: behind the block only
/// erased bytes may follow. Strict: every line is a good record, records follow one another from address 0 without a
/// gap, and the last one ends the file.
pub fn from_ihex(text: &str) -> Result<Block, FormatError> {
    Ok(layout::from_memory(&bytes_of(text)?)?)
}

/// Whether a readable image is of the version before this one.
pub(super) fn is_old(text: &str) -> bool {
    bytes_of(text).is_ok_and(|bytes| layout::version_of(&bytes) == Some(layout::OLD_VERSION))
}

fn bytes_of(text: &str) -> Result<Vec<u8>, FormatError> {
    let mut bytes: Vec<u8> = Vec::new();
    let mut ended = false;
    let mut last = 0;
    for (n, line) in text.lines().enumerate() {
        let wrong = |what: String| FormatError::Text { line: n + 1, what };
        let line = line.trim_end();
        last = n + 1;
        if ended && line.is_empty() {
            continue;
        }
        if ended {
            return Err(wrong(
                "something follows the record that ends the file".into(),
            ));
        }
        match Record::from_record_string(line) {
            Ok(Record::Data { offset, value }) => {
                if usize::from(offset) != bytes.len() {
                    return Err(wrong(format!(
                        "address {offset} where {} follows: a part is missing or there twice",
                        bytes.len()
                    )));
                }
                bytes.extend(value);
            }
            Ok(Record::EndOfFile) => ended = true,
            Ok(_) => {
                return Err(wrong(
                    "a record for addresses above 65535: this is no EEPROM image".into(),
                ));
            }
            Err(error) => return Err(wrong(format!("no good record: {error}"))),
        }
    }
    if !ended {
        return Err(FormatError::Text {
            line: last + 1,
            what: "the record that ends the file is missing: it was cut off".into(),
        });
    }
    Ok(bytes)
}
