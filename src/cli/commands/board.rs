//! `pedalproof board`.

use crate::cli::input;
use crate::cli::outcome::Outcome;
use crate::firmware;
use crate::outlet::{Shown, tell};
use crate::profile::Profile;
use crate::report;
use anyhow::{Context, bail};
use clap::Args;
use std::path::PathBuf;

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof board\n  pedalproof board firmware\n  pedalproof board T2 --profile pedal-three-wire --profile dial-rheostat --block T2.hex"
)]
pub(in crate::cli) struct BoardArgs {
    /// Output folder; created if missing
    #[arg(default_value = "board")]
    folder: PathBuf,
    /// The controls on A0, A1, A2, for the build page and its drawing [default: a hall pedal of two tracks and a rheostat dial]
    #[arg(long, value_name = "PROFILE")]
    profile: Vec<String>,
    /// The constants file, for the voltages on the build page
    #[arg(long, value_name = "FILE")]
    block: Option<PathBuf>,
}

/// The controls of a trolley.
const USUAL: [&str; 2] = ["pedal-hall-two-track", "dial-rheostat"];
/// Inputs of the board, the read-back and the DAC's wires left out.
const MOST_PINS: usize = 3;

/// What is built; refused with more signal wires than there are pins.
fn profiles(args: &BoardArgs) -> anyhow::Result<Vec<Profile>> {
    let named: Vec<&str> = match &args.profile[..] {
        [] => USUAL.to_vec(),
        named => named.iter().map(String::as_str).collect(),
    };
    let profiles: Vec<Profile> = named
        .into_iter()
        .map(input::profile)
        .collect::<Result<_, _>>()?;
    fit(&profiles)?;
    Ok(profiles)
}

/// Refuses controls with more signal wires than the board has pins.
pub(in crate::cli) fn fit(profiles: &[Profile]) -> anyhow::Result<()> {
    let wires: usize = profiles.iter().map(|profile| profile.tracks.len()).sum();
    if wires > MOST_PINS {
        bail!(
            "these controls have {wires} signal wires, and the board has {MOST_PINS} inputs (A0, A1, A2): leave one out"
        );
    }
    Ok(())
}

pub(in crate::cli) fn run(args: &BoardArgs) -> anyhow::Result<Outcome> {
    let profiles = profiles(args)?;
    let block = args.block.as_deref().map(input::block).transpose()?;
    let build = report::Build {
        profiles: &profiles,
        block: block.as_ref().map(|file| &file.block),
    };
    let (page, drawing) = (
        report::page(&build, "boards/blend.hex", "board.svg"),
        report::drawing(&build),
    );
    let made = [("BUILD.md", page.as_str()), ("board.svg", drawing.as_str())];
    let written = firmware::write_out(&args.folder, &made)
        .with_context(|| format!("cannot write the firmware into {}", args.folder.shown()))?;
    for path in &written {
        tell!("{}", path.shown());
    }
    tell!(
        "{} files: begin with {}; to build the board that drives: {}",
        written.len(),
        args.folder.join("README.md").shown(),
        args.folder.join("BUILD.md").shown()
    );
    Ok(Outcome::Good)
}
