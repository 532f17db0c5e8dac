//! A machine's file as commands name it, and the profiles beside it.

use crate::capture::metadata_path;
use crate::cli::output::is_piped;
use crate::files::folder_of;
use crate::machine::{self, Machine};
use crate::outlet::{self, Shown};
use crate::profile;
use anyhow::{anyhow, bail};
use std::path::Path;

/// A machine's file; of a recording in its place it is said what it is.
pub(super) fn read(file: &Path) -> anyhow::Result<Machine> {
    if metadata_path(file).exists() {
        bail!(
            "{} is a recording, not a machine's file (NAME.json)",
            file.shown()
        );
    }
    Ok(machine::read(file)?)
}

/// A machine's file that is to be changed must be one.
pub(super) fn refuse_piped(file: &Path) -> anyhow::Result<()> {
    if is_piped(file) {
        bail!("`-` is no file that can be changed: give the machine's file");
    }
    Ok(())
}

/// How many tracks a profile has; a profile in a file lies beside the machine's.
pub(super) fn tracks(machine: &Path, name: &str) -> anyhow::Result<usize> {
    let beside = folder_of(machine).join(name);
    if beside.is_file() {
        if !Path::new(name).is_relative() || name.contains("..") {
            bail!("the profile {name} is not in the folder of the machine: copy it there first");
        }
        return Ok(profile::read(&beside)?.tracks.len());
    }
    let found = profile::find(name).ok_or_else(|| {
        let known: Vec<_> = profile::built_in_names().collect();
        anyhow!(
            "there is no profile `{}`: no file of that name in the folder of {}, and none built in. Built in are: {}",
            outlet::line(name),
            machine.shown(),
            known.join(", ")
        )
    })?;
    Ok(found.tracks.len())
}
