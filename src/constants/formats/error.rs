//! What keeps a text from being a block.

use crate::constants::{DecodeError, InvalidBlock};

#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum FormatError {
    #[error("line {line}: {what}")]
    Text { line: usize, what: String },
    #[error(transparent)]
    Bytes(#[from] DecodeError),
    #[error("the block is impossible {0}")]
    Numbers(#[from] InvalidBlock),
}
