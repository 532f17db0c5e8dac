//! Networks of a control against references, a circuit simulator and known dividers.
mod divider;
mod wiring_reference;
mod wiring_spice;
