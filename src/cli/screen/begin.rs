//! Starting a machine from the screen, and the machines that there are.

use crate::cli::paths::here;
use crate::files::folder_of;
use crate::machine::{self, Control, Machine, USUAL_MONTHS};
use crate::outlet::Shown;
use crate::profile::{self, Profile};
use crate::tui::{MachineOffer, MachinePage, MachineTask, NewMachine};
use anyhow::{Context, bail};
use std::path::{Path, PathBuf};

/// The machines of the working folder, in the order of their files.
pub(super) fn offers() -> Vec<MachineOffer> {
    let offer = |file: PathBuf| {
        let name = machine::read(&file).ok()?.name;
        Some(MachineOffer { name, file })
    };
    here("json").into_iter().filter_map(offer).collect()
}

/// The page when none is open.
pub(super) fn page() -> MachinePage {
    MachinePage {
        name: String::new(),
        links: Vec::new(),
        next: String::new(),
        task: MachineTask::Open(offers()),
        ready: false,
        open: false,
    }
}

/// Starts a machine in the working folder; gives its file.
pub(super) fn start(new: &NewMachine) -> anyhow::Result<PathBuf> {
    let file = file_of(new)?;
    if file.symlink_metadata().is_ok() {
        bail!(
            "{} is there already: choose another file (esc goes back to it)",
            file.shown()
        );
    }
    let mut free = 0..;
    let mut controls = Vec::new();
    for control in &new.controls {
        let pins = free.by_ref().take(control.profile.tracks.len());
        controls.push(Control {
            name: control.name.clone(),
            profile: named(&file, &control.name, &control.profile)?,
            tag: control.tag.clone(),
            pins: pins.map(|n| format!("A{n}")).collect(),
            since: None,
        });
    }
    let started = Machine {
        name: new.name.clone(),
        board: None,
        controls,
        check_every_months: USUAL_MONTHS,
        evidence: Vec::new(),
    };
    machine::create(&file, &started)?;
    Ok(file)
}

/// The file as it was typed, else called after the machine's last word: `trolley T1` is `T1.json`.
fn file_of(new: &NewMachine) -> anyhow::Result<PathBuf> {
    let last = new.name.split_whitespace().last().unwrap_or_default();
    let typed = Some(new.file.as_str()).filter(|file| !file.is_empty());
    let stem = typed.unwrap_or(last);
    let stem = stem.strip_suffix(".json").unwrap_or(stem);
    let fits = |c: char| c.is_alphanumeric() || matches!(c, '-' | '_' | '.');
    if typed.is_some() && !stem.chars().all(fits) {
        bail!(
            "the file {stem} may have letters, digits, dots, - and _ only: it lies in this folder"
        );
    }
    let safe = |c: char| if fits(c) { c } else { '_' };
    let stem: String = stem.trim_start_matches('.').chars().map(safe).collect();
    if stem.is_empty() {
        bail!("the machine needs a file: esc goes back to type one");
    }
    Ok(PathBuf::from(format!("{stem}.json")))
}

/// How the machine's file names this profile: a built-in one by its name, one of this folder by its file; any other is written first.
fn named(machine: &Path, control: &str, profile: &Profile) -> anyhow::Result<String> {
    let mut built_in = profile::built_in_names();
    let same = |name: &&str| profile::find(name).as_ref() == Some(profile);
    if let Some(name) = built_in.find(same) {
        return Ok(name.to_owned());
    }
    let mut own = here("json").into_iter();
    let same = |path: &PathBuf| profile::read(path).is_ok_and(|own| own == *profile);
    if let Some(path) = own.find(same) {
        return Ok(path.to_string_lossy().into_owned());
    }
    let stem = machine.file_stem().unwrap_or_default().to_string_lossy();
    let stem = format!("{stem}-{control}.profile");
    let free = |name: &String| folder_of(machine).join(name).symlink_metadata().is_err();
    let names = (2..=999).map(|n| format!("{stem}-{n}.json"));
    let name = std::iter::once(format!("{stem}.json"))
        .chain(names)
        .find(free)
        .with_context(|| format!("there are too many files {stem}"))?;
    profile::create(&folder_of(machine).join(&name), profile)?;
    Ok(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(name: &str, file: &str) -> Result<String, String> {
        let new = NewMachine {
            name: name.to_owned(),
            file: file.to_owned(),
            controls: Vec::new(),
        };
        let path = file_of(&new).map_err(|e| e.to_string())?;
        Ok(path.to_string_lossy().into_owned())
    }

    #[test]
    fn a_machine_is_called_after_its_last_word_and_its_file_stays_in_the_folder() {
        for (name, typed, wanted) in [
            ("trolley T1", "", "T1.json"),
            ("the blue one/x", "", "one_x.json"),
            ("..", "", ""),
            ("trolley T1", "my-trolley", "my-trolley.json"),
            ("trolley T1", "a.json", "a.json"),
        ] {
            match wanted {
                "" => assert!(file(name, typed).is_err(), "{name}"),
                _ => assert_eq!(file(name, typed).as_deref(), Ok(wanted)),
            }
        }
        for typed in ["../T1", "a/b", "/etc/T1", "a b"] {
            assert!(file("T1", typed).is_err(), "{typed}");
        }
    }
}
