//! What a good unit of a kind looks like: format `profile/1` of DESIGN 4.5, bytes <-> values.
//!
//! Belongs here: the format, its checks, the profiles that ship with the program. `disk` alone touches files.
//! Does not belong here: screens.

mod cautions;
mod disk;
mod format;
mod hookup;
mod invalid;
mod schema;
mod types;
mod write;

pub use disk::{BUILT_IN, ProfileError, built_in_names, create, find, read};
pub use hookup::FaultEdges;
pub use invalid::InvalidProfile;
pub use schema::schema_json;
pub use types::{Kind, PairPart, Profile, StartRule, TrackPart};
