//! `pedalproof board`.

use super::{Outcome, args};
use crate::firmware;
use anyhow::Context;

pub(super) fn run(wanted: &args::Board) -> anyhow::Result<Outcome> {
    let written = firmware::write_out(&wanted.folder)
        .with_context(|| format!("cannot write the firmware into {}", wanted.folder.display()))?;
    for path in &written {
        eprintln!("{}", path.display());
    }
    eprintln!(
        "{} files: begin with {}",
        written.len(),
        wanted.folder.join("README.md").display()
    );
    Ok(Outcome::Good)
}
