//! `pedalproof man` and `pedalproof completions`: written from the arguments themselves.

use super::args::{Arguments, Completions, Man};
use super::{Outcome, print};
use anyhow::Context;
use clap::CommandFactory;

/// Writes a manual page for the program and one for each command.
pub(super) fn man(wanted: &Man) -> anyhow::Result<Outcome> {
    let folder = &wanted.folder;
    std::fs::create_dir_all(folder)
        .with_context(|| format!("cannot make the folder {}", folder.display()))?;
    clap_mangen::generate_to(Arguments::command(), folder)
        .with_context(|| format!("cannot write manual pages into {}", folder.display()))?;
    eprintln!(
        "manual pages are in {}: read one with `man {}`",
        folder.display(),
        folder.join("pedalproof.1").display()
    );
    Ok(Outcome::Good)
}

/// Prints what a shell needs to complete the commands.
pub(super) fn completions(wanted: &Completions) -> anyhow::Result<Outcome> {
    let mut text = Vec::new();
    clap_complete::generate(
        wanted.shell,
        &mut Arguments::command(),
        "pedalproof",
        &mut text,
    );
    print(&String::from_utf8(text)?)?;
    Ok(Outcome::Good)
}
