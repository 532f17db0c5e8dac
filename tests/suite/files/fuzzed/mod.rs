//! What fuzzing asks of each reader: one function for each target, that takes any bytes and panics when a promise is
//! broken. The libFuzzer programs (`tests/fuzz`) and the plain test (`tests/suite/files/fuzz_seeds.rs`) run the same ones.
#![allow(dead_code)] // each fuzzing program uses one of them

pub mod assess;
pub mod block;
pub mod capture;
pub mod import;
pub mod machine;
pub mod marks;
pub mod metadata;
pub mod profile;
pub mod record;
pub mod stream;
pub mod wiring;

/// A target: its name, which is that of its folder of seeds, and what it asks.
pub type Target = (&'static str, fn(&[u8]));

/// Every target.
pub const TARGETS: [Target; 11] = [
    ("assess", assess::check),
    ("block", block::check),
    ("capture", capture::check),
    ("import", import::check),
    ("machine", machine::check),
    ("marks", marks::check),
    ("metadata", metadata::check),
    ("profile", profile::check),
    ("record", record::check),
    ("stream", stream::check),
    ("wiring", wiring::check),
];

/// Numbers taken from the bytes one after the other; zeros when they are used up.
pub struct Bytes<'a>(pub &'a [u8]);

impl Bytes<'_> {
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub fn byte(&mut self) -> u8 {
        let Some((first, rest)) = self.0.split_first() else {
            return 0;
        };
        self.0 = rest;
        *first
    }

    pub fn two(&mut self) -> u16 {
        u16::from_le_bytes([self.byte(), self.byte()])
    }
}
