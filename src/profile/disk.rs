//! The one file of this room that touches the disk, and the profiles that are built in.

use super::{InvalidProfile, Profile};
use crate::files;
use crate::outlet::{Shown, Visible};
use std::path::{Path, PathBuf};
use thiserror::Error;

/// A profile that could not be had.
#[derive(Debug, Error)]
pub enum ProfileError {
    #[error("cannot read profile {}: {source}", path.shown())]
    Unreadable {
        path: PathBuf,
        source: std::io::Error,
    },
    #[error("cannot write profile {}: {source}; a profile is never overwritten: give another name", path.shown())]
    Unwritable {
        path: PathBuf,
        source: std::io::Error,
    },
    #[error("profile {}: {place}", path.shown())]
    Refused {
        path: PathBuf,
        place: InvalidProfile,
    },
}

/// Writes a profile to a new file, never over another: whole, or not at all.
pub fn create(path: &Path, profile: &Profile) -> Result<(), ProfileError> {
    files::create_new(path, &Visible::json(&profile.to_json())).map_err(|source| {
        let path = path.to_owned();
        ProfileError::Unwritable { path, source }
    })
}

/// Reads and checks a profile.
pub fn read(path: &Path) -> Result<Profile, ProfileError> {
    let text = files::read_text(path).map_err(|source| ProfileError::Unreadable {
        path: path.to_owned(),
        source,
    })?;
    Profile::from_json(&text).map_err(|place| ProfileError::Refused {
        path: path.to_owned(),
        place,
    })
}

macro_rules! built_in {
    ($($name:literal),* $(,)?) => {
        &[ $( ($name, include_str!(concat!("../../profiles/", $name, ".json"))), )* ]
    };
}

/// The profiles that ship with the program: short name and text.
pub const BUILT_IN: &[(&str, &str)] = built_in![
    "pedal-hall-one-track",
    "pedal-hall-two-track",
    "pedal-hall-crossed",
    "pedal-three-wire",
    "pedal-hall-divider-3v3",
    "dial-rheostat",
    "dial-three-wire",
    "lever-shunting",
    "lever-centre-return",
];

/// A built-in profile by its short name or its full name.
pub fn find(name: &str) -> Option<Profile> {
    BUILT_IN
        .iter()
        .filter_map(|(short, text)| Profile::from_json(text).ok().map(|p| (*short, p)))
        .find(|(short, p)| *short == name || p.name == name)
        .map(|(_, p)| p)
}

/// Short names of the built-in profiles.
pub fn built_in_names() -> impl Iterator<Item = &'static str> {
    BUILT_IN.iter().map(|(short, _)| *short)
}
