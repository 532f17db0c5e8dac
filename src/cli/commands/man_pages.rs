//! `pedalproof man` and `pedalproof completions`: written from the arguments themselves.

use crate::cli::outcome::Outcome;
use crate::cli::output::print;
use anyhow::Context;
use clap::{Args, Command};
use std::path::PathBuf;

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof man manual\n  pedalproof man /usr/local/share/man/man1"
)]
pub(in crate::cli) struct ManArgs {
    /// Where to write; is made when it is not there
    #[arg(default_value = "man")]
    folder: PathBuf,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof completions bash\n  pedalproof completions fish\n  pedalproof completions zsh"
)]
pub(in crate::cli) struct CompletionsArgs {
    /// For which shell
    #[arg(value_enum)]
    shell: clap_complete::Shell,
}

/// Writes a manual page for the program and one for each command.
pub(in crate::cli) fn man(args: &ManArgs, program: Command) -> anyhow::Result<Outcome> {
    let folder = &args.folder;
    std::fs::create_dir_all(folder)
        .with_context(|| format!("cannot make the folder {}", folder.display()))?;
    clap_mangen::generate_to(program, folder)
        .with_context(|| format!("cannot write manual pages into {}", folder.display()))?;
    eprintln!(
        "manual pages are in {}: read one with `man {}`",
        folder.display(),
        folder.join("pedalproof.1").display()
    );
    Ok(Outcome::Good)
}

/// Prints what a shell needs to complete the commands.
pub(in crate::cli) fn completions(
    args: &CompletionsArgs,
    mut program: Command,
) -> anyhow::Result<Outcome> {
    let mut text = Vec::new();
    clap_complete::generate(args.shell, &mut program, "pedalproof", &mut text);
    print(&String::from_utf8(text)?)?;
    Ok(Outcome::Good)
}
