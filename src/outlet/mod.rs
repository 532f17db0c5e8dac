//! Where text leaves the program: what nobody sees becomes visible, whatever a file, a board or an argument says.
//!
//! Belongs here: which characters those are, the type that a file's text is written as, the standard output and error,
//! the schema of what is written; and JSON of others, read so that its strings can leave again.
//! Does not belong here: what is said.

mod json;
mod schema;
mod short;
mod standard;
mod typed;
mod visible;

pub use json::{JsonError, json_advice, read_json};
pub use schema::schema_json;
pub use short::number;
pub use standard::{Talk, calm, did, print, quiet, say, say_part, talk, watched};
pub use typed::{quoted, typed};
pub use visible::{Shown, Visible, json_source, line};

/// Says a line on the standard error, as `eprintln!` would; when it cannot be written, nobody is there to read it, and the
/// program goes on.
macro_rules! tell {
    ($($words:tt)*) => { $crate::outlet::say(&format!($($words)*)) };
}
pub(crate) use tell;

/// The same in any case, also where nothing is to be said: what went wrong, and what must be known before a motor moves.
macro_rules! alarm {
    ($($words:tt)*) => { $crate::outlet::say_part(&(format!($($words)*) + "\n")) };
}
pub(crate) use alarm;
