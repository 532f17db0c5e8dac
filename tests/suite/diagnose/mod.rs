//! Causes held against parts of known truth: an own generator at the level of the circuit, which shares no code with what is tested.
//!
//! `circuit` solves a part's wires and resistors, `hand` moves it, `part` draws it with its defects, `recording` samples it on a board
//! in a room, `matrix` counts what `assess` says of thousands.

mod altered;
mod chance;
mod circuit;
mod hand;
mod matrix;
mod part;
mod recording;
