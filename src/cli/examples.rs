//! `pedalproof examples`.

use super::{Outcome, args};
use crate::bench;
use anyhow::Context;

pub(super) fn run(wanted: &args::Examples) -> anyhow::Result<Outcome> {
    let folder = &wanted.folder;
    std::fs::create_dir_all(folder)
        .with_context(|| format!("cannot make the folder {}", folder.display()))?;
    for csv in bench::write_examples(folder)? {
        println!("{}", csv.display());
    }
    Ok(Outcome::Good)
}
