//! `pedalproof wiring`.

use crate::cli::input;
use crate::cli::outcome::Outcome;
use crate::cli::output::{print, print_json};
use crate::report;
use crate::wiring::WiringReport;
use anyhow::Context;
use clap::Args;

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof wiring dial-rheostat\n  pedalproof wiring pedal-three-wire --bits 12 --json"
)]
pub(in crate::cli) struct WiringArgs {
    /// The profile: a file, or the name of a built-in one
    profile: String,
    /// Resolution of the board, for readings in codes
    #[arg(long, default_value_t = 10, value_parser = clap::value_parser!(u32).range(1..=24))]
    bits: u32,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

pub(in crate::cli) fn run(args: &WiringArgs) -> anyhow::Result<Outcome> {
    let profile = input::profile(&args.profile)?;
    let wiring = profile.control_wiring(args.bits);
    let report = WiringReport::of(&wiring)
        .with_context(|| format!("the wiring of profile {}", args.profile))?;
    if args.json {
        print_json(&report)?;
    } else {
        print(&report::wiring(&report).text())?;
    }
    Ok(Outcome::Good)
}
