//! `pedalproof demo`: the bench on a simulated board.

use crate::bench::{self, Asking, Run, Setup, TellApart};
use crate::cli::outcome::Outcome;
use crate::cli::output::{CaptureDestination, print, print_json};
use crate::cli::screen_args::ScreenArgs;
use crate::cli::simulated::{DemoUnit, demo_units};
use crate::cli::{progress, screen};
use crate::outlet::{Shown, tell};
use crate::report;
use anyhow::{anyhow, bail};
use clap::Args;
use clap::builder::{PossibleValue, PossibleValuesParser};
use std::io::IsTerminal;
use std::path::PathBuf;
use std::sync::Arc;

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof demo\n  pedalproof demo T3-lever --speed 4\n  pedalproof demo --plain --json > assessment.json"
)]
pub(in crate::cli) struct DemoArgs {
    /// Which simulated part
    #[arg(default_value = "T1-pedal", value_parser = parts())]
    unit: String,
    /// Seed of the simulation: the same seed gives the same stream
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// How much faster than life the board runs [default: 1 on the screen, 4 without]
    #[arg(long)]
    speed: Option<f64>,
    /// Run the test without the screen, as when stdout is no terminal
    #[arg(long)]
    plain: bool,
    /// Print the assessment as JSON (implies --plain)
    #[arg(long)]
    json: bool,
    /// Keep the recording under this name; without it, it goes into a temporary folder
    #[arg(long, value_name = "NAME")]
    out: Option<PathBuf>,
    /// A constants file to look at on the screen, with this part moving the point: C header, Intel HEX or JSON
    #[arg(long, value_name = "FILE", conflicts_with_all = ["plain", "json"])]
    block: Option<PathBuf>,
}

fn parts() -> PossibleValuesParser {
    PossibleValuesParser::new(
        demo_units().map(|(name, words)| PossibleValue::new(*name).help(*words)),
    )
}

/// How much faster than life the simulated board runs when nobody watches.
const UNWATCHED_SPEED: f64 = 4.0;

pub(in crate::cli) fn run(args: &DemoArgs, screen_args: &ScreenArgs) -> anyhow::Result<Outcome> {
    let plain = args.plain || args.json || !std::io::stdout().is_terminal();
    let speed = args
        .speed
        .unwrap_or(if plain { UNWATCHED_SPEED } else { 1.0 });
    if !(0.01..=1000.0).contains(&speed) {
        bail!(
            "--speed {speed} cannot be: give a positive number, from 0.01 to 1000; 1 is real time"
        );
    }
    let unit = DemoUnit::named(&args.unit, args.seed)?;
    let file = format!("{}.csv", unit.tag);
    let destination = CaptureDestination::new(args.out.as_deref(), "demo", &file)?;
    let (source, board) = unit.board(speed);
    let tell_apart = if plain {
        TellApart::Never // nobody is there to say yes
    } else {
        unit.tell_apart()
    };
    let run = bench::start(Setup {
        asking: Asking {
            tell_apart,
            ..Asking::default()
        },
        ..Setup::card(
            source,
            Some(Arc::clone(&unit.profile)),
            Some(unit.tag.clone()),
            destination.csv.clone(),
        )
    });
    let run = unit.watched(run);
    if !plain {
        let block = args.block.as_deref();
        return screen::watch(run, board, &unit, screen_args, destination, block);
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
        tell!("the recording was in a temporary folder and is gone: --out NAME keeps it");
    } else if let Some(capture) = &ended.capture {
        tell!("recording: {}", capture.shown());
    }
    Ok(assessment.verdict.into())
}
