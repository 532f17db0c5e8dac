//! `pedalproof demo`: the bench on a simulated board.

use crate::bench::{self, Run, Setup};
use crate::cli::args::ScreenArgs;
use crate::cli::output::{CaptureDestination, print, print_json};
use crate::cli::simulated::{self, SimulatedBoard};
use crate::cli::{Outcome, progress, screen};
use crate::link::{BoardLines, Source};
use crate::profile::{self, Profile};
use crate::report;
use anyhow::{anyhow, bail};
use clap::Args;
use simulator::{SCENARIO_UNITS, Simulation, scenario};
use std::io::IsTerminal;
use std::path::PathBuf;
use std::sync::Arc;

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof demo\n  pedalproof demo T3-lever --speed 4\n  pedalproof demo --plain --json > assessment.json"
)]
pub(in crate::cli) struct DemoArgs {
    /// Which simulated unit
    #[arg(default_value = "T1-pedal")]
    unit: String,
    /// Seed of the simulation: the same seed gives the same stream
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// How much faster than life the board runs [default: 1 on the screen, 4 without]
    #[arg(long)]
    speed: Option<f64>,
    /// Run the card without the screen, as when stdout is no terminal
    #[arg(long)]
    plain: bool,
    /// Print the assessment as JSON (implies --plain)
    #[arg(long)]
    json: bool,
    /// Keep the capture under this name; without it, it goes into a temporary folder
    #[arg(long, value_name = "NAME")]
    out: Option<PathBuf>,
    /// A block to look at on the screen, with this unit moving the point: C header, Intel HEX or JSON
    #[arg(long, value_name = "FILE", conflicts_with_all = ["plain", "json"])]
    block: Option<PathBuf>,
}

/// How much faster than life the simulated board runs when nobody watches.
const UNWATCHED_SPEED: f64 = 4.0;

pub(in crate::cli) fn run(args: &DemoArgs, screen_args: &ScreenArgs) -> anyhow::Result<Outcome> {
    let plain = args.plain || args.json || !std::io::stdout().is_terminal();
    let speed = args
        .speed
        .unwrap_or(if plain { UNWATCHED_SPEED } else { 1.0 });
    if !(speed.is_finite() && speed > 0.0) {
        bail!("--speed {speed} cannot be: give a positive number, 1 is real time");
    }
    let unit = DemoUnit::named(&args.unit, args.seed)?;
    let file = format!("{}.csv", unit.tag);
    let destination = CaptureDestination::new(args.out.as_deref(), "demo", &file)?;
    let (source, board) = unit.board(speed)?;
    let run = bench::start(Setup::card(
        source,
        Some(Arc::clone(&unit.profile)),
        Some(unit.tag.clone()),
        destination.csv.clone(),
    ));
    if !plain {
        let out = destination.csv.clone();
        return screen::watch(run, board, &unit, screen_args, out, args.block.as_deref());
    }
    let outcome = headless(run, args, &destination);
    drop(board);
    outcome
}

fn headless(
    run: Run,
    args: &DemoArgs,
    destination: &CaptureDestination,
) -> anyhow::Result<Outcome> {
    let ended = progress::until_end(run)?;
    let assessment = ended
        .assessment
        .ok_or_else(|| anyhow!("no sample was taken, so there is nothing to assess"))?;
    if args.json {
        print_json(&*assessment)?;
    } else {
        print(&report::assessment(&assessment).text())?;
    }
    if destination.temporary.is_some() {
        eprintln!("the capture was in a temporary folder and is gone: --out NAME keeps it");
    } else if let Some(capture) = &ended.capture {
        eprintln!("capture: {}", capture.display());
    }
    Ok(assessment.verdict.into())
}

/// A simulated unit and what it is held against.
pub(in crate::cli) struct DemoUnit {
    pub(in crate::cli) tag: String,
    pub(in crate::cli) profile: Arc<Profile>,
    simulation: Simulation,
}

impl DemoUnit {
    pub(in crate::cli) fn named(name: &str, seed: u64) -> anyhow::Result<Self> {
        let known = || {
            SCENARIO_UNITS
                .iter()
                .map(|(name, _)| *name)
                .collect::<Vec<_>>()
                .join(", ")
        };
        let unit = scenario(name).ok_or_else(|| {
            anyhow!(
                "there is no simulated unit `{name}`: choose one of {}",
                known()
            )
        })?;
        let kind = profile_of(name);
        let profile = profile::find(kind).ok_or_else(|| {
            anyhow!("the built-in profile {kind} is missing: this is a fault of the program")
        })?;
        let simulation =
            Simulation::new(&unit, seed).map_err(|e| anyhow!("simulated unit {name}: {e}"))?;
        Ok(Self {
            tag: name.to_owned(),
            profile: Arc::new(profile),
            simulation,
        })
    }

    /// Its board, `speed` times as fast as life.
    pub(in crate::cli) fn board(
        &self,
        speed: f64,
    ) -> anyhow::Result<(Box<dyn Source>, SimulatedBoard)> {
        let lines = BoardLines::new(self.simulation.clone());
        simulated::start(&format!("simulated board {}", self.tag), lines, speed)
    }
}

/// The built-in profile of a scenario unit.
pub(in crate::cli) fn profile_of(unit: &str) -> &'static str {
    if unit.ends_with("dial") {
        "dial-rheostat"
    } else if unit.ends_with("lever") {
        "lever-shunting"
    } else {
        "pedal-hall-two-track"
    }
}
