//! The board itself: its own ends and noise, its supply.
//!
//! Does not belong here: figures of a control.

pub mod own_codes;
pub mod supply;
