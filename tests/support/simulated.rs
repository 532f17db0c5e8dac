//! A simulated run as the capture that a perfect operator would have taken.
#![allow(unused_imports)] // each test binary uses its own part of this

pub use pedalproof::bench::{simulated_capture as capture, write_capture};
