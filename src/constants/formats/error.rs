//! Why a text is no block.

use crate::constants::{DecodeError, InvalidBlock};

#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum FormatError {
    #[error("line {line}: {what}")]
    Text { line: usize, what: String },
    #[error(transparent)]
    Bytes(#[from] DecodeError),
    #[error(
        "its numbers were changed after it was made: its check sum is {said}, they give {computed}. Make it again from the recordings, or take the numbers as they are, with your reason: pedalproof constants --remake FILE --accept \"why\" --format json --out NEW.json"
    )]
    Edited { said: String, computed: String },
    #[error(
        "its comment was changed after it was made: what the limits miss may not stand there any more. Make it again from the recordings, or take it as it is, with your reason: pedalproof constants --remake FILE --accept \"why\" --format json --out NEW.json"
    )]
    Comment,
    #[error(
        "it says block/1 and holds what only block/2 has: it was changed after it was made. Make it again from the recordings, or take it as it is, with your reason: pedalproof constants --remake FILE --accept \"why\" --format json --out NEW.json"
    )]
    Relabelled,
    #[error("the constants file is impossible {0}")]
    Numbers(#[from] InvalidBlock),
}
