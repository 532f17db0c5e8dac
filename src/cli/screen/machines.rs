//! The machine on the screen: how it stands, its constants, what is saved added to it.

use super::job::job;
use super::{boards, proofs};
use crate::bench;
use crate::cli::commands::constants::for_controls;
use crate::constants::formats::Format;
use crate::files::{self, create_new, folder_of};
use crate::machine::{self, Commands, Control, Machine, Seen, Standing};
use crate::outlet::{self, Shown, Visible};
use crate::report;
use crate::tui::{Job, MachinePage, MachineTask, Part, ProofRound};
use anyhow::{Context, anyhow, bail};
use std::path::{Path, PathBuf};

/// Bits that a wiring page is shown with, as the card's boards have.
const BITS: u32 = 10;

/// How the machine of this file stands.
pub(super) fn page(file: PathBuf) -> Job<MachinePage> {
    job(move || {
        let machine = machine::read(&file)?;
        let seen = bench::look(folder_of(&file), &machine);
        let name = file.to_string_lossy();
        let standing = machine::standing(&machine, &name, &seen, jiff::Timestamp::now());
        let task = task(&file, &machine, &seen, &standing)?;
        let by_command = matches!(task, MachineTask::Wiring(..));
        let bare = standing.next.split_once(": pedalproof");
        // A key does what a command would, but for what is said of a rewired control.
        let next = match bare {
            Some((bare, _)) if !by_command => bare,
            _ => &standing.next,
        };
        Ok(MachinePage {
            name: machine.name.clone(),
            task,
            ready: standing.ready,
            open: true,
            next: next.strip_prefix("first: ").unwrap_or(next).to_owned(),
            links: standing.links,
        })
    })
}

/// What enter does: what failed first, then what comes first.
fn task(
    file: &Path,
    machine: &Machine,
    seen: &Seen,
    standing: &Standing,
) -> anyhow::Result<MachineTask> {
    let Some(link) = standing.first_open() else {
        return Ok(MachineTask::Nothing);
    };
    let control = |name: &str| {
        let found = machine.control(name);
        found.ok_or_else(|| anyhow!("there is no control {name}"))
    };
    Ok(match link.link.split_once(' ') {
        Some(("control", name)) => measure(file, control(name)?)?,
        Some(("wiring", name)) => {
            let profile = profile(file, control(name)?)?;
            MachineTask::Wiring(Box::new(profile), BITS)
        }
        Some(("check", _)) => match machine.due_first() {
            Some(control) => measure(file, control)?,
            None => MachineTask::Nothing,
        },
        Some((round, "proof")) => prove(machine, seen, round)?,
        _ => MachineTask::Constants,
    })
}

fn profile(file: &Path, control: &Control) -> anyhow::Result<crate::profile::Profile> {
    let profile = bench::machine_profile(folder_of(file), &control.profile);
    profile.map_err(|why| anyhow!("{why}"))
}

fn measure(file: &Path, control: &Control) -> anyhow::Result<MachineTask> {
    let stem = file.file_stem().unwrap_or_default().to_string_lossy();
    let usual = format!("{stem}-{}", control.name);
    Ok(MachineTask::Measure(Box::new(Part {
        control: control.name.clone(),
        tag: control.tag.clone().unwrap_or(usual),
        profile: profile(file, control)?,
        pins: control.pins.clone(),
    })))
}

/// The proof of the newest constants; without any that can be read these come first.
fn prove(machine: &Machine, seen: &Seen, round: &str) -> anyhow::Result<MachineTask> {
    let readable = matches!(&seen.block, Some((_, Ok(_))));
    let Some(at) = machine.newest_block().filter(|_| readable) else {
        return Ok(MachineTask::Constants);
    };
    let name = &machine.evidence[at].file;
    let offer = proofs::named(Path::new(name)).with_context(|| name.clone())?;
    let round = match round {
        "fault" => ProofRound::Faults,
        _ => ProofRound::Compare,
    };
    Ok(MachineTask::Prove(Box::new(offer), round))
}

/// Makes the constants of all controls, adds them to the machine, and says what was made and what to do with it.
pub(super) fn constants(file: &Path) -> anyhow::Result<String> {
    let machine = machine::read(file)?;
    let mut given = Vec::new();
    for control in &machine.controls {
        let Some(newest) = machine.newest_capture(&control.name) else {
            bail!(
                "No constants: {} was not measured yet. A board's constants are of all its controls together.",
                control.name
            );
        };
        let name = machine.evidence[newest].file.clone();
        given.push((name, profile(file, control)?));
    }
    let (chosen, comment) = for_controls(folder_of(file), given)?;
    let commands = Commands {
        machine: &machine,
        file: &file.to_string_lossy(),
    };
    let json = commands.block_name();
    let stem = json.trim_end_matches(".json").to_owned();
    let mut names = Vec::new();
    for (format, end) in [
        (Format::Json, "json"),
        (Format::C, "h"),
        (Format::Ihex, "hex"),
    ] {
        let name = format!("{stem}.{end}");
        let path = folder_of(file).join(&name);
        let text = format.write(&chosen.block, &comment);
        if files::read_text(&path).ok().as_ref() != Some(&text) {
            create_new(&path, &Visible::of(&text))
                .with_context(|| format!("cannot write {}", path.shown()))?;
        }
        names.push(name);
    }
    added(file, Path::new(&json), None)?;
    Ok(format!(
        "written: {}; added to {}\n\n{}\n{}",
        names.join(", "),
        file.shown(),
        boards::written(file).unwrap_or_else(|e| format!("No files for its boards: {e:#}\n")),
        report::constants(&chosen, report::Reasons::LeftOut, &report::Flash::default()).text()
    ))
}

/// Adds a file that was saved; says so.
pub(super) fn added(file: &Path, saved: &Path, control: Option<&str>) -> anyhow::Result<String> {
    let name = machine::inside(file, saved)?;
    let (machine, added) = machine::add(file, &[bench::sort(saved, name, control)?])?;
    let typed = outlet::typed(file);
    let asks = added.iter().flatten();
    let mut asks = asks.filter_map(|added| machine.dated_before(added, &typed));
    let asks = asks
        .next()
        .map_or_else(String::new, |asks| format!("; {asks}"));
    Ok(format!("added to {}{asks}", file.shown()))
}
