//! `pedalproof prove`.

mod args;
mod guide;

pub(in crate::cli) use args::ProveArgs;

use crate::bench::{self, FlashedBoard, Hand, ProofOptions, Run, Setup};
use crate::cli::outcome::Outcome;
use crate::cli::output::{CaptureDestination, create, is_piped, print, print_json};
use crate::cli::simulated::{self, SimulatedBoard};
use crate::cli::{input, progress};
use crate::constants::{Block, formats};
use crate::files;
use crate::link::Source;
use crate::outlet::{Shown, say_part, tell};
use crate::profile::Profile;
use crate::proof::{Fault, Marks, Trial};
use crate::report;
use anyhow::{Context, anyhow, bail};
use guide::FaultGuide;
use measure::units::Step;
use std::io::{BufRead, IsTerminal};
use std::path::{Path, PathBuf};

/// How long is measured unless said otherwise, seconds.
pub(in crate::cli) const SECONDS: u32 = 60;
/// How much faster than life the simulated board runs.
const DEMO_SPEED: f64 = 25.0;
/// Longest round of faults, seconds.
pub(in crate::cli) const LONGEST_S: f64 = 3600.0;

pub(in crate::cli) fn run(args: &ProveArgs, baud: Option<u32>) -> anyhow::Result<Outcome> {
    if args.capture.is_none() && args.port.is_none() && !args.demo {
        bail!("say what to measure: --port PORT, --demo, or a recording");
    }
    let profiles = args.profile.iter();
    let profiles = profiles
        .map(|name| input::profile(name))
        .collect::<Result<Vec<_>, _>>()?;
    let profiles: Vec<&Profile> = profiles.iter().collect();
    let block = match &args.block {
        Some(file) => input::block(file)?.block,
        None if args.demo => bench::trolley_block()?,
        None => bail!("say what the board was flashed with: --block T1.hex (or its .h or .json)"),
    };
    if let Some(csv) = &args.capture {
        let marks = if is_piped(csv) {
            Marks::default()
        } else {
            read_marks(&marks_path(csv))?
        };
        return judge(args, &block, profiles, csv, marks);
    }
    if args.faults && args.port.as_deref() == Some("-") {
        bail!(
            "Enter is awaited in a round of faults, so the stream cannot come through the standard input: record it to a file, or give the port"
        );
    }
    let destination = CaptureDestination::new(args.out.as_deref(), "prove", "board.csv")?;
    let marks = marks_path(&destination.csv);
    // Also without a round: marks of another recording would be taken for this one's.
    for path in demo_block_path(args).iter().chain([&marks]) {
        if files::is_taken(path) {
            bail!(
                "{} is there already and is none of this run's: choose another name with --out, or move it away",
                path.shown()
            );
        }
    }
    confirm(args)?;
    if args.faults {
        warn_of_hidden(&block, &profiles, &args.round);
    }
    let (run, _board) = start(args, &block, baud, &destination.csv)?;
    let (capture, marks) = watch(args, run, &block)?;
    if args.faults {
        let path = marks_path(&capture);
        create(&path, &marks.to_json())?;
    }
    if let Some(path) = demo_block_path(args) {
        create(&path, &formats::to_json(&block, "the demo's trolley"))?;
    }
    judge(args, &block, profiles, &capture, marks)
}

/// Where the demo's constants file is written.
fn demo_block_path(args: &ProveArgs) -> Option<PathBuf> {
    let name = args.out.as_ref().filter(|_| args.demo)?;
    Some(name.with_extension("block.json"))
}

/// The file of marks beside a recording.
pub(in crate::cli) fn marks_path(csv: &Path) -> PathBuf {
    let mut name = csv.as_os_str().to_owned();
    name.push(".proof.json");
    PathBuf::from(name)
}

fn read_marks(path: &Path) -> anyhow::Result<Marks> {
    match files::read_text(path) {
        Ok(text) => Marks::from_json(&text).with_context(|| format!("marks {}", path.shown())),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(Marks::default()),
        Err(e) => Err(e).with_context(|| format!("cannot read {}", path.shown())),
    }
}

fn judge(
    args: &ProveArgs,
    block: &Block,
    profiles: Vec<&Profile>,
    csv: &Path,
    marks: Marks,
) -> anyhow::Result<Outcome> {
    let opened = input::opened(csv, "prove --block FILE")?;
    if let Some(lost) = &opened.capture.lost {
        tell!("{}: {lost}", csv.shown());
    }
    let file = Path::new(csv.file_name().unwrap_or_default()).shown();
    let options = ProofOptions {
        profiles,
        marks,
        ..args.options(block)
    };
    let proof = progress::counted("comparing the board with its numbers", || {
        bench::prove_file(&opened, &file, options)
    })
    .with_context(|| format!("recording {}", csv.shown()))?;
    if args.json {
        print_json(&proof)?;
    } else {
        print(&report::proof(&proof).text())?;
    }
    Ok(Some(proof.verdict).into())
}

/// Safety words, and before faults a yes.
fn confirm(args: &ProveArgs) -> anyhow::Result<()> {
    if args.demo {
        return Ok(());
    }
    tell!("{}", report::SAFETY);
    if !args.faults || args.yes {
        return Ok(());
    }
    if !std::io::stdin().is_terminal() {
        bail!(
            "a round of faults makes the board command the motor: say --yes when the drive wheels are off the ground or the motor leads off"
        );
    }
    say_part("Are the drive wheels off the ground or the motor leads off? Type yes: ");
    let mut answer = String::new();
    std::io::stdin().lock().read_line(&mut answer)?;
    if answer.trim() != "yes" {
        bail!("not confirmed, so nothing was started");
    }
    Ok(())
}

fn warn_of_hidden(block: &Block, profiles: &[&Profile], round: &[Fault]) {
    for control in bench::foretold(block, profiles) {
        match control {
            Ok(rows) => {
                let rows = rows.iter().filter(|row| round.contains(&row.fault));
                for warning in rows.filter_map(|row| row.missed.as_ref()) {
                    tell!("{warning}");
                }
            }
            Err(why) => tell!("what the wiring hides is not known: {why}"),
        }
    }
}

fn start(
    args: &ProveArgs,
    block: &Block,
    baud: Option<u32>,
    csv: &Path,
) -> anyhow::Result<(Run, Option<SimulatedBoard>)> {
    let script = if args.faults {
        Hand::faults(&Trial::round(block, &args.round))
    } else {
        Hand::comparing()
    };
    let demo_s = FlashedBoard::script_s(&script);
    let (source, board): (Box<dyn Source>, _) = match &args.port {
        _ if args.demo => {
            let (source, board) = flashed_board(block, script, DEMO_SPEED)?;
            (source, Some(board))
        }
        Some(port) => (args.stream.open(port, baud)?, None),
        None => bail!("say what to measure: --port PORT, --demo, or a recording"),
    };
    let seconds = match args.seconds {
        _ if args.faults => LONGEST_S,
        Some(seconds) => f64::from(seconds),
        None if args.demo => demo_s,
        None => f64::from(SECONDS),
    };
    let step = if args.faults {
        Step::Shake
    } else {
        Step::Strokes
    };
    let run = bench::start(Setup {
        stream: args.stream.options()?,
        channels: args.stated(),
        baud,
        ..Setup::timed(source, vec![(step, seconds)], csv.to_owned())
    });
    Ok((run, board))
}

/// A simulated board flashed with this constants file, moved by this hand.
pub(in crate::cli) fn flashed_board(
    block: &Block,
    script: Vec<Hand>,
    speed: f64,
) -> anyhow::Result<(Box<dyn Source>, SimulatedBoard)> {
    /// Samples a second of the simulated measuring board.
    const RATE_HZ: f64 = 1000.0;
    /// The same proof every time.
    const SEED: u64 = 1;
    let lines = FlashedBoard::new(block, script, RATE_HZ, SEED)?;
    Ok(simulated::start("simulated flashed board", lines, speed))
}

/// Watches until the end; gives the recording and the marks.
fn watch(args: &ProveArgs, run: Run, block: &Block) -> anyhow::Result<(PathBuf, Marks)> {
    let mut guide = FaultGuide::new(args, block);
    if !args.faults {
        tell!(
            "Set the dial, then press the pedal to several positions; hold each for a second. Begin and end released."
        );
    }
    let ended = progress::until_end_with(run, &mut guide)?;
    let capture = ended
        .capture
        .ok_or_else(|| anyhow!("no sample arrived, so there is nothing to judge: `pedalproof ports` lists what could be a board"))?;
    Ok((capture, guide.marks()))
}
