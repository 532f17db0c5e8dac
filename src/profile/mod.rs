//! What a good unit of a kind looks like: format `profile/1` of DESIGN 4.5, bytes <-> values.

mod cautions;
mod disk;
mod format;
mod hookup;
mod invalid;
mod ohms;
mod parts;
mod rewired;
mod schema;
mod types;
mod write;

pub use disk::{BUILT_IN, built_in_names, create, find, read};
pub use hookup::{FaultEdges, SAME_REFERENCE};
pub use invalid::InvalidProfile;
pub use ohms::{ohms, too_few_ohms};
pub use parts::{OtherParts, PartsError};
pub use schema::schema_json;
pub use types::{Kind, PairPart, Profile, TrackPart, USUAL_CODE_BITS, USUAL_DRIFT_PCT};
