//! `pedalproof machine change`: a control that was replaced or rewired.

use super::file::{read, refuse_piped, tracks};
use crate::cli::input;
use crate::cli::outcome::Outcome;
use crate::machine::{self, Changed, Control, Machine};
use crate::outlet::{self, tell};
use anyhow::bail;
use clap::Args;
use jiff::Timestamp;
use std::path::{Path, PathBuf};

/// Say that a control was replaced or rewired: what was recorded before no longer counts.
///
/// Its recordings stay in the machine's file; they are of what was there before. Measure it, then make the constants and prove them again.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof machine change T3.json --control lever --tag T3-lever-b\n  pedalproof machine change T3.json --control lever --profile T3-lever-rewired.json\n  pedalproof machine change T3.json --control lever --tag T3-lever-b --since 2026-05-01"
)]
pub(super) struct ChangeControl {
    /// The machine's file
    file: PathBuf,
    /// Which control
    #[arg(long, value_name = "NAME")]
    control: String,
    /// What it is checked as from now on: a built-in name, or a file in the machine's folder [default: as before]
    #[arg(long, value_name = "PROFILE")]
    profile: Option<String>,
    /// What is written on its sticker from now on [default: as before]
    #[arg(long, allow_hyphen_values = true)]
    tag: Option<String>,
    /// The blending board's pins, one for each track [default: as before]; alone they put a wrong pin right, and no recording is dropped
    #[arg(long, value_name = "PIN,...", value_delimiter = ',')]
    pins: Option<Vec<String>>,
    /// When that was: recordings from then on count [default: now]
    #[arg(long, value_name = "MOMENT", value_parser = input::moment)]
    since: Option<Timestamp>,
}

pub(super) fn run(to: &ChangeControl) -> anyhow::Result<Outcome> {
    refuse_piped(&to.file)?;
    let machine = read(&to.file)?;
    let now = whole_seconds_now();
    if let Some(since) = to.since.filter(|since| !machine::has_come(*since, now)) {
        bail!(
            "--since: {} has not come yet, so nothing could count until then: say when it was changed, or leave it out for now",
            machine::minute(since)
        );
    }
    let pins = to.pins.as_ref();
    let pins = pins.map(|pins| pins.iter().map(|pin| pin.trim().to_owned()).collect());
    let only_pins = to.pins.is_some() && to.profile.is_none() && to.tag.is_none();
    let changed = Changed {
        control: to.control.clone(),
        profile: to.profile.clone(),
        tag: to.tag.clone(),
        pins,
        since: to.since.or_else(|| (!only_pins).then_some(now)),
    };
    fitting_pins(&to.file, &machine, &changed)?;
    let control = machine::change(&to.file, &changed)?;
    let tag = control.tag.as_deref();
    let tag = tag.map_or_else(String::new, |tag| format!(" is {}", outlet::line(tag)));
    let pins: Vec<_> = control.pins.iter().map(|pin| outlet::line(pin)).collect();
    tell!(
        "{}{tag}, checked as {}, on {}",
        control.name,
        outlet::line(&control.profile),
        pins.join(" and ")
    );
    if let Some(since) = changed.since {
        tell!(
            "what was recorded of it before {} no longer counts",
            machine::minute(since)
        );
    }
    tell!(
        "how it stands now: pedalproof machine {}",
        outlet::typed(&to.file)
    );
    Ok(Outcome::Good)
}

/// A control has as many pins as its profile has tracks, and none that another control has.
fn fitting_pins(file: &Path, machine: &Machine, changed: &Changed) -> anyhow::Result<()> {
    let Some(control) = machine.control(&changed.control) else {
        return Ok(()); // told where it is changed
    };
    let profile = changed.profile.as_ref().unwrap_or(&control.profile);
    let tracks = tracks(file, profile)?;
    if changed.pins.is_none() && changed.profile.is_none() {
        return Ok(());
    }
    let mut now = Control {
        profile: profile.clone(),
        ..control.clone()
    };
    now.pins = changed.pins.clone().unwrap_or(now.pins);
    let others = machine.controls.iter();
    let others = others.filter(|other| other.name != control.name);
    one_for_each(&now, tracks, others)
}

/// A pin of its own for each track.
pub(super) fn one_for_each<'a>(
    control: &Control,
    tracks: usize,
    others: impl Iterator<Item = &'a Control>,
) -> anyhow::Result<()> {
    if control.pins.len() != tracks {
        let (has, s) = (control.pins.len(), if tracks == 1 { "" } else { "s" });
        bail!(
            "{} has {tracks} track{s}, and {} would have {has} of the board's pins: give one for each with --pins",
            outlet::line(&control.profile),
            outlet::line(&control.name)
        );
    }
    let mut taken: Vec<&String> = others.flat_map(|other| &other.pins).collect();
    for pin in &control.pins {
        if taken.contains(&pin) {
            bail!(
                "--pins: {} is taken already, so {} cannot be on it",
                outlet::line(pin),
                outlet::line(&control.name)
            );
        }
        taken.push(pin);
    }
    Ok(())
}

/// Now, as a recording's metadata keep it.
fn whole_seconds_now() -> Timestamp {
    let now = Timestamp::now();
    Timestamp::from_second(now.as_second()).unwrap_or(now)
}
