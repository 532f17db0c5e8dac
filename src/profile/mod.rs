//! What a good unit of a kind looks like: format `profile/1` of DESIGN 4.5, bytes <-> values.
//!
//! Belongs here: the format, its checks, the profiles that ship with the program. `disk` alone touches files.
//! Does not belong here: screens.

mod disk;
mod format;

pub use disk::{ProfileError, built_in_names, find, read};
pub use format::{Kind, PairPart, Place, Profile, StartRule, TrackPart};
