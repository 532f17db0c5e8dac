//! Causes in the track and its wiper.

pub(super) mod curve;
pub(super) mod disagree;
pub(super) mod wiper;
pub(super) mod worn;
