//! `report`, `man`, `completions`.

use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// One file about a capture with pictures, for the shelf or for another person
///
/// Verdict and why, figures, pictures, wiring, what was not measured, methods, hashes. HTML needs no network and no script, follows the light or dark of the reader's screen, and prints on A4. A file of that name is
/// written anew. The exit code is 0 when the report was written, whatever the verdict.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof report T1-pedal.csv\n  pedalproof report T1-pedal.csv --profile pedal-hall-two-track --out for-the-file.html\n  pedalproof report T1-pedal.csv --block T1.json --format md --out -"
)]
pub(in crate::cli) struct Report {
    /// The capture's CSV; its metadata lies beside it
    pub(in crate::cli) capture: PathBuf,
    /// The profile: a file, or the name of a built-in one; without it, the one that the capture names
    #[arg(long)]
    pub(in crate::cli) profile: Option<String>,
    /// HTML with pictures, or Markdown with pictures in letters
    #[arg(long, value_enum, default_value_t = ReportFormat::Html)]
    pub(in crate::cli) format: ReportFormat,
    /// The file to write, `-` for stdout [default: NAME-report.html or .md, here]
    #[arg(long, value_name = "FILE")]
    pub(in crate::cli) out: Option<PathBuf>,
    /// The constants block of the board (C header, Intel HEX or JSON), to be told of as well
    #[arg(long, value_name = "FILE")]
    pub(in crate::cli) block: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::cli) enum ReportFormat {
    /// One HTML file
    Html,
    /// Markdown
    Md,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof man manual\n  pedalproof man /usr/local/share/man/man1"
)]
pub(in crate::cli) struct Man {
    /// Where to write; is made when it is not there
    #[arg(default_value = "man")]
    pub(in crate::cli) folder: PathBuf,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof completions bash\n  pedalproof completions fish\n  pedalproof completions zsh"
)]
pub(in crate::cli) struct Completions {
    /// For which shell
    #[arg(value_enum)]
    pub(in crate::cli) shell: clap_complete::Shell,
}
