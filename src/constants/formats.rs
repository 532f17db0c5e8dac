//! The files that carry a block: C header, EEPROM image as Intel HEX, JSON. Text <-> block.

mod c_header;
mod eeprom;
mod error;
mod json;

pub use c_header::{describe, from_c_header, to_c_header};
pub use eeprom::{from_ihex, to_ihex};
pub use error::FormatError;
pub use json::{Edits, from_json, schema_json, to_json};

use super::Block;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    C,
    Ihex,
    Json,
}

impl Format {
    /// What a text looks like: JSON begins with a brace, Intel HEX with a colon, a C header with neither.
    pub fn of(text: &str) -> Self {
        match text
            .trim_start_matches('\u{feff}')
            .trim_start()
            .chars()
            .next()
        {
            Some('{') => Self::Json,
            Some(':') => Self::Ihex,
            _ => Self::C,
        }
    }

    /// The block in this format. Intel HEX has no place for the comment.
    pub fn write(self, block: &Block, comment: &str) -> String {
        match self {
            Self::C => to_c_header(block, comment),
            Self::Ihex => to_ihex(block),
            Self::Json => to_json(block, comment),
        }
    }

    /// Whether a readable text is of the version before this one.
    pub fn is_old(self, text: &str) -> bool {
        match self {
            Self::C => c_header::is_old(text),
            Self::Ihex => eeprom::is_old(text),
            Self::Json => json::is_old(text),
        }
    }

    /// The block of a text whose numbers somebody has changed and answers for.
    pub fn read_edited(self, text: &str) -> Result<Block, FormatError> {
        match self {
            Self::Json => json::read(text, Edits::Taken),
            _ => self.read(text),
        }
    }

    /// The block of a text in this format.
    pub fn read(self, text: &str) -> Result<Block, FormatError> {
        match self {
            Self::C => from_c_header(text),
            Self::Ihex => from_ihex(text),
            Self::Json => from_json(text),
        }
    }
}
