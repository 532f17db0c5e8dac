//! Causes in springs, stops and linkage, and in how far it was moved.

pub(super) mod end;
pub(super) mod short;
pub(super) mod slow;
pub(super) mod sticky;
