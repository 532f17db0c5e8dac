//! The board itself: its own ends and noise, its supply.
//!
//! Does not belong here: figures of a control.

pub mod check;
pub mod supply;
