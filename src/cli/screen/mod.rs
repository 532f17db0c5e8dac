//! The screen, without a command or in `demo`: opening it, and what it asks of the system.

mod begin;
mod boards;
mod host;
mod imports;
mod job;
mod machines;
mod offers;
mod proofs;
mod recent_profiles;
mod records;
mod run;

use super::outcome::Outcome;
use super::screen_args::{Colours, ScreenArgs};
use super::simulated::{DemoUnit, SimulatedBoard};
use crate::bench::Run;
use crate::cli::output::{CaptureDestination, print};
use crate::cli::paths::here;
use crate::files::folder_of;
use crate::outlet::{self, Shown};
use crate::tui::{self, Ending, Mouse, Opening, Prompting, Surroundings, Theme};
use anyhow::{Context, anyhow};
use host::BenchHost;
use std::path::{Path, PathBuf};

/// The bench, with the choice of a source.
pub(super) fn open(
    args: &ScreenArgs,
    port: Option<String>,
    block: Option<&Path>,
) -> anyhow::Result<Outcome> {
    let known = only_machine().filter(|_| block.is_none());
    if known.is_some() || (port.is_none() && block.is_none()) {
        return machine(args, known.as_deref(), port, 1.0);
    }
    let profiles = recent_profiles::first(offers::profiles());
    let mut host = BenchHost::new(args, block)?;
    host.port = port;
    let ending = show(Opening::Choose(profiles), args, &mut host)?;
    host.leave();
    report(&ending)
}

/// The page of a machine. What belongs to it lies in its folder, which becomes the working folder. Without one: those of the working
/// folder, and starting one.
pub(super) fn machine(
    args: &ScreenArgs,
    file: Option<&Path>,
    port: Option<String>,
    speed: f64,
) -> anyhow::Result<Outcome> {
    let mut host = BenchHost::new(args, None)?;
    if let Some(file) = file {
        let folder = folder_of(file);
        std::env::set_current_dir(folder)
            .with_context(|| format!("cannot go to the folder {}", folder.shown()))?;
        host.machine = Some(PathBuf::from(file.file_name().unwrap_or(file.as_os_str())));
    }
    host.port = port;
    host.speed = speed;
    let profiles = recent_profiles::first(offers::profiles());
    let ending = show(Opening::Machine(profiles), args, &mut host)?;
    let opened = host.machine.clone();
    host.leave();
    let Some(opened) = opened else {
        return report(&ending);
    };
    if let Some(saved) = &ending.saved {
        left(&format!("{saved}\n"));
    }
    let opened = file.map_or(opened, Path::to_owned);
    left(&format!(
        "how it stands: pedalproof machine {}\n",
        outlet::typed(&opened)
    ));
    match ending.failed {
        Some(failed) => Err(anyhow!("{failed}")),
        None => Ok(Outcome::Good),
    }
}

/// The machine of the working folder, when there is exactly one.
fn only_machine() -> Option<PathBuf> {
    let files = here("json").into_iter();
    let mut files = files.filter(|path| crate::machine::read(path).is_ok());
    files.next().filter(|_| files.next().is_none())
}

/// The bench on a run that has begun, and the place of its recording, which may go with the screen.
pub(super) fn watch(
    run: Run,
    board: SimulatedBoard,
    unit: &DemoUnit,
    args: &ScreenArgs,
    destination: CaptureDestination,
    block: Option<&Path>,
) -> anyhow::Result<Outcome> {
    let mut host = BenchHost::new(args, block)?;
    host.out = Some(destination.csv.clone());
    host.boards.push(board);
    let source = format!("simulated board {}", unit.tag);
    let opening = Opening::Run {
        handles: host.keep(run),
        profile: Some((*unit.profile).clone()),
        source,
        tag: Some(unit.tag.clone()),
    };
    let ending = show(opening, args, &mut host)?;
    host.leave();
    drop(destination);
    report(&ending)
}

/// Words that stay on the terminal. Where its window was closed nobody reads them, and the exit code says the verdict all the same.
fn left(words: &str) {
    let _ = print(words);
}

/// Where the recording is, if there was one.
fn kept(saved: Option<&str>, capture: Option<&Path>) -> Option<String> {
    match (saved, capture) {
        (Some(saved), _) => Some(saved.to_owned()),
        (None, Some(capture)) if capture.exists() => Some(format!("recorded: {}", capture.shown())),
        // A simulated board's went with the screen.
        (None, Some(_)) => Some("not saved: the recording is gone (s keeps it)".to_owned()),
        (None, None) => None,
    }
}

/// What is left on the terminal when the screen has gone.
fn report(ending: &Ending) -> anyhow::Result<Outcome> {
    if let Some(words) = kept(ending.saved.as_deref(), ending.capture.as_deref()) {
        left(&format!("{words}\n"));
    }
    if let Some(failed) = &ending.failed {
        return Err(anyhow!("{failed}"));
    }
    if let Some(verdict) = ending.proved {
        left(&format!("flashed board: {verdict}\n"));
        return Ok(Some(verdict).into());
    }
    let Some(assessment) = &ending.assessment else {
        left(match ending.capture {
            Some(_) => "no verdict\n",
            None => "no sample was taken\n",
        });
        return Ok(Outcome::Good);
    };
    let unit = assessment
        .unit
        .tag
        .as_deref()
        .unwrap_or("part without a tag");
    match assessment.verdict {
        Some(verdict) => left(&format!("{unit}: {verdict}\n")),
        None => left(&format!("{unit}: no verdict\n")),
    }
    Ok(assessment.verdict.into())
}

fn show(opening: Opening, args: &ScreenArgs, host: &mut BenchHost) -> anyhow::Result<Ending> {
    outlet::calm();
    Ok(tui::show(
        opening,
        theme(args),
        mouse(args),
        prompting(args),
        host,
    )?)
}

fn mouse(args: &ScreenArgs) -> Mouse {
    if args.mouse {
        Mouse::Screen
    } else {
        Mouse::Terminal
    }
}

fn prompting(args: &ScreenArgs) -> Prompting {
    Prompting {
        big: !args.details,
        bell: !args.silent,
    }
}

fn theme(args: &ScreenArgs) -> Theme {
    let var = |name: &str| std::env::var(name).ok().filter(|value| !value.is_empty());
    let (no_color, colorterm, term) = (var("NO_COLOR"), var("COLORTERM"), var("TERM"));
    let locale = ["LC_ALL", "LC_CTYPE", "LANG"].into_iter().find_map(var);
    Theme::fitting(Surroundings {
        no_color: match args.color {
            Colours::Auto => no_color.as_deref(),
            Colours::Always => None,
            Colours::Never => Some("1"),
        },
        colorterm: colorterm.as_deref(),
        term: term.as_deref(),
        locale: locale.as_deref(),
        ascii: args.ascii,
    })
}
