//! Options of the screen and the port, taken by every command.
#![allow(clippy::doc_markdown)] // doc comments here are help texts for the terminal

use clap::{Args, ValueEnum};
use std::ops::RangeInclusive;

/// When the screen has colours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Colours {
    Auto,
    Always,
    Never,
}

/// Speeds that a port may be told to have, baud.
pub(super) const BAUDS: RangeInclusive<i64> = 50..=50_000_000;

/// The screen and the port.
#[allow(clippy::struct_excessive_bools)] // switches of a command line
#[derive(Debug, Clone, Args)]
pub(super) struct ScreenArgs {
    /// Draw with plain ASCII characters only
    #[arg(long, global = true)]
    pub(super) ascii: bool,
    /// Use the mouse: clicks choose a result, the wheel zooms the trace (select text with shift)
    #[arg(long, global = true)]
    pub(super) mouse: bool,
    /// Begin with the details of a run instead of big letters
    #[arg(long, global = true)]
    pub(super) details: bool,
    /// Colours: as the terminal and NO_COLOR say, always, or never
    #[arg(
        long,
        global = true,
        value_enum,
        value_name = "WHEN",
        default_value = "auto",
        hide_possible_values = true
    )]
    pub(super) color: Colours,
    /// Never ring the terminal's bell
    #[arg(long, global = true)]
    pub(super) silent: bool,
    /// Speed of the serial port; without it the usual speeds are tried in turn
    #[arg(long, global = true, value_name = "BAUD", value_parser = clap::value_parser!(u32).range(BAUDS))]
    pub(super) baud: Option<u32>,
}
