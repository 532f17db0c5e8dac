//! What is offered on the screen: ports, captures of the working folder, profiles.
//!
//! Belongs here: finding them. Does not belong here: opening them (`screen`).

use crate::capture::{self, metadata_path};
use crate::cli::paths::here;
use crate::files;
use crate::link::{Access, candidates, port_advice};
use crate::profile::{self, Profile};
use crate::tui::{SourceKind, SourceOffer};
use std::path::PathBuf;

/// Captures of the folder offered, the newest first.
const CAPTURES_OFFERED: usize = 30;
/// Files of something else that are offered.
const FOREIGN_OFFERED: usize = 10;

/// Ports that could be a board; first the one that was asked for, whether it is listed or not.
pub(super) fn ports(asked_for: Option<&str>) -> Vec<SourceOffer> {
    let candidates = candidates().unwrap_or_default();
    let offer = |candidate: &crate::link::Candidate| SourceOffer {
        blocked: match candidate.access {
            Access::Open => None,
            _ => port_advice(std::slice::from_ref(candidate)),
        },
        ..SourceOffer::new(
            SourceKind::Port,
            candidate.path.clone(),
            candidate.describe(),
        )
    };
    let mut offers: Vec<SourceOffer> = candidates
        .iter()
        .filter(|c| !c.is_phantom())
        .map(offer)
        .collect();
    if let Some(path) = asked_for {
        let at = offers.iter().position(|offer| offer.name == path);
        let first = at.map_or_else(
            || SourceOffer::new(SourceKind::Port, path, "the port that was asked for"),
            |at| offers.remove(at),
        );
        offers.insert(0, first);
    }
    offers
}

/// Captures in the working folder, the newest first.
pub(super) fn captures() -> Vec<SourceOffer> {
    let Ok(entries) = std::fs::read_dir(".") else {
        return Vec::new();
    };
    let mut found: Vec<_> = entries
        .filter_map(Result::ok)
        .map(|entry| PathBuf::from(entry.file_name()))
        .filter(|path| metadata_path(path).is_file())
        .filter_map(|path| Some((path.metadata().ok()?.modified().ok()?, path)))
        .collect();
    found.sort_by(|a, b| b.cmp(a));
    let offer = |path: PathBuf| {
        let text = files::read_text(&metadata_path(&path)).unwrap_or_default();
        let unit = capture::Metadata::from_json(&text)
            .ok()
            .map(|meta| meta.unit)
            .unwrap_or_default();
        SourceOffer {
            tag: unit.tag,
            profile: unit.profile.map(named),
            ..SourceOffer::new(
                SourceKind::Capture,
                path.to_string_lossy().into_owned(),
                "replay, 4x",
            )
        }
    };
    found
        .into_iter()
        .take(CAPTURES_OFFERED)
        .map(|(_, path)| offer(path))
        .collect()
}

/// Files in the working folder that something else may have recorded, the newest first.
pub(super) fn foreign() -> Vec<SourceOffer> {
    let Ok(entries) = std::fs::read_dir(".") else {
        return Vec::new();
    };
    let kinds = ["csv", "tsv", "txt", "log", "dat", "asc"];
    let is_one = |path: &PathBuf| {
        let kind = path.extension().and_then(|kind| kind.to_str());
        kind.is_some_and(|kind| kinds.contains(&&*kind.to_ascii_lowercase()))
            && !metadata_path(path).exists()
    };
    let mut found: Vec<_> = entries
        .filter_map(Result::ok)
        .map(|entry| PathBuf::from(entry.file_name()))
        .filter(is_one)
        .filter_map(|path| {
            let about = path.metadata().ok().filter(std::fs::Metadata::is_file)?;
            Some((about.modified().ok()?, about.len(), path))
        })
        .collect();
    found.sort_by(|a, b| b.cmp(a));
    found
        .into_iter()
        .take(FOREIGN_OFFERED)
        .map(|(_, bytes, path)| {
            SourceOffer::new(
                SourceKind::Foreign,
                path.to_string_lossy().into_owned(),
                size(bytes),
            )
        })
        .collect()
}

/// `12 kB`.
fn size(bytes: u64) -> String {
    match bytes {
        0..1_000 => format!("{bytes} bytes"),
        1_000..1_000_000 => format!("{} kB", bytes / 1000),
        _ => format!("{} MB", bytes / 1_000_000),
    }
}

/// The name of a profile that a capture may call by its file.
fn named(profile: String) -> String {
    profile::find(&profile).map_or(profile, |found| found.name)
}

/// The profiles of the working folder, by file name, then those built in. A file that is no profile is none.
pub(super) fn profiles() -> Vec<Profile> {
    let files = here("json");
    let own = files.iter().filter_map(|path| profile::read(path).ok());
    own.chain(profile::built_in_names().filter_map(profile::find))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_profile_called_by_its_file_is_found_by_its_name() {
        assert_eq!(
            named("lever-shunting".to_owned()),
            "shunting lever, three-wire"
        );
        assert_eq!(named("three-wire dial".to_owned()), "three-wire dial");
        assert_eq!(named("my own".to_owned()), "my own");
    }
}
