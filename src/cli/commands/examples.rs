//! `pedalproof examples`.

use crate::bench;
use crate::cli::outcome::Outcome;
use crate::cli::output::print;
use crate::outlet::Shown;
use anyhow::Context;
use clap::Args;
use std::path::PathBuf;

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof examples trolleys\n  pedalproof assess trolleys/T2-pedal.csv"
)]
pub(in crate::cli) struct ExamplesArgs {
    /// Where to write; is made when it is not there
    #[arg(default_value = "examples")]
    folder: PathBuf,
}

pub(in crate::cli) fn run(args: &ExamplesArgs) -> anyhow::Result<Outcome> {
    let folder = &args.folder;
    std::fs::create_dir_all(folder)
        .with_context(|| format!("cannot make the folder {}", folder.shown()))?;
    for csv in bench::write_examples(folder)? {
        print(&format!("{}\n", csv.shown()))?;
    }
    Ok(Outcome::Good)
}
