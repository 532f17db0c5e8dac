//! `pedalproof demo`: a simulated board on a pseudo-terminal, and the bench on it.

use super::{Outcome, args, assess, print, record, screen, watch};
use crate::bench::{self, EvidencePlan, Plan, Run, Setup};
use crate::link::BoardLines;
use crate::link::{MemoryBoard, Pace, Source, StreamOptions};
use crate::profile::{self, Profile};
use crate::report;
use anyhow::{Context, anyhow, bail};
use simulator::{SCENARIO_UNITS, Simulation, scenario};
use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// How much faster than life the simulated board runs when nobody watches.
const UNWATCHED_SPEED: f64 = 4.0;

pub(super) fn run(wanted: &args::Demo, look: &args::Look) -> anyhow::Result<Outcome> {
    let plain = wanted.plain || wanted.json || !std::io::stdout().is_terminal();
    let speed = wanted
        .speed
        .unwrap_or(if plain { UNWATCHED_SPEED } else { 1.0 });
    if !(speed.is_finite() && speed > 0.0) {
        bail!("--speed {speed} cannot be: give a positive number, 1 is real time");
    }
    let unit = Unit::named(&wanted.unit, wanted.seed)?;
    let place = Place::new(wanted, &unit.tag)?;
    let board = Board::start(&unit, speed)?;
    let run = board.run(&unit, Some(place.csv.clone()))?;
    if plain {
        let outcome = headless(run, wanted, &place);
        drop(board);
        outcome
    } else {
        screen::watch(
            run,
            board,
            &unit,
            look,
            place.csv.clone(),
            wanted.block.as_deref(),
        )
    }
}

fn headless(run: Run, wanted: &args::Demo, place: &Place) -> anyhow::Result<Outcome> {
    let ended = watch::until_end(run)?;
    let assessment = ended
        .assessment
        .ok_or_else(|| anyhow!("no sample was taken, so there is nothing to assess"))?;
    if wanted.json {
        print(&format!("{}\n", assess::json(&assessment)?))?;
    } else {
        print(&report::assessment_text(&assessment))?;
    }
    if place.temporary.is_some() {
        eprintln!("the capture was in a temporary folder and is gone: --out NAME keeps it");
    } else if let Some(capture) = &ended.capture {
        eprintln!("capture: {}", capture.display());
    }
    Ok(assessment.verdict.into())
}

/// A simulated unit and what it is held against.
pub(super) struct Unit {
    pub(super) tag: String,
    pub(super) profile: Arc<Profile>,
    simulation: Simulation,
}

impl Unit {
    pub(super) fn named(name: &str, seed: u64) -> anyhow::Result<Self> {
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
}

/// The built-in profile of a scenario unit.
pub(super) fn profile_of(unit: &str) -> &'static str {
    if unit.ends_with("dial") {
        "dial-rheostat"
    } else if unit.ends_with("lever") {
        "lever-shunting"
    } else {
        "pedal-hall-two-track"
    }
}

/// Where the capture goes: where asked, or into a folder that is gone at the end.
struct Place {
    csv: PathBuf,
    temporary: Option<Temporary>,
}

impl Place {
    fn new(wanted: &args::Demo, tag: &str) -> anyhow::Result<Self> {
        if let Some(name) = &wanted.out {
            let csv = record::csv_name(name);
            record::refuse_overwriting(&csv)?;
            return Ok(Self {
                csv,
                temporary: None,
            });
        }
        let folder = Temporary::new("demo")?;
        Ok(Self {
            csv: folder.path().join(format!("{tag}.csv")),
            temporary: Some(folder),
        })
    }
}

/// A folder that is gone at the end.
pub(super) struct Temporary(PathBuf);

impl Temporary {
    pub(super) fn new(what: &str) -> anyhow::Result<Self> {
        let folder = std::env::temp_dir().join(format!("pedalproof-{what}-{}", std::process::id()));
        std::fs::create_dir_all(&folder)
            .with_context(|| format!("cannot make {}", folder.display()))?;
        Ok(Self(folder))
    }

    pub(super) fn path(&self) -> &Path {
        &self.0
    }
}

impl Drop for Temporary {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// The simulated board: on a pseudo-terminal where there is such a thing, else in memory.
pub(super) enum Board {
    #[cfg(unix)]
    Terminal(crate::link::PtyBoard),
    #[allow(dead_code)] // the only one on systems without pseudo-terminals
    Memory(Pace),
}

impl Board {
    pub(super) fn start(unit: &Unit, speed: f64) -> anyhow::Result<Self> {
        let pace = Pace::Times(speed);
        #[cfg(unix)]
        {
            let lines = BoardLines::new(unit.simulation.clone());
            let board = crate::link::PtyBoard::start(lines, pace, crate::link::Overflow::Wait)?;
            Ok(Self::Terminal(board))
        }
        #[cfg(not(unix))]
        {
            let _ = unit;
            Ok(Self::Memory(pace))
        }
    }

    pub(super) fn source(&self, unit: &Unit) -> anyhow::Result<Box<dyn Source>> {
        Ok(match self {
            #[cfg(unix)]
            Self::Terminal(board) => listen(board)?,
            Self::Memory(pace) => {
                let lines = BoardLines::new(unit.simulation.clone());
                Box::new(MemoryBoard::new(
                    format!("simulated board {}", unit.tag),
                    lines,
                    *pace,
                ))
            }
        })
    }

    pub(super) fn run(&self, unit: &Unit, out: Option<PathBuf>) -> anyhow::Result<Run> {
        Ok(bench::start(Setup {
            source: self.source(unit)?,
            stream: StreamOptions {
                joined_mid_line: true,
                ..StreamOptions::default()
            },
            plan: Plan::Card(
                unit.profile.card.clone(),
                EvidencePlan::at_first(&unit.profile),
            ),
            profile: Some(Arc::clone(&unit.profile)),
            tag: Some(unit.tag.clone()),
            channels: Vec::new(),
            out,
            baud: None,
            live: true,
        }))
    }
}

/// The port of a simulated board, opened by the same code as a USB adapter.
#[cfg(unix)]
pub(super) fn listen(board: &crate::link::PtyBoard) -> anyhow::Result<Box<dyn Source>> {
    let settings = crate::link::SerialSettings {
        path: board.path().to_string_lossy().into_owned(),
        baud: 1_000_000,
        when_lost: crate::link::WhenLost::Wait,
    };
    Ok(Box::new(crate::link::SerialSource::open(settings)?))
}
