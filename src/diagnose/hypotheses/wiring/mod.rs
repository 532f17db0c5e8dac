//! Causes in wires, plugs and supply.

pub(super) mod backwards;
pub(super) mod connection;
pub(super) mod fault;
pub(super) mod gone;
pub(super) mod joined;
pub(super) mod supply;
pub(super) mod swapped;
