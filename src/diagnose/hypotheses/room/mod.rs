//! Causes that come from outside.

pub(super) mod hum;
pub(super) mod interference;
