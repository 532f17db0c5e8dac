//! A verdict that is true of the part: recordings of known truth made here, held against the built-in profiles.

mod any_board;
mod bowed;
mod ends;
mod lost_contact;
pub mod part;
mod possible;
mod presses;
