//! Networks of a control against references, a circuit simulator and known dividers.
mod advice;
mod divider;
mod own_nodes;
mod wiring_reference;
mod wiring_spice;
