//! The profiles that were used last, so that they are offered first. One name a line, the newest first.

use crate::cli::paths;
use crate::files;
use crate::profile::Profile;
use std::fs;

/// Names remembered.
const REMEMBERED: usize = 20;

/// The profiles, those that were used last first; the others keep their order.
pub(super) fn first(mut profiles: Vec<Profile>) -> Vec<Profile> {
    let names = remembered();
    let rank = |profile: &Profile| names.iter().position(|name| *name == profile.name);
    profiles.sort_by_key(|profile| rank(profile).unwrap_or(usize::MAX)); // stable
    profiles
}

/// Remembers that a profile was used. That it cannot be written is not worth a word: the list is a convenience.
pub(super) fn used(name: &str) {
    let Some(folder) = paths::state() else {
        return;
    };
    let mut names = remembered();
    names.retain(|known| known != name);
    names.insert(0, name.to_owned());
    names.truncate(REMEMBERED);
    if fs::create_dir_all(&folder).is_ok() {
        let _ = fs::write(folder.join(FILE), names.join("\n") + "\n");
    }
}

const FILE: &str = "recent-profiles";

fn remembered() -> Vec<String> {
    let text = paths::state().and_then(|folder| files::read_text(&folder.join(FILE)).ok());
    text.unwrap_or_default()
        .lines()
        .map(str::to_owned)
        .collect()
}
