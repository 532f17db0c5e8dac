//! `pedalproof wiring`.

use crate::cli::outcome::Outcome;
use crate::cli::output::{create_once, file_of, is_piped, print, print_json};
use crate::cli::{input, progress};
use crate::outlet::{self, Shown, tell};
use crate::profile::Profile;
use crate::report;
use crate::wiring::WiringReport;
use anyhow::{Context, bail};
use clap::Args;
use std::path::{Path, PathBuf};
use std::time::Duration;

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof wiring dial-rheostat\n  pedalproof wiring pedal-three-wire --bits 12 --json\n  pedalproof wiring lever-shunting --profile-out rewired.json"
)]
pub(in crate::cli) struct WiringArgs {
    /// The kind of control: a built-in name, or a file; without it, the built-in ones
    profile: Option<String>,
    /// Resolution of the board, for readings in codes
    #[arg(long, default_value_t = 10, value_parser = input::bits)]
    bits: u32,
    /// Print JSON
    #[arg(long)]
    json: bool,
    /// Write the profile that goes with the advised changes, never over another file; `-` is stdout, and the rest goes to stderr
    #[arg(long, value_name = "FILE")]
    profile_out: Option<PathBuf>,
}

pub(in crate::cli) fn run(args: &WiringArgs) -> anyhow::Result<Outcome> {
    let Some(name) = &args.profile else {
        if args.json || args.profile_out.is_some() {
            bail!(
                "say which kind of control: pedalproof wiring NAME ..., with one of these or a profile's file:\n{}",
                super::profile::list().trim_end()
            );
        }
        print(&format!(
            "Which kind? pedalproof wiring NAME, with a name of these or a profile's file.\n\n{}",
            super::profile::list()
        ))?;
        return Ok(Outcome::Good);
    };
    let piped = args.profile_out.as_deref().is_some_and(is_piped);
    if piped && args.json {
        bail!(
            "--json and --profile-out - both go to the standard output: give a file to one of them"
        );
    }
    let profile = input::profile(name)?;
    let wiring = profile.control_wiring(args.bits);
    let report =
        progress::told_beyond(TOLD_AFTER, "still trying changes of the wiring ...", || {
            WiringReport::of(&wiring)
        })
        .with_context(|| format!("the wiring of profile {name}"))?;
    if let Some(path) = &args.profile_out {
        write_profile(&profile, &report, path)?;
    }
    if args.json {
        print_json(&report)?;
    } else if piped {
        // The profile is the answer, and this stands beside it.
        tell!("{}", report::wiring(&report).text().trim_end());
    } else {
        print(&report::wiring(&report).text())?;
    }
    Ok(Outcome::Good)
}

/// Seconds after which it is said that something goes on.
const TOLD_AFTER: Duration = Duration::from_secs(1);

fn write_profile(profile: &Profile, report: &WiringReport, path: &Path) -> anyhow::Result<()> {
    let changes = report
        .tracks
        .iter()
        .filter_map(|track| Some((track.track, track.recommended.as_ref()?)))
        .collect::<Vec<_>>();
    if changes.is_empty() {
        bail!(
            "no change of the wiring helps \"{}\": there is no other profile to write",
            profile.name
        );
    }
    let rewired = profile.rewired(&changes).to_json();
    let Some(path) = file_of(Some(path)) else {
        return print(&rewired);
    };
    // Asked for twice, as by the page of a machine, it is there already.
    create_once(path, &rewired)?;
    tell!(
        "wrote {}; look at it again: pedalproof wiring {}",
        path.shown(),
        outlet::typed(path)
    );
    Ok(())
}
