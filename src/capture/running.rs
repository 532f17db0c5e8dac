//! The step that row after row is of, told by one comparison.

use measure::units::Step;

/// The word of a step in a register: to compare that is a tenth of a row's time less than to call for a comparison of bytes.
#[derive(Debug, Clone, Copy)]
pub(super) struct RunningStep {
    pub step: Step,
    word: u128,
    /// The bytes that count.
    mask: u128,
}

impl RunningStep {
    pub fn new(step: Step) -> Self {
        let mut bytes = [[0; 16]; 2];
        for (at, byte) in step.word().bytes().enumerate().take(16) {
            bytes[0][at] = byte;
            bytes[1][at] = 0xff;
        }
        let [word, mask] = bytes.map(u128::from_le_bytes);
        Self { step, word, mask }
    }

    pub fn begins(self, text: &[u8]) -> bool {
        text.first_chunk()
            .is_some_and(|text| u128::from_le_bytes(*text) & self.mask == self.word)
    }
}
