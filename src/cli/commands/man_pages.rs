//! `pedalproof man` and `pedalproof completions`: written from the arguments themselves.

use crate::cli::outcome::Outcome;
use crate::cli::output::{print, replace};
use crate::files;
use crate::outlet::{Shown, tell};
use crate::profile;
use anyhow::{Context, bail};
use clap::builder::PossibleValuesParser;
use clap::{Arg, Args, Command};
use std::path::PathBuf;

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof man manual\n  pedalproof man /usr/local/share/man/man1"
)]
pub(in crate::cli) struct ManArgs {
    /// Output folder; created if missing
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
        .with_context(|| format!("cannot make the folder {}", folder.shown()))?;
    let pages = tempfile::tempdir().context("cannot make a temporary folder")?;
    clap_mangen::generate_to(program, &pages).context("cannot make the manual pages")?;
    for page in std::fs::read_dir(&pages)? {
        let page = page?;
        let (text, to) = (
            std::fs::read_to_string(page.path())?,
            folder.join(page.file_name()),
        );
        // A page of before is written anew; what else has its name is somebody's.
        let is_page = |text: String| text.contains(".TH pedalproof");
        if files::is_taken(&to) && !files::read_text(&to).is_ok_and(is_page) {
            bail!(
                "{} is no manual page of this program and is not overwritten: choose another folder, or move it away",
                to.shown()
            );
        }
        replace(&to, &text)?;
    }
    tell!(
        "manual pages are in {}: read one with `man {}`",
        folder.shown(),
        folder.join("pedalproof.1").shown()
    );
    Ok(Outcome::Good)
}

/// Prints what a shell needs to complete the commands.
pub(in crate::cli) fn completions(
    args: &CompletionsArgs,
    mut program: Command,
) -> anyhow::Result<Outcome> {
    let mut text = Vec::new();
    // Names that a file may have as well are offered, too.
    let profiles: Vec<&'static str> = profile::built_in_names().collect();
    let is_profile = |argument: &Arg| argument.get_id() == "profile";
    program = program.mut_subcommands(|command| {
        if command.get_arguments().any(is_profile) {
            let names = PossibleValuesParser::new(profiles.iter().copied());
            command.mut_arg("profile", |argument| argument.value_parser(names))
        } else {
            command
        }
    });
    clap_complete::generate(args.shell, &mut program, "pedalproof", &mut text);
    print(&String::from_utf8(text)?)?;
    Ok(Outcome::Good)
}
