//! `pedalproof machine`: one machine's page; a new one; adding to it.

mod change;
mod file;

use crate::bench;
use crate::cli::input;
use crate::cli::outcome::Outcome;
use crate::cli::output::{Renewed, is_piped, print, print_json};
use crate::cli::screen;
use crate::cli::screen_args::ScreenArgs;
use crate::files::folder_of;
use crate::machine::{self, Control, Machine, NewEvidence, Standing};
use crate::outlet::{self, Shown, tell};
use crate::report;
use anyhow::{Context, bail};
use clap::{Args, Subcommand};
use file::{read, refuse_piped, tracks};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::Offset;
use std::path::{Path, PathBuf};

/// One machine: what is done, what is out of date, what is next
///
/// A machine is a file that names its controls and what was measured, made and proved for it: recordings, constants file, proofs. They lie
/// in its folder. Everything is judged again each time, so what was changed since, or measured again, is seen.
/// The exit code is 0 when the machine is ready, 1 when something failed, 3 when something is missing or stale.
#[derive(Debug, Args)]
#[command(
    args_conflicts_with_subcommands = true,
    subcommand_negates_reqs = true,
    after_help = "Examples:\n  pedalproof machine new T1.json --name \"trolley T1\" --control pedal=pedal-hall-two-track --control dial=dial-rheostat\n  pedalproof machine add T1.json T1-pedal.csv T1-dial.csv\n  pedalproof machine T1.json\n  pedalproof machine T1.json --sheet T1.html\n  pedalproof machine T1.json --json\n  pedalproof machine T1.json --screen"
)]
pub(in crate::cli) struct MachineArgs {
    #[command(subcommand)]
    what: Option<MachineCommand>,
    /// The machine's file; `-` is stdin, and what it names lies here
    #[arg(required_unless_present = "screen")]
    file: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    json: bool,
    /// Write one A4 page to hang at the machine (HTML), in place of an earlier one and of no other file; `-` is stdout
    #[arg(long, value_name = "OUT.html")]
    sheet: Option<PathBuf>,
    /// Open its page on the screen: enter does what is next; without FILE: start one there
    #[arg(long, conflicts_with_all = ["json", "sheet", "on"])]
    screen: bool,
    /// How much faster than life simulated boards run on the screen
    #[arg(long, value_name = "TIMES", default_value_t = 1.0, requires = "screen", value_parser = speed)]
    speed: f64,
    /// A serial port that is offered first on the screen, listed or not
    #[arg(long, value_name = "PATH", requires = "screen")]
    port: Option<String>,
    /// How it stands on that day [default: today]
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = input::date)]
    on: Option<Date>,
}

#[derive(Debug, Subcommand)]
enum MachineCommand {
    /// Start a machine
    New(NewMachine),
    /// Add recordings, constants files and proofs; which is which is seen by itself
    Add(AddEvidence),
    /// Say that a control was replaced or rewired: what was recorded before no longer counts
    Change(change::ChangeControl),
    /// The JSON Schema of machines, for editors
    #[command(after_help = "Examples:\n  pedalproof machine schema > machine.schema.json")]
    Schema,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof machine new T1.json --name \"trolley T1\" --control pedal=pedal-hall-two-track --control dial=dial-rheostat\n  pedalproof machine new T3.json --name \"trolley T3\" --control lever=lever-shunting --tag lever=T3-lever --pins lever=A0 --check-every-months 6"
)]
struct NewMachine {
    /// The file to write, never over another, `-` is stdout; what belongs to the machine goes into its folder
    file: PathBuf,
    /// What the machine is called
    #[arg(long)]
    name: String,
    /// A control, in the order of the board's inputs, with its profile: a built-in name, or a file in the machine's folder
    #[arg(long, required = true, value_name = "NAME=PROFILE", value_parser = pair)]
    control: Vec<(String, String)>,
    /// What is written on a control's sticker; a recording of another part is then refused
    #[arg(long, value_name = "NAME=TAG", value_parser = pair)]
    tag: Vec<(String, String)>,
    /// The blending board's pins of a control, one for each track [default: A0 on, in order]
    #[arg(long, value_name = "NAME=PIN,...", value_parser = pair)]
    pins: Vec<(String, String)>,
    /// The board that blends
    #[arg(long, value_name = "NAME")]
    board: Option<String>,
    /// How often its controls are measured again
    #[arg(long, value_name = "MONTHS", default_value_t = 12, value_parser = clap::value_parser!(u32).range(1..=1200))]
    check_every_months: u32,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof machine add T1.json T1-pedal.csv T1-dial.csv T1.block.json\n  pedalproof machine add T1.json new-pedal.csv --control pedal\n  pedalproof machine add T1.json T1-output.csv T1-faults.csv"
)]
struct AddEvidence {
    /// The machine's file
    file: PathBuf,
    /// Recordings (their CSV), constants files in any format, proofs (the recording with the board's output, or what `prove --json` printed)
    #[arg(required = true)]
    evidence: Vec<PathBuf>,
    /// The control that these recordings are of [default: by tag, then by profile]
    #[arg(long, value_name = "NAME")]
    control: Option<String>,
}

const NO_SHEET: &str = "there is no sheet";

fn speed(text: &str) -> Result<f64, String> {
    let times = text.trim().parse::<f64>().ok();
    times
        .filter(|times| (0.1..=100.0).contains(times))
        .ok_or_else(|| format!("`{}` is no number from 0.1 to 100", outlet::line(text)))
}

fn pair(text: &str) -> Result<(String, String), String> {
    match text.split_once('=') {
        Some((name, value)) if !name.is_empty() && !value.is_empty() => {
            Ok((name.to_owned(), value.to_owned()))
        }
        _ => Err(format!(
            "`{}` is not NAME=VALUE, as pedal=pedal-hall-two-track",
            outlet::line(text)
        )),
    }
}

pub(in crate::cli) fn run(args: &MachineArgs, on_screen: &ScreenArgs) -> anyhow::Result<Outcome> {
    match (&args.what, &args.file) {
        (Some(MachineCommand::New(new)), _) => start(new),
        (Some(MachineCommand::Add(add)), _) => add_to(add),
        (Some(MachineCommand::Change(to)), _) => change::run(to),
        (Some(MachineCommand::Schema), _) => {
            print(&machine::schema_json())?;
            Ok(Outcome::Good)
        }
        (None, Some(file)) if args.screen => {
            refuse_piped(file)?;
            read(file)?;
            screen::machine(on_screen, Some(file), args.port.clone(), args.speed)
        }
        (None, None) if args.screen => {
            screen::machine(on_screen, None, args.port.clone(), args.speed)
        }
        (None, Some(file)) => show(args, file),
        (None, None) => bail!("say which machine: pedalproof machine FILE"),
    }
}

fn show(args: &MachineArgs, file: &Path) -> anyhow::Result<Outcome> {
    match args.sheet.as_deref() {
        Some(out) if !is_piped(out) => Renewed::Report.refuse_others(out).context(NO_SHEET)?,
        Some(_) if args.json => {
            bail!(
                "--sheet - and --json both ask for the standard output: name a file for the sheet"
            )
        }
        _ => {}
    }
    let machine = if is_piped(file) {
        let text = input::text(file).context("cannot read a machine from the standard input")?;
        Machine::from_json(&text).context("the machine from the standard input")?
    } else {
        read(file)?
    };
    let now = match args.on {
        None => Timestamp::now(),
        Some(day) => Offset::UTC
            .to_timestamp(day.at(0, 0, 0, 0))
            .context("no such day")?,
    };
    let seen = bench::look(folder_of(file), &machine);
    let standing = machine::standing(&machine, &name_of(file), &seen, now);
    if let Some(out) = &args.sheet {
        let sheet = report::machine_sheet(&machine, &standing, &seen, now);
        if is_piped(out) {
            print(&sheet)?;
        } else {
            Renewed::Report.write(out, &sheet).context(NO_SHEET)?;
            tell!("written: {}", out.shown());
        }
    }
    if args.json {
        print_json(&report::standing_json(&machine, &standing))?;
    } else if args.sheet.is_none() {
        let folder = folder_of(file);
        let elsewhere = (folder != Path::new(".")).then(|| folder.shown().to_string());
        print(&report::machine(&machine, &standing, elsewhere.as_deref()).text())?;
    }
    Ok(outcome(&standing))
}

fn outcome(standing: &Standing) -> Outcome {
    if standing.ready {
        Outcome::Good
    } else if standing.failed() {
        Outcome::Fail
    } else {
        Outcome::Undecided
    }
}

/// What commands call it; of one from the standard input it is not known.
fn name_of(file: &Path) -> String {
    if is_piped(file) {
        return "FILE".to_owned();
    }
    let name = file.file_name().unwrap_or(file.as_os_str());
    name.to_string_lossy().into_owned()
}

fn start(new: &NewMachine) -> anyhow::Result<Outcome> {
    for (what, named) in [("--tag", &new.tag), ("--pins", &new.pins)] {
        let stranger = named
            .iter()
            .find(|(name, _)| !new.control.iter().any(|(control, _)| control == name));
        if let Some((name, _)) = stranger {
            bail!(
                "{what} names {}, and there is no --control of that name",
                outlet::line(name)
            );
        }
    }
    let of = |named: &[(String, String)], name: &str| {
        let found = named.iter().find(|(known, _)| known == name);
        found.map(|(_, value)| value.clone())
    };
    let mut free = 0..;
    let mut controls = Vec::new();
    for (name, profile) in &new.control {
        let tracks = tracks(&new.file, profile)?;
        let usual: Vec<String> = free
            .by_ref()
            .take(tracks)
            .map(|n| format!("A{n}"))
            .collect();
        let stated = of(&new.pins, name);
        let stated = stated.map(|pins| pins.split(',').map(|pin| pin.trim().to_owned()).collect());
        let control = Control {
            name: name.clone(),
            profile: profile.clone(),
            tag: of(&new.tag, name),
            pins: stated.unwrap_or(usual),
            since: None,
        };
        change::one_for_each(&control, tracks, controls.iter())?;
        controls.push(control);
    }
    let machine = Machine {
        name: new.name.clone(),
        board: new.board.clone(),
        controls,
        check_every_months: new.check_every_months,
        evidence: Vec::new(),
    };
    if is_piped(&new.file) {
        machine.check().context("this is no machine")?;
        print(&machine.to_json())?;
        return Ok(Outcome::Good);
    }
    let file = match new.file.extension() {
        Some(_) => new.file.clone(),
        None => new.file.with_extension("json"),
    };
    machine::create(&file, &machine)?;
    tell!(
        "wrote {}; what is next: pedalproof machine {}",
        file.shown(),
        outlet::typed(&file)
    );
    Ok(Outcome::Good)
}

fn add_to(add: &AddEvidence) -> anyhow::Result<Outcome> {
    refuse_piped(&add.file)?;
    if add.evidence.iter().any(|path| is_piped(path)) {
        bail!("what is added to a machine is a file in its folder: `-` is none");
    }
    let mut new = Vec::new();
    for path in &add.evidence {
        let path = recording_of(path);
        let name = machine::inside(&add.file, &path)?;
        new.push(bench::sort(&path, name, add.control.as_deref())?);
    }
    // What rests on something else comes after it.
    new.sort_by_key(|one: &NewEvidence| one.kind);
    let (machine, added) = machine::add(&add.file, &new)?;
    for (one, added) in new.iter().zip(added) {
        let of = added.as_ref().and_then(|added| added.control.as_deref());
        let of = of.map_or_else(String::new, |control| format!(" of {control}"));
        match added {
            Some(_) => tell!("added: {}, a {}{of}", one.file, one.kind.word()),
            None => tell!("there already: {}", one.file),
        }
        let added = added.as_ref();
        if let Some(asks) =
            added.and_then(|added| machine.dated_before(added, &outlet::typed(&add.file)))
        {
            tell!("{asks}");
        }
    }
    tell!(
        "how it stands now: pedalproof machine {}",
        outlet::typed(&add.file)
    );
    Ok(Outcome::Good)
}

/// The recording that a file beside it goes with.
fn recording_of(path: &Path) -> PathBuf {
    let text = path.to_string_lossy();
    let csv = ["-metadata.json", ".proof.json"]
        .iter()
        .find_map(|end| text.strip_suffix(end))
        .map(PathBuf::from)
        .filter(|csv| csv.extension().is_some_and(|end| end == "csv"));
    csv.unwrap_or_else(|| path.to_owned())
}
