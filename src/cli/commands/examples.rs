//! `pedalproof examples`.

use super::constants::for_controls;
use super::prove::marks_path;
use crate::bench;
use crate::cli::outcome::Outcome;
use crate::cli::output::create;
use crate::cli::output::print;
use crate::constants::{Block, formats};
use crate::machine::{self, Control, Machine};
use crate::outlet::{self, Shown};
use crate::profile;
use crate::proof::Fault;
use anyhow::{Context, anyhow};
use clap::Args;
use std::path::{Path, PathBuf};

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof examples trolleys\n  pedalproof assess trolleys/T2-pedal.csv\n  pedalproof machine trolleys/T1.json"
)]
pub(in crate::cli) struct ExamplesArgs {
    /// Output folder; created if missing
    #[arg(default_value = "examples")]
    folder: PathBuf,
}

pub(in crate::cli) fn run(args: &ExamplesArgs) -> anyhow::Result<Outcome> {
    let folder = &args.folder;
    std::fs::create_dir_all(folder)
        .with_context(|| format!("cannot make the folder {}", folder.shown()))?;
    for csv in bench::write_examples(folder)? {
        print(&format!("{}\n", csv.shown()))?;
    }
    for machine in [ready(folder)?, not_ready(folder)?] {
        print(&format!("{}\n", machine.shown()))?;
    }
    Ok(Outcome::Good)
}

/// The day on which the trolleys were looked at.
const DAY: &str = "2026-04-11";

/// T1: measured, constants made of both controls, its flashed board proved.
fn ready(folder: &Path) -> anyhow::Result<PathBuf> {
    let controls = [
        ("pedal", "pedal-hall-two-track", &["A0", "A1"][..]),
        ("dial", "dial-rheostat", &["A2"]),
    ];
    let measured = controls.map(|(name, profile, _)| (format!("T1-{name}.csv"), profile));
    let given = measured.clone().map(|(file, profile)| {
        let profile = profile::find(profile).ok_or_else(|| anyhow!("no profile {profile}"))?;
        Ok((file, profile))
    });
    let given = given.into_iter().collect::<anyhow::Result<Vec<_>>>()?;
    let (chosen, comment) = for_controls(folder, given)?;
    let block = "T1.block.json";
    create(
        &folder.join(block),
        &formats::to_json(&chosen.block, &comment),
    )?;
    flashed(
        &chosen.block,
        &[],
        &folder.join("T1-output.csv"),
        "12:00:00",
    )?;
    let faults = folder.join("T1-faults.csv");
    flashed(&chosen.block, &Fault::ALL, &faults, "12:30:00")?;
    let [(pedal, _), (dial, _)] = &measured;
    let evidence = [
        (pedal.as_str(), Some("pedal"), "09:30:00"),
        (dial.as_str(), Some("dial"), "09:30:00"),
        (block, None, "11:30:00"),
        ("T1-output.csv", None, "12:00:00"),
        ("T1-faults.csv", None, "12:30:00"),
    ];
    let file = folder.join("T1.json");
    written(&file, "trolley T1", &controls, &evidence)?;
    Ok(file)
}

/// T3: its lever is worn, and wired so that a broken ground wire commands full.
fn not_ready(folder: &Path) -> anyhow::Result<PathBuf> {
    let file = folder.join("T3.json");
    let controls = [("lever", "lever-shunting", &["A0"][..])];
    let seasons = ["2022", "2023", "2024", "2025", "2026"];
    let names = seasons.map(|year| format!("T3-lever-{year}.csv"));
    let evidence = names
        .each_ref()
        .map(|name| (name.as_str(), Some("lever"), ""));
    written(&file, "trolley T3", &controls, &evidence)?;
    Ok(file)
}

type ExampleControl<'a> = (&'a str, &'a str, &'a [&'a str]);
/// File, control, and the time of day when the file itself does not say when it was taken.
type ExampleEvidence<'a> = (&'a str, Option<&'a str>, &'a str);

fn written(
    file: &Path,
    name: &str,
    controls: &[ExampleControl<'_>],
    evidence: &[ExampleEvidence<'_>],
) -> anyhow::Result<()> {
    let folder = crate::files::folder_of(file);
    let control = |(name, profile, pins): &ExampleControl<'_>| Control {
        name: (*name).to_owned(),
        profile: (*profile).to_owned(),
        tag: None,
        pins: pins.iter().map(|pin| (*pin).to_owned()).collect(),
        since: None,
    };
    let mut machine = Machine {
        name: name.to_owned(),
        board: None,
        controls: controls.iter().map(control).collect(),
        check_every_months: 12,
        evidence: Vec::new(),
    };
    for (name, control, time) in evidence {
        let mut new = bench::sort(&folder.join(name), (*name).to_owned(), *control)?;
        if !time.is_empty() {
            new.taken = format!("{DAY}T{time}Z");
        }
        machine.take(&new, &outlet::typed(file))?;
    }
    machine::create(file, &machine)?;
    Ok(())
}

/// A recording of the simulated flashed board, with its marks when faults are made.
fn flashed(block: &Block, faults: &[Fault], csv: &Path, time: &str) -> anyhow::Result<()> {
    let (mut capture, marks) =
        bench::flashed_recording(block, faults, 1).map_err(|why| anyhow!("{why}"))?;
    capture.meta.started = Some(format!("{DAY}T{time}Z"));
    capture.meta.note = Some("Simulated, seed 1: trolley T1's flashed board.".to_owned());
    bench::write_capture(&capture, csv)?;
    if !faults.is_empty() {
        create(&marks_path(csv), &marks.to_json())?;
    }
    Ok(())
}
