//! `pedalproof board`.

use crate::cli::outcome::Outcome;
use crate::firmware;
use crate::outlet::{Shown, tell};
use anyhow::Context;
use clap::Args;
use std::path::PathBuf;

#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  pedalproof board\n  pedalproof board firmware")]
pub(in crate::cli) struct BoardArgs {
    /// Where to write; is made when it is not there
    #[arg(default_value = "board")]
    folder: PathBuf,
}

pub(in crate::cli) fn run(args: &BoardArgs) -> anyhow::Result<Outcome> {
    let written = firmware::write_out(&args.folder)
        .with_context(|| format!("cannot write the firmware into {}", args.folder.shown()))?;
    for path in &written {
        tell!("{}", path.shown());
    }
    tell!(
        "{} files: begin with {}",
        written.len(),
        args.folder.join("README.md").shown()
    );
    Ok(Outcome::Good)
}
