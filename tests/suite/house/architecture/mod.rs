//! The rules of the house, read from the source as text: what a room may know, no circles of files, sizes.

mod arrows;
mod circles;
mod leaving;
mod sizes;
mod source;
mod starts;
