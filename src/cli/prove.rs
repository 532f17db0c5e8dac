//! `pedalproof prove`.

use super::demo::Temporary;
use super::flashed::{self, Flashed};
use super::lead::Leader;
use super::{Outcome, args, assess, constants, print, record, watch, whole};
use crate::bench::{self, FlashedBoard, Hand, Plan, ProofOptions, Run, Setup};
use crate::capture::{self, ChannelMeta};
use crate::constants::{Block, formats};
use crate::link::{Source, StreamOptions};
use crate::profile::Profile;
use crate::proof::{Fault, Marks};
use crate::report;
use anyhow::{Context, anyhow, bail};
use measure::units::{Role, Step};
use std::io::{BufRead, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// How long is measured unless said otherwise, seconds.
pub(super) const SECONDS: u32 = 60;
/// How much faster than life the simulated board runs.
const DEMO_SPEED: f64 = 8.0;
/// Longest round of faults, seconds.
pub(super) const LONGEST_S: f64 = 3600.0;

pub(super) fn run(wanted: &args::Prove, baud: u32) -> anyhow::Result<Outcome> {
    let profile = wanted.profile.as_deref().map(assess::named).transpose()?;
    let block = match &wanted.block {
        Some(file) => constants::read(file)?.block,
        None => bench::trolley_block()?,
    };
    if let Some(csv) = &wanted.capture {
        let marks = read_marks(&marks_path(csv))?;
        return judged(wanted, &block, profile.as_ref(), csv, marks);
    }
    let place = Place::new(wanted)?;
    confirm(wanted)?;
    if let (Some(profile), true) = (&profile, wanted.faults) {
        foretell(profile, &wanted.round);
    }
    let mut demo = Demo::start(wanted)?;
    let run = start(wanted, baud, &mut demo, &place.csv)?;
    let (capture, marks) = taken(wanted, run, &block)?;
    if wanted.faults {
        let path = marks_path(&capture);
        whole::replace(&path, &marks.to_json())?;
    }
    if let (true, Some(path)) = (wanted.demo, block_path(wanted)) {
        whole::replace(&path, &formats::to_json(&block, "the demo's trolley"))?;
    }
    judged(wanted, &block, profile.as_ref(), &capture, marks)
}

/// Where the demo's block is kept.
fn block_path(wanted: &args::Prove) -> Option<PathBuf> {
    wanted
        .out
        .as_ref()
        .map(|name| name.with_extension("block.json"))
}

/// The file of marks beside a capture.
pub(super) fn marks_path(csv: &Path) -> PathBuf {
    let mut name = csv.as_os_str().to_owned();
    name.push(".proof.json");
    PathBuf::from(name)
}

fn read_marks(path: &Path) -> anyhow::Result<Marks> {
    match std::fs::read_to_string(path) {
        Ok(text) => Marks::from_json(&text).with_context(|| format!("marks {}", path.display())),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(Marks::default()),
        Err(e) => Err(e).with_context(|| format!("cannot read {}", path.display())),
    }
}

fn judged(
    wanted: &args::Prove,
    block: &Block,
    profile: Option<&Profile>,
    csv: &Path,
    marks: Marks,
) -> anyhow::Result<Outcome> {
    let opened = capture::open(csv)?;
    if let Some(lost) = &opened.capture.lost {
        eprintln!("{}: {lost}", csv.display());
    }
    let file = csv.file_name().unwrap_or_default().to_string_lossy();
    let wish = ProofOptions {
        block,
        inputs: wanted.inputs.as_deref(),
        output: wanted.output.as_deref(),
        board_vref_mv: wanted.board_vref_mv,
        dac_vref_mv: wanted.dac_vref_mv,
        within_pct: wanted.within_pct,
        profile,
        marks,
    };
    let proof = bench::prove_file(&opened, &file, wish)
        .with_context(|| format!("capture {}", csv.display()))?;
    if wanted.json {
        print(&format!("{}\n", serde_json::to_string_pretty(&proof)?))?;
    } else {
        print(&report::proof_text(&proof))?;
    }
    Ok(Some(proof.verdict).into())
}

/// Safety words, and before faults a yes.
fn confirm(wanted: &args::Prove) -> anyhow::Result<()> {
    if wanted.demo {
        return Ok(());
    }
    eprintln!("{}", report::SAFETY);
    if !wanted.faults || wanted.yes {
        return Ok(());
    }
    if !std::io::stdin().is_terminal() {
        bail!(
            "a round of faults makes the board command the motor: say --yes when the drive wheels are off the ground or the motor leads off"
        );
    }
    eprint!("Are the drive wheels off the ground or the motor leads off? Type yes: ");
    std::io::stderr().flush()?;
    let mut answer = String::new();
    std::io::stdin().lock().read_line(&mut answer)?;
    if answer.trim() != "yes" {
        bail!("not confirmed, so nothing was started");
    }
    Ok(())
}

fn foretell(profile: &Profile, round: &[Fault]) {
    match bench::foretold(profile) {
        Ok(rows) => {
            for (_, words) in rows.iter().filter(|(fault, _)| round.contains(fault)) {
                eprintln!("{words}");
            }
        }
        Err(why) => eprintln!("what the wiring hides is not known: {why}"),
    }
}

/// Where the capture goes: where asked, or into a folder that is gone at the end.
struct Place {
    csv: PathBuf,
    _temporary: Option<Temporary>,
}

impl Place {
    fn new(wanted: &args::Prove) -> anyhow::Result<Self> {
        let (csv, temporary) = if let Some(name) = &wanted.out {
            (record::csv_name(name), None)
        } else {
            let folder = Temporary::new("prove")?;
            (folder.path().join("board.csv"), Some(folder))
        };
        record::refuse_overwriting(&csv)?;
        if wanted.demo
            && let Some(path) = block_path(wanted).filter(|path| path.exists())
        {
            bail!("{} exists already: choose another name", path.display());
        }
        Ok(Self {
            csv,
            _temporary: temporary,
        })
    }
}

/// The simulated board, where it was asked for.
#[derive(Default)]
struct Demo {
    source: Option<Box<dyn Source>>,
    seconds: f64,
    _flashed: Option<Flashed>,
}

impl Demo {
    fn start(wanted: &args::Prove) -> anyhow::Result<Self> {
        if !wanted.demo {
            return Ok(Self::default());
        }
        let script = if wanted.faults {
            Hand::faults(&wanted.round)
        } else {
            Hand::comparing()
        };
        let seconds = FlashedBoard::script_s(&script);
        let (source, flashed) = flashed::start(&bench::trolley_block()?, script, DEMO_SPEED)?;
        Ok(Self {
            source: Some(source),
            seconds,
            _flashed: Some(flashed),
        })
    }
}

fn start(wanted: &args::Prove, baud: u32, demo: &mut Demo, csv: &Path) -> anyhow::Result<Run> {
    let demo_source = demo.source.take();
    let source = match (demo_source, &wanted.port) {
        (Some(source), _) => source,
        (None, Some(port)) => Box::new(record::port(port, baud, &wanted.stream)?),
        (None, None) => bail!("say what to measure: a CAPTURE, --port or --demo"),
    };
    let seconds = match wanted.seconds {
        _ if wanted.faults => LONGEST_S,
        Some(seconds) => f64::from(seconds),
        None if wanted.demo => demo.seconds,
        None => f64::from(SECONDS),
    };
    let step = if wanted.faults {
        Step::Shake
    } else {
        Step::Strokes
    };
    Ok(bench::start(Setup {
        source,
        stream: StreamOptions {
            joined_mid_line: true,
            ..record::stream_options(&wanted.stream)?
        },
        plan: Plan::Timed(vec![(step, seconds)]),
        profile: None,
        tag: None,
        channels: stated(wanted),
        out: Some(csv.to_owned()),
        baud: Some(baud),
        live: false,
    }))
}

/// What was said of the columns: the output's role goes into the capture.
pub(super) fn stated(wanted: &args::Prove) -> Vec<(String, ChannelMeta)> {
    let mut channels = wanted.stream.channels.clone();
    if let Some(name) = &wanted.output {
        channels.retain(|(known, _)| known != name);
        channels.push((
            name.clone(),
            ChannelMeta {
                role: Role::Output,
                track: None,
            },
        ));
    }
    channels
}

/// Watches until the end; gives the capture and the marks.
fn taken(wanted: &args::Prove, run: Run, block: &Block) -> anyhow::Result<(PathBuf, Marks)> {
    let mut leader = Leader::new(wanted, block);
    if !wanted.faults {
        eprintln!(
            "go through all of pedal x dial: stand still at each of many positions for a second, begin and end at rest"
        );
    }
    let ended = watch::until_end_with(run, &mut leader)?;
    let capture = ended
        .capture
        .ok_or_else(|| anyhow!("no sample arrived, so there is nothing to judge: `pedalproof ports` lists what could be a board"))?;
    Ok((capture, leader.marks()))
}
