//! How far the board's ADC may read off a straight line, as every command that works out a recording takes it.
#![allow(clippy::doc_markdown)] // doc comments here are help texts for the terminal

use crate::capture::Opened;
use clap::Args;

/// What is stated now of the board that a recording was taken with.
#[derive(Debug, Clone, Copy, Default, Args)]
pub(super) struct InlArgs {
    /// How far the board's ADC may read off a straight line, in codes; without it, what the recording states or such boards
    /// usually have
    #[arg(long, value_name = "CODES", value_parser = codes)]
    inl_codes: Option<f64>,
}

impl InlArgs {
    pub(super) fn is_stated(self) -> bool {
        self.inl_codes.is_some()
    }

    /// States it of the recording's board in place of what the recording says.
    pub(super) fn state(self, opened: &mut Opened) {
        let board = &mut opened.capture.meta.board;
        board.inl_code = self.inl_codes.or(board.inl_code);
    }
}

/// A board's non-linearity in codes, from its text.
fn codes(text: &str) -> Result<f64, String> {
    let codes = text.parse::<f64>().ok();
    codes
        .filter(|codes| codes.is_finite() && *codes >= 0.0)
        .ok_or_else(|| format!("`{text}` is no number of codes, 0 or more"))
}
