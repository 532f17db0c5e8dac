//! A machine's two boards: the driving one with its firmware and constants, the measuring one with its streamer; written, and how to
//! flash them.

use crate::bench;
use crate::capture::ChannelMeta;
use crate::cli::commands::board::fit;
use crate::files::folder_of;
use crate::firmware;
use crate::machine::{self, Machine};
use crate::outlet::Shown;
use crate::profile::Profile;
use crate::report;
use anyhow::{Context, anyhow};
use measure::units::{Role, Track};
use std::path::{Path, PathBuf};

/// Where a machine's board files lie.
fn folder(file: &Path) -> PathBuf {
    let stem = file.file_stem().unwrap_or_default().to_string_lossy();
    folder_of(file).join(format!("{stem}-board"))
}

/// Writes them where they are not there yet; gives the page that says how to flash them.
pub(super) fn written(file: &Path) -> anyhow::Result<String> {
    let machine = machine::read(file)?;
    let profiles = profiles(file, &machine)?;
    let columns = columns(&machine, &profiles);
    let folder = folder(file);
    let was_there = folder.join("README.md").is_file();
    if !was_there {
        fit(&profiles)?;
        write(&folder, &profiles, &columns)?;
    }
    let state = if was_there {
        "there already"
    } else {
        "written"
    };
    let name = Path::new(folder.file_name().unwrap_or_default());
    let mut page = format!(
        "{state}: {0}/. To build the board that drives: {0}/BUILD.md.\n\n  cd {0}\n\n",
        name.shown()
    );
    page += &driving(&machine);
    page += &measuring(&columns);
    Ok(page)
}

fn profiles(file: &Path, machine: &Machine) -> anyhow::Result<Vec<Profile>> {
    let of = |control: &machine::Control| {
        bench::machine_profile(folder_of(file), &control.profile).map_err(|why| anyhow!("{why}"))
    };
    machine.controls.iter().map(of).collect()
}

/// A column of the streamer for each control: its name, its pin, the control it is of; the board's output last.
struct Column {
    name: String,
    pin: usize,
    control: Option<String>,
}

fn columns(machine: &Machine, profiles: &[Profile]) -> Vec<Column> {
    let mut columns: Vec<Column> = Vec::new();
    for (control, profile) in machine.controls.iter().zip(profiles) {
        let name = control.name.replace('-', "_");
        for track in ('a'..='h').take(profile.tracks.len()) {
            columns.push(Column {
                name: if profile.tracks.len() == 1 {
                    name.clone()
                } else {
                    format!("{name}_{track}")
                },
                pin: columns.len(),
                control: Some(control.name.clone()),
            });
        }
    }
    columns.push(Column {
        name: "output".to_owned(),
        pin: columns.len(),
        control: None,
    });
    columns
}

/// What the machine's streamer prints while this control is measured: its own tracks are signals, everything else is only recorded.
pub(super) fn channels(file: &Path, control: &str) -> anyhow::Result<Vec<(String, ChannelMeta)>> {
    let machine = machine::read(file)?;
    let profiles = profiles(file, &machine)?;
    let mut tracks = [Track::One, Track::Two].into_iter();
    let channel = |column: Column| {
        let own = column.control.as_deref() == Some(control);
        let meta = ChannelMeta {
            role: if own { Role::Signal } else { Role::Output },
            track: if own { tracks.next() } else { None },
        };
        (column.name, meta)
    };
    let columns = columns(&machine, &profiles).into_iter();
    Ok(columns.map(channel).collect())
}

fn write(folder: &Path, profiles: &[Profile], columns: &[Column]) -> anyhow::Result<()> {
    let build = report::Build {
        profiles,
        block: None,
    };
    let page = report::page(&build, "boards/blend.hex", "board.svg");
    let drawing = report::drawing(&build);
    let pairs: Vec<(&str, usize)> = columns.iter().map(|c| (c.name.as_str(), c.pin)).collect();
    let streamer = firmware::streamer_of(&pairs);
    let mut made = vec![("BUILD.md", page.as_str()), ("board.svg", drawing.as_str())];
    made.extend(streamer.iter().map(|(path, text)| (*path, text.as_str())));
    firmware::write_out(folder, &made)
        .with_context(|| format!("cannot write the firmware into {}", folder.shown()))?;
    Ok(())
}

/// How the board that drives is flashed, from the folder of the boards.
fn driving(machine: &Machine) -> String {
    let block = machine.newest_block().map(|at| &machine.evidence[at].file);
    let Some(block) = block else {
        return "The board that drives: its program is boards/blend.hex there; its constants come\nwhen every control was measured.\n\n".to_owned();
    };
    let stem = block.strip_suffix(".json").unwrap_or(block);
    format!(
        "The board that drives, with an ISP programmer (its fuses once: see BUILD.md):\n\n  avrdude -p m328p -c YOUR_PROGRAMMER -U flash:w:boards/blend.hex:i \\\n    -U eeprom:w:../{stem}.hex:i\n\n"
    )
}

/// The streamer of the measuring board, the same for every control and for the proofs.
fn measuring(columns: &[Column]) -> String {
    let names: Vec<&str> = columns.iter().map(|c| c.name.as_str()).collect();
    let last = columns.last().map_or(0, |column| column.pin);
    format!(
        "The board that measures, its pins wired to the same signals, and A{last} to the\noutput of the board that drives for the proofs. It prints\n{}:\n\n  make -C streamer\n  avrdude -p m328p -c YOUR_PROGRAMMER \\\n    -U flash:w:streamer/build/streamer.hex:i\n\nOn any other board: sketch/streamer/streamer.ino, with the same columns.\n",
        names.join(",")
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::Control;

    fn trolley(folder: &Path) -> PathBuf {
        let control = |name: &str, profile: &str| Control {
            name: name.to_owned(),
            profile: profile.to_owned(),
            tag: None,
            pins: Vec::new(),
            since: None,
        };
        let trolley = Machine {
            name: "trolley T1".to_owned(),
            board: None,
            controls: vec![
                control("pedal", "pedal-hall-two-track"),
                control("dial", "dial-rheostat"),
            ],
            check_every_months: 12,
            evidence: Vec::new(),
        };
        let file = folder.join("T1.json");
        machine::create(&file, &trolley).unwrap();
        file
    }

    /// While the dial is measured its own column is a signal, and of the others nothing is judged; and the other way round.
    #[test]
    fn one_streamer_serves_every_control() {
        let dir = tempfile::tempdir().unwrap();
        let file = trolley(dir.path());
        let roles = |control: &str| -> Vec<(String, Role, Option<Track>)> {
            let channels = channels(&file, control).unwrap();
            let parts = |(name, meta): (String, ChannelMeta)| (name, meta.role, meta.track);
            channels.into_iter().map(parts).collect()
        };
        let other = |name: &str| (name.to_owned(), Role::Output, None);
        let own = |name: &str, track| (name.to_owned(), Role::Signal, Some(track));
        let dial = [
            other("pedal_a"),
            other("pedal_b"),
            own("dial", Track::One),
            other("output"),
        ];
        assert_eq!(roles("dial"), dial);
        let pedal = [
            own("pedal_a", Track::One),
            own("pedal_b", Track::Two),
            other("dial"),
            other("output"),
        ];
        assert_eq!(roles("pedal"), pedal);
    }

    #[test]
    fn the_boards_are_written_once_and_the_page_fits_a_terminal() {
        let dir = tempfile::tempdir().unwrap();
        let file = trolley(dir.path());
        let page = written(&file).unwrap();
        assert!(page.starts_with("written: T1-board/"), "{page}");
        assert!(page.contains("pedal_a,pedal_b,dial,output"), "{page}");
        let long = page.lines().find(|line| line.chars().count() > 80);
        assert_eq!(long, None);
        let board = dir.path().join("T1-board");
        for name in [
            "BUILD.md",
            "board.svg",
            "boards/blend.hex",
            "streamer/main.c",
        ] {
            assert!(board.join(name).is_file(), "{name}");
        }
        let again = written(&file).unwrap();
        assert!(again.starts_with("there already: T1-board/"), "{again}");
    }
}
